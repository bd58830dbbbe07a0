package flow

import (
	"math"
	"testing"

	"eha/strokewise/ident/plant"
)

// steadyTravel is a log of travel one way at several speeds, the cap side carrying, whose low
// side falls by drop (Pa) at full speed.
func steadyTravel(d plant.Direction, drop float64) *means {
	m := &means{dt: meanTime}
	x := 0.0
	for i := range 2000 {
		n := d.Sign() * 300 * []float64{0.03, 0.06, 0.12, 0.25, 0.5}[i/400]
		share := math.Abs(n) / 300
		x += 1e-4 * n * m.dt
		m.speed, m.travel, m.x = append(m.speed, n), append(m.travel, 1e-4*n), append(m.x, x)
		// The readings' noise is what a fit needs some of.
		m.rod = append(m.rod, 3e5-drop*share+2e3*math.Sin(float64(i*i)))
		m.cap, m.bad = append(m.cap, 6e6), append(m.bad, false)
	}
	m.speed[0] = d.Sign() * 300 // the fastest seen
	return m
}

// Extending draws oil from the reservoir, so a valve's resistance lowers the low side's
// pressure with speed, and raises it while retracting. What goes the other way is something
// else and no resistance.
func TestAResistanceOfTheWrongSignIsNone(t *testing.T) {
	s := &Stroke{Displacement: Number{Value: 1e-4 * 2e-3}, Areas: plant.PerChamber[float64]{Cap: 2e-3, Rod: 1.4e-3}}
	full := (s.Areas.Cap - s.Areas.Rod) * 1e-4 * 300 // m³/s
	for _, d := range []plant.Direction{plant.Extend, plant.Retract} {
		for _, way := range []float64{1, -1} {
			drop := way * d.Sign() * 1e5
			r := lowResistance([]*means{steadyTravel(d, drop)}, s, oneSided).Cap
			if way < 0 {
				if r.Sigma != 0 {
					t.Errorf("%s: %g Pa s/m³ from a pressure that goes the wrong way", d, r.Value)
				}
			} else if want := 1e5 / full; math.Abs(r.Value-want) > 0.05*want {
				t.Errorf("%s: %g Pa s/m³, want %g within 5 %%", d, r.Value, want)
			}
		}
	}
}
