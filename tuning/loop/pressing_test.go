package loop

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"eha/strokewise/ident/plant"
	"eha/strokewise/tuning/law"
)

// pressAxis is an invented axis whose numbers are near those of machines.
func pressAxis() Axis {
	return Axis{Displacement: 8e-7, Area: 3e-3, Low: 2e-3, Mass: 300, Viscous: 4000, Compliance: 3e-13, Leakage: 1.5e-12,
		Omega: 300, Zeta: 0.8}
}

// integrating is a pressing loop that reduces to k' e^(-s theta)/s: a rod that friction
// holds, no slip, a drive without lag. It returns it with its k' (N per rad/s, per s).
// The period is so short that the hold's delay of half of it is part of theta.
func integrating(theta float64) (Pressing, float64) {
	a := pressAxis()
	a.Leakage, a.Omega, a.Zeta, a.LoadAccel = 0, 1e9, 1, 0
	period := theta / 400
	p := Pressing{Axis: a, Stiffness: math.Inf(1), Hold: Sampled{Period: period, Delay: theta - period/2}}
	return p, a.Area * a.Displacement / a.Compliance
}

// wide spans the frequencies that a loop of delay theta needs.
func wide(theta float64) []float64 { return LogGrid(1e-3/theta, 1e3/theta, 4000) }

// SIMC settings for an integrating plant with delay, Kc = 1/(k'(tauc+theta)), tauI =
// 4 (tauc+theta): S. Skogestad, "Simple analytic rules for model reduction and PID
// controller tuning", J. Process Control 13, 2003, pp. 291-309 (rule looked up in the
// author's notes; margins computed by another program). tauc = theta is the paper's
// tight choice. Tolerance 0.5 %, 0.2 degrees; the sampled integral costs a part of both.
func TestSIMCWhilePressing(t *testing.T) {
	const theta = 0.02
	for _, tc := range []struct{ tauc, ms, gm, pm float64 }{
		{1, 1.7035, 2.9634, 46.864}, {1.5, 1.504, 3.753, 52.76}, {2, 1.393, 4.541, 56.69}, {3, 1.274, 6.115, 61.60}, {4, 1.211, 7.688, 64.55},
	} {
		t.Run(fmt.Sprint("tauc ", tc.tauc), func(t *testing.T) {
			p, k := integrating(theta)
			p.Kp = 1 / (k * theta * (tc.tauc + 1))
			p.Ki = p.Kp / (4 * theta * (tc.tauc + 1))
			m := Analyse(Loop{L: p.Open, Integrators: p.integrators()}, wide(theta))
			check(t, m, tc.ms, tc.gm, tc.pm, limits{0.005 * tc.ms, 0.005, 0.2})
		})
	}
}

// The largest integral gain under a sensitivity limit for e^-s/s: K. J. Åström, H.
// Panagopoulos and T. Hägglund, Automatica 34(5), 1998, pp. 585-601 (problem from memory,
// numbers computed by another solver). Each lies on the edge of what is permitted: 1 %.
func TestOptimalPIWhilePressing(t *testing.T) {
	const theta = 0.02
	for _, tc := range []struct{ ms, k, ti float64 }{{1.4, 0.2821, 6.744}, {1.6, 0.3688, 5.077}, {1.7, 0.4040, 4.597}, {2, 0.4884, 3.738}} {
		t.Run(fmt.Sprint("Ms ", tc.ms), func(t *testing.T) {
			p, gain := integrating(theta)
			grid := wide(theta)
			p.Kp, p.Ki = 1, 1/(tc.ti*theta)
			permitted := PermittedGains(grid, sample(p.Open, grid), p.integrators(), law.Targets{SensitivityPeak: tc.ms, GainMargin: 1, PhaseMargin: 1e-9})
			if len(permitted) == 0 {
				t.Fatal("no gain is permitted")
			}
			if k := permitted[len(permitted)-1].High * gain * theta; math.Abs(k/tc.k-1) > 0.01 {
				t.Errorf("permitted up to %.4f/(k' theta), want %.4f", k, tc.k)
			}
			if !(permitted[0].Low > 0) { // two integrators need a least gain
				t.Errorf("permitted from %g on", permitted[0].Low)
			}
		})
	}
}

