package twin

import "math"

// resonance finds the softest end of the stroke over the chambers that carry, at
// the lower of the pressures of slow travel.
func (t *Truth) resonance(m *Machine, ways [2]slowTravel) {
	mode := func(w slowTravel, pressure, x float64) (omega, damping float64) {
		area, low, lowP := m.AreaCap(), m.AreaRod(), w.p[1]
		if w.rod {
			area, low, lowP = m.AreaRod(), m.AreaCap(), w.p[0]
		}
		c := m.Compliance(w.rod, x, pressure)
		omega = math.Sqrt(area * area / (c * m.Mass))
		damping = (m.Viscous+low*low*m.lowResistance(w, lowP))/(2*m.Mass*omega) +
			m.slip()*m.Displacement/(2*c*omega)
		return omega, damping
	}
	lowest := math.Inf(1)
	for _, w := range ways {
		pressure := w.pressure
		if ways[0].rod == ways[1].rod {
			pressure = math.Min(ways[0].pressure, ways[1].pressure)
		}
		end, near := m.Stroke, 0.95*m.Stroke
		if w.rod {
			end, near = 0, 0.05*m.Stroke
		}
		omega, damping := mode(w, pressure, end)
		nearOmega, nearDamping := mode(w, pressure, near)
		if c := m.Contact; c != nil && w.rod == (c.Sign < 0) {
			// The survey cannot pass the work piece.
			nearOmega, nearDamping = mode(w, pressure, c.Position)
		}
		var otherDampings []float64
		for _, o := range ways {
			if o.rod == w.rod {
				_, d := mode(o, pressure, end)
				otherDampings = append(otherDampings, d)
			}
		}
		if omega < lowest {
			lowest = omega
			t.set("hydraulic_frequency", "Hz", omega/(2*math.Pi), nearOmega/(2*math.Pi))
			t.set("hydraulic_damping", "1", mean(append(otherDampings, damping)[:len(otherDampings)]), append(otherDampings, nearDamping)...)
		}
	}
}

// lowResistance returns the pressure per flow (Pa·s/m³) of the valves that clamp
// the low side at its pressure p (Pa) in slow travel.
func (m *Machine) lowResistance(w slowTravel, p float64) float64 {
	flow := func(p float64) float64 {
		s := Sim{m: m, h: StepTime, thinned: m.Warmth.Thinned(m.Warmth.mean()), reservoir: m.reservoirPressure(m.Stroke / 2)}
		low := 1
		if w.rod {
			low = 0
		}
		s.p[low], s.p[1-low] = p, w.pressure
		s.open[low] = math.Max(0, math.Min(1, ((w.pressure-s.reservoir)-(p-s.reservoir)/m.PilotRatio-m.PilotSpring)/m.PilotBand))
		held := m.PilotTime
		m := *m
		m.PilotTime = 1e9 // the opening is given
		s.m = &m
		q, _ := s.valves(low)
		m.PilotTime = held
		return q
	}
	const dp = 200
	slope := (flow(p-dp) - flow(p+dp)) / (2 * dp)
	if slope < 1e-11 {
		// Neither valve is open: the low side is a closed spring, not a damper.
		return 0
	}
	return 1 / slope
}
