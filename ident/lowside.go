package ident

import (
	"math"

	"eha/strokewise/ident/lsq"
	"eha/strokewise/ident/plant"
	"eha/strokewise/ident/trace"
)

// lowSide is what the sensor of a chamber reads while that chamber is the low
// side, with no flow through its valve: the sealed reservoir's gas follows the
// stroke, and each sensor has an offset of its own. It serves the comparison
// with measured pressures alone.
type lowSide struct{ base, slope float64 } // Pa, Pa/m

func (l lowSide) at(x float64) float64 { return l.base + l.slope*x }

// surelyLow is by how much (Pa) the other side must be higher for this one to be
// clamped, and lowRows how many readings make a fit.
const (
	surelyLow = 8e5
	lowRows   = 100
	lowEvery  = 0.02 // s between readings
)

// lowSides fits both chambers' low readings against position and rod speed; the
// speed takes the valve's resistance out. A chamber that is never the low side
// takes the model's own low pressure.
func (f *fitting) lowSides(m *plant.Model) plant.PerChamber[lowSide] {
	out := plant.PerChamber[lowSide]{Cap: lowSide{base: m.LowPressure}, Rod: lowSide{base: m.LowPressure}}
	for _, c := range []plant.Chamber{plant.Cap, plant.Rod} {
		p := lsq.Linear{Columns: make([][]float64, 3), Priors: []lsq.Prior{{}, {Sigma: 1e8}, {Sigma: 1e9}}}
		for _, t := range f.logs {
			a, b, ok := pressures(t)
			x, okX := t.Samples(trace.RodPosition)
			if !ok || !okX {
				continue
			}
			own, other := a, b
			if c == plant.Rod {
				own, other = b, a
			}
			step := max(1, int(lowEvery/t.Period()))
			for _, part := range stretches(t) {
				for i := part.From; i+step < part.To; i += step {
					if other[i]-own[i] < surelyLow || other[i+step]-own[i+step] < surelyLow {
						continue
					}
					p.Y = append(p.Y, (own[i]+own[i+step])/2)
					p.Columns[0] = append(p.Columns[0], 1)
					p.Columns[1] = append(p.Columns[1], x[i])
					p.Columns[2] = append(p.Columns[2], (x[i+step]-x[i])/(float64(step)*t.Period()))
				}
			}
		}
		if len(p.Y) < lowRows {
			continue
		}
		if fit, err := p.SolveRobust(3); err == nil && math.Abs(fit.X[0]-m.LowPressure) < surelyLow {
			out.Set(c, lowSide{fit.X[0], fit.X[1]})
		}
	}
	return out
}
