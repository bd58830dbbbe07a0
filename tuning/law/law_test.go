package law

import (
	"math"
	"testing"

	"eha/strokewise/ident/plant"
)

var areas = plant.PerChamber[float64]{Cap: 2e-3, Rod: 1e-3}

func settings() Position {
	return Position{
		Period: 1e-3, Kp: plant.PerDirection[float64]{Extend: 10, Retract: 5},
		Ki: plant.PerDirection[float64]{Extend: 2, Retract: 1}, Feedforward: 1,
		Turns: plant.PerDirection[float64]{Extend: 1000, Retract: 2000}, SpeedLimit: 100, Window: 1e-4,
	}
}

func near(t *testing.T, what string, got, want float64) {
	t.Helper()
	if math.Abs(got-want) > 1e-12*math.Max(1, math.Abs(want)) {
		t.Errorf("%s: got %g, want %g", what, got, want)
	}
}

// The expected figures are the law worked by hand.
func TestPositionLawByHand(t *testing.T) {
	c := NewPositionController(settings(), areas)
	// e = 2 mm: I = 2·0.002·0.001 = 4e-6; v = 0.02 + 4e-6 + 0.01.
	near(t, "extending", c.Next(Demand{Position: 0.102, Rate: 0.01}, Measured{Position: 0.1}), (0.02+4e-6+0.01)*1000)
	near(t, "integral", c.Integral(), 4e-6)
	// e = -2 mm at rest: the retract pair of gains and the retract scale.
	near(t, "retracting", c.Next(Demand{Position: 0.098}, Measured{Position: 0.1}), (-0.01+4e-6-2e-6)*2000)
	near(t, "integral after", c.Integral(), 2e-6)
}

func TestGainsFollowErrorAndScaleFollowsDemand(t *testing.T) {
	c := NewPositionController(settings(), areas)
	// Error positive, demand negative by feed-forward: extend gains, retract scale.
	got := c.Next(Demand{Position: 0.1001, Rate: -0.01}, Measured{Position: 0.1})
	near(t, "mixed signs", got, (10*0.0001+2*0.0001*1e-3-0.01)*2000)
}

func TestIntegralHolds(t *testing.T) {
	cases := []struct {
		name string
		d    Demand
		held bool
	}{
		{"limited and pushed further", Demand{Position: 0.2}, true},
		{"limited by feed-forward against the error", Demand{Position: 0.099, Rate: 0.2}, false},
		{"inside the window at rest", Demand{Position: 0.10005}, true},
		{"inside the window in motion", Demand{Position: 0.10005, Rate: 0.001}, false},
		{"free", Demand{Position: 0.101}, false},
	}
	for _, tc := range cases {
		t.Run(tc.name, func(t *testing.T) {
			c := NewPositionController(settings(), areas)
			n := c.Next(tc.d, Measured{Position: 0.1})
			if held := c.Integral() == 0; held != tc.held {
				t.Errorf("integral %g, want held %t", c.Integral(), tc.held)
			}
			if math.Abs(n) > 100 {
				t.Errorf("command %g rad/s above the limit of 100", n)
			}
		})
	}
}

func TestLowpassStandsBeforeTheClamp(t *testing.T) {
	set := settings()
	set.Lowpass, set.Ki = 200, plant.PerDirection[float64]{}
	c := NewPositionController(set, areas)
	share := 1 - math.Exp(-0.2)
	state := 0.0
	for range 5 { // demand 10·0.05·1000 = 500 rad/s, five times the limit
		state += share * (500 - state)
		near(t, "command", c.Next(Demand{Position: 0.15}, Measured{Position: 0.1}), math.Min(state, 100))
	}
	// The filter's state was not clamped: it falls from 500·(1-e^-1), not from 100.
	state -= share * state
	near(t, "after", c.Next(Demand{Position: 0.1}, Measured{Position: 0.1}), math.Min(state, 100))
}

