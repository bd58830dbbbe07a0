package twin

import (
	"math"
	"testing"
)

// TestFigures checks the step figures on the second-order step response with
// damping 0.5: overshoot 16.3034 %, rise 1.63757, settling 8.07635 in units of
// 1/w (computed by a general-purpose library).
func TestFigures(t *testing.T) {
	const z, w, dt = 0.5, 10.0, 1e-3
	wd := w * math.Sqrt(1-z*z)
	var all []sample
	for i := range 6000 {
		at := float64(i)*dt - 1
		y := 0.0
		if at > 0 {
			y = 1 - math.Exp(-z*w*at)*(math.Cos(wd*at)+z*w/wd*math.Sin(wd*at))
		}
		all = append(all, sample{t: float64(i) * dt, value: 20 + 5*y})
	}
	f := figures(all, 1, 20, 25)
	for _, c := range []struct {
		name            string
		got, want, room float64
	}{
		{"overshoot", f.Overshoot, 0.163034, 1e-4},
		{"rise", f.Rise * w, 1.63757, 2e-3},
		{"settling", f.Settling * w, 8.07635, 0.02}, // one sample is 0.01
		{"final error", f.FinalError, 0, 1e-3},
	} {
		if math.Abs(c.got-c.want) > c.room {
			t.Errorf("%s: %g, want %g within %g", c.name, c.got, c.want, c.room)
		}
	}
}

// TestMarginsTextbook checks the margin reading on K·e^(-sT)/s, whose margins
// are closed forms: gain margin π/(2KT), phase margin π/2 - KT; 5·e^(-0.1s)/s
// has a sensitivity peak of 1.5905 (computed on a dense grid).
func TestMarginsTextbook(t *testing.T) {
	freqs := gridHz(0.004)
	loop := make([]complex128, len(freqs))
	for i, f := range freqs {
		w := 2 * math.Pi * f
		loop[i] = complex(5/w, 0) * complex(math.Sin(-0.1*w), -math.Cos(0.1*w))
	}
	m := readMargins(freqs, loop)
	if !m.Stable || math.Abs(m.GainMargin-math.Pi) > 0.02 || math.Abs(m.PhaseMargin-(math.Pi/2-0.5)) > 0.01 || math.Abs(m.Sensitivity-1.5905) > 0.01 {
		t.Errorf("got %+v, want gain margin π, phase margin 61.35 deg, peak 1.5905", m)
	}
	for i := range loop {
		loop[i] *= 4
	}
	if readMargins(freqs, loop).Stable {
		t.Error("4 times the gain is 1.27 times the limit, but counts as stable")
	}
}

// TestMarginsAgainstSimulation checks on the machine itself what its linearised
// margins say: stable at 0.8 of the limit gain, not at 1.3.
func TestMarginsAgainstSimulation(t *testing.T) {
	m := Random(Resisting, 4)
	m.Coulomb, m.Static = 20, 20 // friction would hold the rod and hide the limit
	l := HotLoops(m)
	worst := math.Inf(1)
	for _, sign := range []float64{1, -1} {
		worst = math.Min(worst, PositionMargins(m, l.Position, m.Stroke/2, sign).GainMargin)
	}
	scaled := func(f float64) Figures {
		p := *l.Position
		p.KpExtend, p.KpRetract = p.KpExtend*f*worst, p.KpRetract*f*worst
		p.Window = 0
		return StandardStep(m, Loops{Position: &p}, 1)
	}
	calm, wild := scaled(0.8), scaled(1.3)
	t.Logf("gain margin %.2f: hunting %.4f mm at 0.8 of the limit, %.4f mm at 1.3", worst, calm.Hunting, wild.Hunting)
	if calm.Hunting > 0.1 || wild.Hunting < 5*calm.Hunting {
		t.Errorf("hunting %.4f mm at 0.8 of the limit gain, %.4f mm at 1.3", calm.Hunting, wild.Hunting)
	}
}

// TestPressRuns checks that the judge's pressing runs make sense on hot settings.
func TestPressRuns(t *testing.T) {
	m := Demo()
	up, down := ForceSteps(m, m.Loops, 0.3*m.ForceLimit()*1e-3, 0.5*m.ForceLimit()*1e-3)
	a, lost := Approach(m, m.Loops, 0.3), LossOfContact(m, m.Loops, 0.5)
	t.Logf("up %+v\ndown %+v\napproach %+v\nlost %+v", up, down, a, lost)
	limit := m.ForceLimit() * 1e-3
	if !up.Stable || !down.Stable || up.FinalError > 0.02*limit {
		t.Errorf("force steps: %+v, %+v", up, down)
	}
	if a.PeakForce < 0.29*limit || a.PeakWork <= 0 || a.Switches < 1 {
		t.Errorf("approach: %+v", a)
	}
	if lost.Travel <= 0 || lost.RodSpeed <= 0 {
		t.Errorf("loss of contact: %+v", lost)
	}
}

// TestBest checks that the search keeps its own targets and beats a plain loop.
func TestBest(t *testing.T) {
	if testing.Short() {
		t.Skip("a search of some seconds")
	}
	m := Random(Resisting, 4)
	best, settling := Best(m, UsualTargets(), []float64{1})
	for _, sign := range []float64{1, -1} {
		if g := PositionMargins(m, &best, m.Stroke/2, sign); !g.Stable || g.Sensitivity > 1.51 {
			t.Errorf("sign %g: margins %+v break the targets", sign, g)
		}
	}
	t.Logf("best settles in %.3f s with %+v", settling, best)
	if settling > 1 {
		t.Errorf("best settles in %g s", settling)
	}
}

// TestFollow: faults show where they should, and nothing shows without.
func TestFollow(t *testing.T) {
	m := Random(Resisting, 4)
	n := int(4 / m.ControlPeriod)
	c := Course{Position: make([]float64, n), Rate: make([]float64, n)}
	mid := m.Stroke / 2 * 1e3
	for i := range n {
		share, rate := smooth(float64(i)*m.ControlPeriod - 1)
		c.Position[i], c.Rate[i] = mid+20*share, 20*rate
	}
	run := func(f Fault) (off, turns float64) {
		r := Follow(m, m.Loops, c, f)
		last := len(r.Position) - 1
		return r.Position[last] - c.Position[last], r.Turns[last]
	}
	off, turns := run(Fault{})
	if math.Abs(off) > 1 {
		t.Errorf("%g mm off at the end of a sound move", off)
	}
	if _, slipped := run(Fault{At: 2, EncoderTurns: 1}); math.Abs(turns-slipped-1) > 0.1 {
		t.Errorf("a lost turn shows as %g", turns-slipped)
	}
	if jammed, _ := run(Fault{At: 1.5, Jam: true}); jammed > -5 {
		t.Errorf("a jam half-way leaves %g mm", jammed)
	}
	if _, drifted := run(Fault{At: 2, Drift: 2}); math.Abs(drifted-turns) < 1 {
		t.Errorf("the loop does not follow a reading that drifts: %g and %g turns", drifted, turns)
	}
}