// Below the leak corner a motor speed n holds the force A D n/L, above it the
// force grows by D k_s/A per turn, k_s oil and contact in series (balance of volume,
// worked by hand); at the corner itself the response is down by 1/sqrt 2 and 45 degrees.
func TestLeakCorner(t *testing.T) {
	for name, stiffness := range map[string]float64{"soft": 5e6, "stiff": 4e7, "held by friction": math.Inf(1)} {
		t.Run(name, func(t *testing.T) {
			p := Pressing{Axis: pressAxis(), Stiffness: stiffness, Hold: Sampled{Period: 1e-6}}
			p.Axis.Omega, p.Axis.Mass, p.Axis.Viscous = 1e9, 1, 0 // the mode far above
			a := &p.Axis
			oil := a.Area * a.Area / a.Compliance
			series := 1 / (1/oil + 1/stiffness)
			corner := p.LeakCorner()
			if want := a.Leakage * series / (a.Area * a.Area); math.Abs(corner/want-1) > 1e-12 {
				t.Errorf("leak corner %g rad/s, want %g", corner, want)
			}
			near := func(what string, got, want complex128) {
				t.Helper()
				if d := got/want - 1; math.Hypot(real(d), imag(d)) > 0.01 {
					t.Errorf("%s: %v, want %v", what, got, want)
				}
			}
			static := complex(a.Area*a.Displacement/a.Leakage, 0)
			near("far below", p.Plant(corner/1000), static)
			near("at the corner", p.Plant(corner), static/complex(1, 1))
			near("above", p.Plant(30*corner), complex(a.Displacement*series/a.Area, 0)/complex(corner, 30*corner))
		})
	}
}

// The mass rings between oil and contact, sqrt((k_oil + k)/m) (two springs on one mass, by hand).
func TestPressingMode(t *testing.T) {
	p := Pressing{Axis: pressAxis(), Stiffness: 1e7}
	p.Axis.Viscous, p.Axis.Leakage, p.Axis.Omega = 0, 0, 1e9
	p.Hold.Period = 1e-6
	want := math.Sqrt((9e-6/3e-13 + 1e7) / 300)
	if got := p.Natural(); math.Abs(got-want) > 1e-9 {
		t.Fatalf("mode at %g rad/s, want %g", got, want)
	}
	at := func(omega float64) float64 { return math.Hypot(real(p.Plant(omega)), imag(p.Plant(omega))) }
	if !(at(want) > 100*at(0.9*want) && at(want) > 100*at(1.1*want)) {
		t.Errorf("no resonance at %g rad/s: %g, %g, %g", want, at(0.9*want), at(want), at(1.1*want))
	}
	// And the contact's own mode shows no force at the piston.
	if zero := math.Sqrt(1e7 / 300); !(at(zero) < 1e-3*at(0.5*zero)) {
		t.Errorf("no anti-resonance at %g rad/s", zero)
	}
}

