package quality

import (
	"math"
	"testing"

	"eha/strokewise/ident/machine"
	"eha/strokewise/ident/trace"
)

// A load along the stroke that changes sign changes the chamber and with it the speed;
// friction is half the force's difference at the same places, not at the same times.
func TestFrictionUnderASlopedLoad(t *testing.T) {
	const dt, half = 1e-3, 10000
	x, force := make([]float64, 2*half), make([]float64, 2*half)
	at := 0.1
	for i := range x {
		way := 1.0
		if i >= half {
			way = -1
		}
		speed := 0.015
		if at > 0.2 == (way > 0) {
			speed = 0.03
		}
		at = math.Min(math.Max(at+way*speed*dt, 0.1), 0.3)
		x[i], force[i] = at, 30e3*(at-0.2)+200*way
	}
	v := newView(reading(t, dt, map[trace.Channel][]float64{trace.RodPosition: x, trace.MotorPosition: x}), &machine.Machine{})
	frames := means(force, v.step, len(force)/v.step)
	got, ok := v.halfDifference(trace.Span{From: 0, To: half}, trace.Span{From: half, To: 2 * half}, func(k int) float64 { return frames[k] })
	if !ok || math.Abs(got-200) > 10 {
		t.Errorf("friction %g N, %v; want 200", got, ok)
	}
}
