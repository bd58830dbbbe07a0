package tuning

import (
	"math"
	"testing"

	"eha/strokewise/tuning/law"
	"eha/strokewise/tuning/sim"
)

// Steps out and back, again and again, come to rest no further off than a lone one
// and what the integral may leave: with unlike integral times each pair of steps left it
// something, and the rod walked away by a sixth of a step.
func TestRepeatedStepsDoNotWalk(t *testing.T) {
	const repeats = 16
	for seed := range uint64(6) {
		p := invented(500 + seed)
		p.Model.Leakage *= 3 // slip that asks for an integral
		out := propose(t, p, DefaultOptions())
		step, mid := stepSize(&p.Model), p.Model.Stroke/2
		free := clearOf(p.Model)
		run := sim.Do(sim.Experiment{Model: &free, MassFactor: 1, Loops: out.Loops, Start: mid - step, Duration: sim.Rest + repeats*walkTime,
			Demand: func(at float64) law.Demand {
				if at < sim.Rest-1e-9 || int((at-sim.Rest)/walkTime+1e-6)%2 == 1 {
					return law.Demand{Position: mid - step}
				}
				return law.Demand{Position: mid}
			}})
		off := func(k int) float64 { // at the end of step k
			i := int((sim.Rest+float64(k+1)*walkTime)/run.Period) - 1
			return math.Abs(run.Position[i] - (mid - step*float64(k%2)))
		}
		once := max(off(0), off(1), windowShare*step)
		if last := max(off(repeats-2), off(repeats-1)); last > once+1.5*walkShare*step {
			t.Errorf("seed %d: %.3g mm off after %d steps, %.3g mm after two; steps of %.3g mm, ki %v, kp %v", seed, last*inMM, repeats, once*inMM, step*inMM, out.Loops.Position.Ki, out.Loops.Position.Kp)
		}
	}
}