func TestPressureDampingIgnoresSteadyPressure(t *testing.T) {
	set := settings()
	set.PressureDamping, set.Highpass = 1e-5, 50
	c := NewPositionController(set, areas)
	m := Measured{Position: 0.1, CapPressure: 5e6, RodPressure: 1e6}
	near(t, "at rest", c.Next(Demand{Position: 0.1}, m), 0)
	m.CapPressure += 1e5
	near(t, "first period of a step", c.Next(Demand{Position: 0.1}, m), -1e-5*1e5*math.Exp(-0.05))
}

func TestTableInterpolatesAndHoldsItsEnds(t *testing.T) {
	table := &Table{Position: []float64{0.1, 0.2}, Turns: plant.PerDirection[[]float64]{Extend: []float64{10, 20}, Retract: []float64{30, 50}}}
	for _, tc := range []struct {
		x    float64
		d    plant.Direction
		want float64
	}{{0, plant.Extend, 10}, {0.1, plant.Extend, 10}, {0.15, plant.Extend, 15}, {0.175, plant.Retract, 45}, {0.3, plant.Retract, 50}} {
		near(t, "turns", table.At(tc.x, tc.d), tc.want)
	}
}

func TestChamberScaleKeepsItsPairInsideTheBand(t *testing.T) {
	set := settings()
	set.ByChamber, set.ChamberBand = true, 100
	c := NewPositionController(set, areas)
	for _, tc := range []struct{ force, want float64 }{{500, 1000}, {-50, 1000}, {-150, 2000}, {50, 2000}, {150, 1000}} {
		m := Measured{Position: 0.1, CapPressure: tc.force / areas.Cap}
		near(t, "turns", c.turns(1, m), tc.want)
	}
}

func forceSettings() Force {
	return Force{Period: 1e-3, Kp: 0.01, Ki: 0.1, SpeedLimit: 30, RateFeedforward: 1e-4}
}

func TestForceLawByHand(t *testing.T) {
	c := NewForceController(forceSettings(), areas)
	m := Measured{CapPressure: 1e6, RodPressure: 5e5} // 2000 - 500 = 1500 N
	got := c.Next(Demand{Force: 2500, ForceRate: 1000}, m)
	near(t, "command", got, 10+0.1*1000*1e-3+0.1)
	c.Next(Demand{Force: 10000}, m) // limited: integral held
	near(t, "integral", c.Integral(), 0.1)
}

// Mirrored motion: the smaller command wins pressing out, the larger pressing in,
// and the loop not in charge holds its integral.
func TestHandOver(t *testing.T) {
	for _, presses := range []plant.Direction{plant.Extend, plant.Retract} {
		t.Run(presses.String(), func(t *testing.T) {
			position, force := settings(), forceSettings()
			position.Turns.Retract, position.Kp.Retract, position.Ki.Retract = 1000, 10, 2
			force.Presses = presses
			c := NewController(Loops{Position: &position, Force: &force}, plant.PerChamber[float64]{Cap: 1e-3, Rod: 1e-3})
			s := presses.Sign()
			m := Measured{Position: 0.1, CapPressure: 1e6 + s*5e5, RodPressure: 1e6}
			far := Demand{Position: 0.1 + s*0.005, Force: s * 5000}
			near(t, "force in charge", c.Next(far, m), s*30)
			if !c.InForce() || c.position.Integral() != 0 {
				t.Errorf("force limited to 30 rad/s is below 50: in force %t, idle position integral %g", c.InForce(), c.position.Integral())
			}
			close := Demand{Position: 0.1 + s*0.001, Force: s * 5000}
			c = NewController(Loops{Position: &position, Force: &force}, plant.PerChamber[float64]{Cap: 1e-3, Rod: 1e-3})
			near(t, "position is smaller", c.Next(close, m), s*(10*0.001+2*0.001*1e-3)*1000)
			if c.InForce() || c.force.Integral() != 0 {
				t.Errorf("in force %t, idle force integral %g", c.InForce(), c.force.Integral())
			}
		})
	}
}
