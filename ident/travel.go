package ident

import (
	"math"

	"eha/strokewise/ident/plant"
	"eha/strokewise/ident/trace"
)

// travelFrame (s) is the length of the pieces over which travel is computed from
// turns and pressures.
const travelFrame = 0.02

// compareTravel computes the rod's travel over a move from turns and pressures
// alone, A_h·dx = D·dθ·(1-κ) - L·Δp·dt - ±C_h·dp_h, and sets it beside the
// transducer's.
func (f *fitting) compareTravel(travel *tally, t *trace.Trace, s trace.Span, m *plant.Model, theta, x []float64) {
	a, b, hydraulic := pressures(t)
	hydraulic = hydraulic && f.stroke.Pressures
	n := max(1, int(math.Round(travelFrame/t.Period())))
	start := f.straightened(mean(x[s.From : s.From+n]))
	at := start
	for from := s.From; from+3*n <= s.To; from += n {
		turn := mean(theta[from+n:from+2*n]) - mean(theta[from:from+n])
		if !hydraulic {
			at += f.travelBlind(turn, float64(n)*t.Period())
		} else {
			before := [2]float64{mean(a[from : from+n]), mean(b[from : from+n])}
			after := [2]float64{mean(a[from+n : from+2*n]), mean(b[from+n : from+2*n])}
			at += travelOf(m, turn, float64(n)*t.Period(), at, before, after)
		}
		travel.add(f.straightened(mean(x[from+n:from+2*n])), at)
	}
}

// straightened is the transducer's reading with its fitted departure from a straight line taken out.
func (f *fitting) straightened(x float64) float64 { return x + f.stroke.Curve.At(x) }

// travelOf is the rod's travel for a motor angle in a time (s) with the piston
// at x and the pressures going from before to after (cap, rod).
func travelOf(m *plant.Model, turn, time, x float64, before, after [2]float64) float64 {
	pCap, pRod := (before[0]+after[0])/2, (before[1]+after[1])/2
	c, sign, rise := plant.Cap, 1.0, after[0]-before[0]
	if pRod > pCap {
		c, sign, rise = plant.Rod, -1, after[1]-before[1]
	}
	flow := m.Displacement * turn * (1 - pumpLoss(m, turn, pCap, pRod))
	stored := sign * m.Compliance(c, x, math.Max(pCap, pRod)) * rise
	return (flow - m.Leakage*(pCap-pRod)*time - stored) / m.Area.At(c)
}
