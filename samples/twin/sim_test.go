package twin

import (
	"math"
	"testing"
)

// quiet returns a machine without what blurs a figure to compare: no noise, ripple, slip, or air.
func quiet(load float64) *Machine {
	m := Random(Resisting, 4)
	m.Sensors = Sensors{CountsPerRev: 1 << 20}
	m.ProcessLoad, m.Angle, m.LoadSlope = load, 0, 0
	m.LeakInternal, m.LeakCase, m.Air, m.Ripple, m.LineLoss = 0, 0, 0, 0, 0
	m.Modulus = 1e12 // so that nothing is lost by compression in the pump
	m.DeadCap, m.DeadRod = 0.3, 0.3
	return m
}

// TestQuadrants checks steady speeds against flow over the area of the chamber
// under load, the four quadrants of a single-rod cylinder on a closed circuit
// (derivable; MODEL 1.2).
func TestQuadrants(t *testing.T) {
	for _, load := range []float64{-15e3, 15e3} {
		for _, sign := range []float64{1, -1} {
			m := quiet(load)
			s := NewSim(m, m.Stroke/2, StepTime)
			s.Command(sign * 0.1 * m.MaxSpeed)
			for range 5000 {
				s.Step()
			}
			from := s.x
			for range 2000 {
				s.Step()
			}
			area := m.AreaCap()
			if load > 0 {
				area = m.AreaRod()
			}
			got, want := (s.x-from)/0.2, sign*0.1*m.MaxSpeed*m.Displacement/area
			if math.Abs(got/want-1) > 2e-3 {
				t.Errorf("load %g N, sign %g: speed %g m/s, want %g within 0.2 %%", load, sign, got, want)
			}
		}
	}
}

// TestResonance checks the mode of the linearised machine against
// sqrt(β·A²/(V·m)) for one active chamber (derivable: oil spring on a mass) and a
// free oscillation of the machine itself.
func TestResonance(t *testing.T) {
	m := Random(Resisting, 4)
	m.Ripple, m.LeakSpeed = 0, 0
	x := 0.6 * m.Stroke
	s, _ := travelAt(m, x, 1, slowShare)
	c := m.Compliance(false, x, s.p[0])
	want := m.AreaCap() / math.Sqrt(c*m.Mass)
	p := linearise(s, slowShare*m.MaxSpeed)
	best, at := 0.0, 0.0
	for omega := 0.5 * want; omega < 1.5*want; omega *= 1.001 {
		// The drive's own roll-off is divided out by looking at pressure over speed.
		y := p.solveRatio(omega)
		if y > best {
			best, at = y, omega
		}
	}
	if math.Abs(at/want-1) > 0.03 {
		t.Errorf("resonance at %g rad/s, want %g within 3 %% (damping shifts the peak)", at, want)
	}
}

// solveRatio returns |rod acceleration over motor speed| at omega (rad/s).
func (p *Plant) solveRatio(omega float64) float64 {
	y := p.solve(complex(math.Cos(omega*p.h), math.Sin(omega*p.h)))
	a, b := y[3], y[1]
	return math.Hypot(real(a), imag(a)) / math.Hypot(real(b), imag(b))
}

// TestStepHalving checks that the simulation step is small enough: half of it
// changes travel and pressures by less than the sensors resolve.
func TestStepHalving(t *testing.T) {
	for _, kind := range []Kind{Resisting, Swap, Tiny} {
		m := Random(kind, 9)
		m.Sensors.PositionNoise, m.Sensors.PressureNoise, m.Sensors.CurrentNoise = 0, 0, 0
		a, b := asFound(m, m.Loops, StepTime), asFound(m, m.Loops, StepTime/2)
		x, y := a.SI("rod_position"), b.SI("rod_position")
		worst := 0.0
		for i := range x {
			worst = math.Max(worst, math.Abs(x[i]-y[i]))
		}
		span := m.Stroke
		if worst > 2e-3*span {
			t.Errorf("%s: halving the step moves the rod by %g m of %g m", kind, worst, span)
		}
		t.Logf("%s: %g mm", kind, worst*1e3)
	}
}

func BenchmarkStep(b *testing.B) {
	m := Random(Swap, 3)
	s := NewSim(m, m.Stroke/2, StepTime)
	s.Command(0.05 * m.MaxSpeed)
	for range b.N {
		s.Step()
		if s.x > 0.8*m.Stroke {
			s.x = 0.2 * m.Stroke
		}
	}
}

func BenchmarkSurvey(b *testing.B) {
	m := Random(Resisting, 3)
	for range b.N {
		Survey(m)
	}
}

func BenchmarkHotLoops(b *testing.B) {
	m := Random(Resisting, 3)
	for range b.N {
		HotLoops(m)
	}
}
