package tuning

import (
	"math"
	"testing"

	"eha/strokewise/ident/plant"
	"eha/strokewise/tuning/law"
	"eha/strokewise/tuning/sim"
)

// guarded returns an invented machine's proposal and the design behind it.
func guarded(t *testing.T, seed uint64) (*Proposal, *design) {
	t.Helper()
	p := invented(seed)
	p.Machine.Limits.WorkingPressure, p.Machine.Limits.Relief = 160e5, 200e5
	p.Machine.Motor.PeakTorque = 2 * p.Model.Displacement * 160e5
	know(p, plant.LostMotion, 0.3, 0.2)
	p.Seen.Noise.Position, p.Seen.MismatchRate = 1e-6, 2e-4
	out := propose(t, p, DefaultOptions())
	d, err := newDesign(p, DefaultOptions())
	if err != nil {
		t.Fatal(err)
	}
	return out, d
}

// allowed returns the following error (m) that the guard lets pass at a speed (m/s).
func (g *Guards) allowed(speed float64) float64 {
	points := g.FollowingError
	for i := 1; i < len(points); i++ {
		if a, b := points[i-1], points[i]; speed <= b.X {
			return a.Y + (b.Y-a.Y)*(speed-a.X)/(b.X-a.X)
		}
	}
	return points[len(points)-1].Y
}

// Limits lie below relief, with torque even for a pump without friction, and
// inside the stroke; the table of following errors rises with speed.
func TestGuardsAreInOrder(t *testing.T) {
	for seed := range uint64(4) {
		out, d := guarded(t, 400+seed)
		g := &out.Guards
		relief := d.p.Machine.Limits.Relief
		if !(g.PressureLimit > 0 && g.PressureLimit < relief) || !(g.TorqueLimit > 0 && g.TorqueLimit < d.model.Displacement*relief) {
			t.Errorf("seed %d: pressure limit %g bar, torque limit %g Nm, relief at %g bar", seed, g.PressureLimit*1e-5, g.TorqueLimit, relief*1e-5)
		}
		if !(g.ForceLimit > 0 && g.ForceLimit < relief*d.model.Area.Cap) {
			t.Errorf("seed %d: force limit %g kN", seed, g.ForceLimit*1e-3)
		}
		if !(0 < g.SoftLow && g.SoftLow < g.SoftHigh && g.SoftHigh < d.model.Stroke) {
			t.Errorf("seed %d: soft limits %g and %g m", seed, g.SoftLow, g.SoftHigh)
		}
		if !(g.Mismatch > 0 && g.PlainMismatch > g.Mismatch && g.MismatchTime > 0) {
			t.Errorf("seed %d: mismatch %g m, plain %g m", seed, g.Mismatch, g.PlainMismatch)
		}
		for i := 1; i < len(g.FollowingError); i++ {
			if a, b := g.FollowingError[i-1], g.FollowingError[i]; !(b.X > a.X && b.Y >= a.Y) {
				t.Errorf("seed %d: following errors %v", seed, g.FollowingError)
			}
		}
		if len(g.FollowingError) < 3 || len(g.Why) < 5 {
			t.Errorf("seed %d: %d points, reasons %q", seed, len(g.FollowingError), g.Why)
		}
	}
}

// No guard trips in normal moves: speeds that the table was not made from, friction
// as bristles, the heaviest load, both ways.
func TestGuardsLetNormalMovesPass(t *testing.T) {
	for seed := range uint64(3) {
		out, d := guarded(t, 410+seed)
		g, set := &out.Guards, out.Loops.Position
		top := g.FollowingError[len(g.FollowingError)-1].X
		kp := min(set.Kp.Extend, set.Kp.Retract)
		for _, share := range []float64{0.15, 0.4, 0.8} {
			for _, ends := range [][2]float64{{0.25, 0.75}, {0.75, 0.25}} {
				speed := share * top
				course, moves := sim.SmoothAt(sim.Rest, ends[0]*d.model.Stroke, ends[1]*d.model.Stroke, speed, 0.4*speed*kp, 0.4*speed*kp*kp)
				run := sim.Do(sim.Experiment{Model: &d.model, MassFactor: 1, Loops: out.Loops, Start: ends[0] * d.model.Stroke,
					Duration: sim.Rest + min(moves+0.5, 12), Demand: course, All: true, Bristle: true})
				passes(t, seed, g, d, &run, course)
			}
		}
	}
}

func passes(t *testing.T, seed uint64, g *Guards, d *design, run *sim.Run, course func(float64) law.Demand) {
	t.Helper()
	window := int(g.MismatchTime / run.Period)
	travel := make([]float64, len(run.Position)) // m, from turns with slip taken out, by the chamber that carries
	for i := 1; i < len(travel); i++ {
		slip := d.model.Leakage / d.model.Displacement * (run.CapPressure[i] - run.RodPressure[i])
		perTurn := d.model.StrokePerTurn(d.model.Carrier(run.Force[i]))
		travel[i] = travel[i-1] + perTurn*(run.MotorSpeed[i]-slip)*run.Period
	}
	for i, x := range run.Position {
		rate := math.Abs(course(float64(i) * run.Period).Rate)
		if e := math.Abs(run.Reference[i] - x); e > g.allowed(rate) {
			t.Errorf("seed %d: following error %.3g mm at %.3g mm/s, guard %.3g mm", seed, e*1e3, rate*1e3, g.allowed(rate)*1e3)
			return
		}
		if p := max(run.CapPressure[i], run.RodPressure[i]); p > g.PressureLimit {
			t.Errorf("seed %d: %.3g bar, guard %.3g bar", seed, p*1e-5, g.PressureLimit*1e-5)
			return
		}
		if i < window {
			continue
		}
		if off := math.Abs(x - run.Position[i-window] - (travel[i] - travel[i-window])); off > g.Mismatch {
			t.Errorf("seed %d: encoder and transducer %.3g mm apart over %.2g s, guard %.3g mm", seed, off*1e3, g.MismatchTime, g.Mismatch*1e3)
			return
		}
	}
}

// Without pressures no guard speaks of pressure, force or torque; without a stated
// margin the soft limits still keep off the ends.
func TestGuardsWithoutPressures(t *testing.T) {
	p := invented(420)
	p.PressuresSeen, p.MassKnown, p.AreasKnown = false, false, false
	g := propose(t, p, DefaultOptions()).Guards
	if g.PressureLimit != 0 || g.ForceLimit != 0 || g.TorqueLimit != 0 {
		t.Errorf("pressure %g, force %g, torque %g", g.PressureLimit, g.ForceLimit, g.TorqueLimit)
	}
	if g.SoftLow != softShare*p.Model.Stroke || g.Mismatch < leastMismatch {
		t.Errorf("soft limit %g, mismatch %g", g.SoftLow, g.Mismatch)
	}
}

// A machine that pulls is guarded by its pulling force.
func TestForceLimitOfPulling(t *testing.T) {
	p := inventedPress(303, plant.Retract)
	p.Machine.Limits.ForcePull = 0.8 * p.Machine.Limits.Force
	if g := propose(t, p, DefaultOptions()).Guards; g.ForceLimit != p.Machine.Limits.ForcePull {
		t.Errorf("force limit %g N, want %g N", g.ForceLimit, p.Machine.Limits.ForcePull)
	}
}
