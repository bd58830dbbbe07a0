package ident

import (
	"math"
	"testing"

	"eha/strokewise/ident/plant"
)

// plainModel is a made-up machine with round figures: D 1 cm³/rad, areas 20 and
// 10 cm², resonance with the cap side at mid-stroke sqrt(A²/(C·m)).
func plainModel() *plant.Model {
	oil := plant.Oil{Fixed: 1e-13, Modulus: 1.5e9}
	return &plant.Model{
		Area: plant.PerChamber[float64]{Cap: 2e-3, Rod: 1e-3}, Stroke: 0.5, Displacement: 1e-6, Leakage: 1e-13,
		Oil: plant.PerChamber[plant.Oil]{Cap: oil, Rod: oil}, LowPressure: 2e5, LowResistance: 1e9,
		Mass: 500, Viscous: 2000, AxialLoad: -10e3, Coulomb: plant.PerDirection[float64]{Extend: 200, Retract: 200},
	}
}

func lowOf(m *plant.Model) plant.PerChamber[lowSide] {
	return plant.PerChamber[lowSide]{Cap: lowSide{base: m.LowPressure}, Rod: lowSide{base: m.LowPressure}}
}

func turning(speed float64, n int, period float64) []float64 {
	theta := make([]float64, n)
	for i := range theta {
		theta[i] = speed * period * float64(i)
	}
	return theta
}

// TestReplaySteadySpeed: in steady travel the rod moves with
// v = (D·n - L·Δp)/A_h, by hand from the flow balance, and the chamber that
// carries stands at the pressure that the force asks for.
func TestReplaySteadySpeed(t *testing.T) {
	m := plainModel()
	for _, speed := range []float64{50, -50} {
		got := replay(m, lowOf(m), turning(speed, 3000, 1e-3), 1e-3, state{x: 0.25, pCap: 51e5, pRod: 2e5})
		n := len(got.x)
		v := (got.x[n-1] - got.x[n-1001]) / 1.0
		across := got.pCap[n-1] - got.pRod[n-1]
		flow := m.Displacement*speed*(1-m.PumpLoss(speed, got.pCap[n-1], got.pRod[n-1])) - m.Leakage*across
		if want := flow / m.Area.Cap; math.Abs(v-want) > 1e-3*math.Abs(want) {
			t.Errorf("motor at %g rad/s: rod %.6f m/s, want %.6f", speed, v, want)
		}
		force := 10e3 + math.Copysign(200, speed) + m.Viscous*v
		if got := m.Force(got.pCap[n-1], got.pRod[n-1]); math.Abs(got-force) > 5 {
			t.Errorf("motor at %g rad/s: hydraulic force %.1f N, want %.1f", speed, got, force)
		}
	}
}

// TestReplayResonance counts the ringing of a small disturbance at a held motor
// against sqrt(A²/(C·m)): Merritt's formula for one chamber (value from memory).
func TestReplayResonance(t *testing.T) {
	m := plainModel()
	m.Coulomb, m.Viscous, m.LowResistance, m.Leakage = plant.PerDirection[float64]{}, 0, 0, 0
	m.LowResistance = 1e6
	got := replay(m, lowOf(m), make([]float64, 2000), 1e-4, state{x: 0.25, pCap: 51.2e5, pRod: 2e5})
	crossings, first, last := 0, 0, 0
	mid := mean(got.x)
	for i := 1; i < len(got.x); i++ {
		if got.x[i-1] < mid && got.x[i] >= mid {
			if crossings == 0 {
				first = i
			}
			crossings, last = crossings+1, i
		}
	}
	omega := 2 * math.Pi * float64(crossings-1) / (float64(last-first) * 1e-4)
	want := math.Sqrt(m.Area.Cap * m.Area.Cap / (m.Compliance(plant.Cap, 0.25, 51e5) * m.Mass))
	if math.Abs(omega-want) > 0.02*want {
		t.Errorf("rings at %.1f rad/s, want %.1f", omega, want)
	}
}

// TestReplayStiction: friction holds the rod against a small push, and never
// turns its motion round.
func TestReplayStiction(t *testing.T) {
	m := plainModel()
	m.Leakage = 0 // or the pressure would sink below what holds the load
	got := replay(m, lowOf(m), make([]float64, 500), 1e-3, state{x: 0.25, pCap: 51e5, pRod: 2e5})
	for i, x := range got.x {
		if x != 0.25 {
			t.Fatalf("the rod crept %.2g m by sample %d under less than its friction", x-0.25, i)
		}
	}
}

// TestTravelOf against the flow balance by hand: one turn of 1 cm³/rad on 20 cm².
func TestTravelOf(t *testing.T) {
	m := plainModel()
	m.Leakage = 0
	p := [2]float64{2e5 + 100, 2e5} // no pressure to speak of: nothing is compressed
	if got, want := travelOf(m, 2*math.Pi, 0.1, 0.2, p, p), 2*math.Pi*1e-6/2e-3; math.Abs(got-want) > 1e-9 {
		t.Errorf("a turn moves the rod %.6g m, want %.6g", got, want)
	}
	m.Leakage = 1e-12
	high := [2]float64{100e5, 0}
	if got, want := travelOf(m, 0, 2, 0.2, high, high), -1e-12*100e5*2/2e-3; math.Abs(got-want) > 1e-9 {
		t.Errorf("slip at 100 bar moves the rod %.6g m in 2 s, want %.6g", got, want)
	}
}
