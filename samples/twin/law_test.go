package twin

import (
	"math"
	"testing"
)

func lawSettings() Loops {
	return Loops{
		Position: &PositionLoop{Period: 0.001, KpExtend: 10, KpRetract: 8, KiExtend: 20, KiRetract: 16, Feedforward: 1,
			TurnsExtend: 0.4, TurnsRetract: 0.3, SpeedLimit: 600, Window: 0.05},
		Force: &ForceLoop{Presses: "extend", Period: 0.001, Kp: 0.5, Ki: 2, SpeedLimit: 120},
	}
}

// TestLawByHand follows the law through a few periods worked by hand.
func TestLawByHand(t *testing.T) {
	near := func(what string, got, want float64) {
		t.Helper()
		if math.Abs(got-want) > 1e-12 {
			t.Errorf("%s: %g, want %g", what, got, want)
		}
	}
	c := NewController(lawSettings(), 2e-3, 1e-3)
	n, _ := c.Next(Reference{Position: 1}, 0, 0, 0)
	near("extending: (10·1 + 20·1·0.001)·0.4", n, 4.008)
	n, _ = c.Next(Reference{Position: -1}, 0, 0, 0)
	near("retracting: (-8 + 0.02 - 0.016)·0.3", n, -2.3988)
	n, _ = c.Next(Reference{Position: 100}, 0, 0, 0)
	near("limited to 600 rpm", n, 10)
	n, _ = c.Next(Reference{Position: 0.01}, 0, 0, 0)
	near("integral held while limited and inside the window: (0.1 + 0.004)·0.4", n, 0.0416)
	n, _ = c.Next(Reference{Position: 0.01, Rate: 5}, 0, 0, 0)
	near("window does not hold while moving: (0.1 + 0.004 + 0.0002 + 5)·0.4", n, 2.04168)
}

// TestSelection checks that the smaller command rules while pressing extending,
// and that the idle loop's integral is held.
func TestSelection(t *testing.T) {
	c := NewController(lawSettings(), 2e-3, 1e-3)
	r := Reference{Position: 10, Pressing: true, Force: 4}
	n, byForce := c.Next(r, 0, 10, 0) // force 10 bar · 20 cm² = 2 kN
	if want := 0.5*2 + 2*2*0.001; !byForce || math.Abs(n-want) > 1e-12 {
		t.Errorf("force rules with %g, want %g", n, want)
	}
	if c.sumPosition != 0 {
		t.Errorf("the idle position loop's integral moved to %g", c.sumPosition)
	}
	n, byForce = c.Next(r, 10.5, 10, 0)
	if want := -0.5 * 8 * 0.3; byForce || math.Abs(n-want) > 0.01 {
		t.Errorf("position rules with %g, want about %g", n, want)
	}
}

// TestLowpassRun checks y += (1 - e^(-2πfT))(u - y): after n periods of a unit
// step it stands at 1 - e^(-2πfTn).
func TestLowpassRun(t *testing.T) {
	f := newLowpass(10, 0.001)
	f.started = true
	y := 0.0
	for range 50 {
		y = f.next(1)
	}
	if want := 1 - math.Exp(-2*math.Pi*10*0.05); math.Abs(y-want) > 1e-12 {
		t.Errorf("after 50 periods %g, want %g", y, want)
	}
}

// TestChamberScale: the pair changes only once the force passes the band on the
// other side, 10 bar · 20 cm² = 2 kN against a band of 1 kN.
func TestChamberScale(t *testing.T) {
	l := lawSettings()
	l.Position.KiExtend, l.Position.ByChamber, l.Position.ChamberBand = 0, true, 1
	c := NewController(l, 2e-3, 1e-3)
	for _, step := range []struct{ pCap, pRod, turns float64 }{{10, 0, 0.4}, {0, 5, 0.4}, {0, 15, 0.3}, {2, 0, 0.3}, {10, 0, 0.4}} {
		if n, _ := c.Next(Reference{Position: 1}, 0, step.pCap, step.pRod); math.Abs(n-10*step.turns) > 1e-12 {
			t.Errorf("at %g and %g bar %g rev/s, want %g", step.pCap, step.pRod, n, 10*step.turns)
		}
	}
}
