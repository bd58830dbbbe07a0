package ident

import (
	"math"

	"eha/strokewise/ident/plant"
)

// The steps of a replay: short against the oil's resonance and the pressures'
// rise in small volumes.
const replayStep = 2e-4 // s

// The pilot-opened valve of the low side opens over about a bar of the other
// side's lead (common practice, no source).
const (
	pilotFrom = 0.5e5 // Pa
	pilotOver = 1e5   // Pa
	leastDrop = 1e8   // Pa·s/m³, resistance of an open valve where none was found
)

// state is what a replay starts from.
type state struct{ x, v, pCap, pRod float64 }

// replayed is the modelled rod position and pressures, one entry per sample.
type replayed struct{ x, pCap, pRod []float64 }

// replay runs the compact model with the measured motor angle θ (rad, one entry
// per period, s) as its input, from the state at the first sample:
//
//	m·v' = p_cap·A_cap - p_rod·A_rod - friction + F_a
//	C_cap·p_cap' = D·n·(1-κ) - A_cap·v - L·(p_cap-p_rod) + valve,  and the mirror
//
// Valves, leakage and friction are taken at the step's end, so no step is too
// long for them. θ is taken as straight between samples; low is what each side
// stands at while clamped.
func replay(m *plant.Model, low plant.PerChamber[lowSide], theta []float64, period float64, from state) replayed {
	n := len(theta)
	out := replayed{make([]float64, n), make([]float64, n), make([]float64, n)}
	steps := max(1, int(math.Ceil(period/replayStep-1e-9)))
	h := period / float64(steps)
	s := from
	resistance := math.Max(m.LowResistance, leastDrop)
	for i := range theta {
		out.x[i], out.pCap[i], out.pRod[i] = s.x, s.pCap, s.pRod
		if i+1 == n {
			break
		}
		flow := m.Displacement * (theta[i+1] - theta[i]) / period
		cCap, cRod := m.Compliance(plant.Cap, s.x, s.pCap), m.Compliance(plant.Rod, s.x, s.pRod)
		lost := m.PumpLoss(flow, s.pCap, s.pRod)
		intoCap, intoRod := flow, -flow
		if s.pCap > s.pRod {
			intoCap *= 1 - lost
		} else {
			intoRod *= 1 - lost
		}
		lowCap, lowRod := low.Cap.at(s.x), low.Rod.at(s.x)
		for range steps {
			s.v = stepSpeed(m, s, h)
			s.x += h * s.v
			gCap, gRod := valve(s.pCap, s.pRod, lowCap)/resistance, valve(s.pRod, s.pCap, lowRod)/resistance
			pCap := s.pCap + h/cCap*(intoCap-m.Area.Cap*s.v+gCap*lowCap+m.Leakage*s.pRod)
			pRod := s.pRod + h/cRod*(intoRod+m.Area.Rod*s.v+gRod*lowRod+m.Leakage*s.pCap)
			s.pCap = pCap / (1 + h/cCap*(gCap+m.Leakage))
			s.pRod = pRod / (1 + h/cRod*(gRod+m.Leakage))
		}
	}
	return out
}

// stepSpeed advances the rod's speed; friction may stop it but not turn it round.
func stepSpeed(m *plant.Model, s state, h float64) float64 {
	push := s.v + h/m.Mass*(m.Force(s.pCap, s.pRod)+m.AxialLoad+contactForce(m, s.x))
	coulomb := m.Coulomb.Extend
	if push < 0 {
		coulomb = m.Coulomb.Retract
	}
	slow := math.Max(math.Abs(push)-h/m.Mass*coulomb, 0) / (1 + h/m.Mass*m.Viscous)
	return math.Copysign(slow, push)
}

// contactForce is what the work piece pushes back with (N, positive pushing the rod out).
func contactForce(m *plant.Model, x float64) float64 {
	c := m.Contact
	if c == nil {
		return 0
	}
	if depth := c.Presses.Sign() * (x - c.Position); depth > 0 {
		return -c.Presses.Sign() * depth * c.Stiffness
	}
	return 0
}

// valve is the opening, 0 to 1, of what joins a side at pressure p to the
// reservoir while the other is at pressure other.
func valve(p, other, low float64) float64 {
	if p < low {
		return 1
	}
	return math.Min(math.Max((other-p-pilotFrom)/pilotOver, 0), 1)
}