// From the top of what is permitted at every ratio the targets hold, a little above they do not.
func TestPermittedGainsWhilePressing(t *testing.T) {
	rng := rand.New(rand.NewPCG(5, 6))
	targets := law.Targets{SensitivityPeak: 1.5, GainMargin: math.Pow(10, 9./20), PhaseMargin: math.Pi / 4}
	found := 0
	for range 60 {
		p := Pressing{Axis: pressAxis(), Stiffness: 3e6 * math.Pow(20, rng.Float64()), Hold: Sampled{Period: 1e-3, Delay: 1e-3 + 5e-3*rng.Float64()}, PressureLag: 1e-3}
		p.Axis.Mass, p.Axis.Leakage = 100+800*rng.Float64(), 4e-12*rng.Float64()+2e-13
		if rng.IntN(3) == 0 {
			p.Stiffness = math.Inf(1)
		}
		p.Lowpass = 150 * float64(rng.IntN(2)) * rng.Float64()
		ratio := p.LeakCorner() * (0.5 + rng.Float64())
		permitted := p.PermittedGains(ratio, targets, Fine)
		if len(permitted) == 0 {
			continue
		}
		found++
		top := permitted[len(permitted)-1].High
		holds := func(kp float64) bool {
			p.Kp, p.Ki = kp, ratio*kp
			m := p.Margins(Fine)
			return m.Stable && m.Sensitivity <= targets.SensitivityPeak && m.Gain >= targets.GainMargin && m.Phase >= targets.PhaseMargin
		}
		// The grid resolves kp to 1.5 % (see Fine); the gaps between forbidden gains may be narrower than that.
		if !holds(top * 0.97) {
			t.Errorf("%+v: targets broken at 0.97 of the top %g of %v", p, top, permitted)
		}
		if holds(top * 1.03) {
			t.Errorf("%+v: targets hold at 1.03 of the top %g of %v", p, top, permitted)
		}
	}
	if found < 50 {
		t.Errorf("only %d of 60 loops have a gain", found)
	}
}

func TestCommon(t *testing.T) {
	inf := math.Inf(1)
	for _, tc := range []struct{ a, b, want []Interval }{
		{[]Interval{{1, 3}, {5, 8}}, []Interval{{2, 6}}, []Interval{{2, 3}, {5, 6}}},
		{[]Interval{{1, 2}}, []Interval{{2, 3}}, nil},
		{[]Interval{{0, inf}}, []Interval{{1, 2}, {4, inf}}, []Interval{{1, 2}, {4, inf}}},
		{nil, []Interval{{1, 2}}, nil},
	} {
		for _, got := range [][]Interval{Common(tc.a, tc.b), Common(tc.b, tc.a)} {
			if fmt.Sprint(got) != fmt.Sprint(tc.want) {
				t.Errorf("%v and %v share %v, want %v", tc.a, tc.b, got, tc.want)
			}
		}
	}
}

// Pressing while retracting is the mirror image: the rod side's numbers and nothing else.
func TestPressingBothWays(t *testing.T) {
	m := plant.Model{Area: plant.PerChamber[float64]{Cap: 3e-3, Rod: 2e-3}, Stroke: 0.3, Displacement: 8e-7, Leakage: 1e-12, Mass: 300, Viscous: 4000}
	m.Oil = plant.PerChamber[plant.Oil]{Cap: plant.Oil{Fixed: 1e-13, Modulus: 1.4e9}, Rod: plant.Oil{Fixed: 2e-13, Modulus: 1.3e9}}
	m.Drive.NaturalFreq, m.Drive.Damping, m.ControllerPeriod = 300, 0.8, 1e-3
	mirror := m
	mirror.Area = plant.PerChamber[float64]{Cap: m.Area.Rod, Rod: m.Area.Cap}
	mirror.Oil = plant.PerChamber[plant.Oil]{Cap: m.Oil.Rod, Rod: m.Oil.Cap}
	a := NewPressing(&m, Place{Direction: plant.Retract, Chamber: plant.Rod, Position: 0.05, Pressure: 8e6, MassFactor: 1}, 1e7, 2e-3)
	b := NewPressing(&mirror, Place{Direction: plant.Extend, Chamber: plant.Cap, Position: 0.25, Pressure: 8e6, MassFactor: 1}, 1e7, 2e-3)
	for _, omega := range []float64{0.1, 3, 50, 200, 1000} {
		if d := a.Plant(omega)/b.Plant(omega) - 1; math.Hypot(real(d), imag(d)) > 1e-9 {
			t.Errorf("at %g rad/s: %v pulling, %v in the mirror", omega, a.Plant(omega), b.Plant(omega))
		}
	}
}
