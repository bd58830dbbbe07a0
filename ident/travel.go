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
// alone and sets it beside the transducer's.
func (f *fitting) compareTravel(travel *tally, t *trace.Trace, s trace.Span, m *plant.Model, theta, x []float64) {
	a, b, hydraulic := pressures(t)
	hydraulic = hydraulic && f.stroke.Pressures
	n := max(1, int(math.Round(travelFrame/t.Period())))
	at := f.straightened(mean(x[s.From : s.From+n]))
	for from := s.From; from+3*n <= s.To; from += n {
		if hydraulic {
			at += stepOf(m, theta, a, b, from, n, t.Period(), at)
		} else {
			at += f.travelBlind(mean(theta[from+n:from+2*n])-mean(theta[from:from+n]), float64(n)*t.Period())
		}
		travel.add(f.straightened(mean(x[from+n:from+2*n])), at)
	}
}

// TravelFromTurns returns how far the rod moves over the log (m, from its first to
// its last hundredth of a second or two) as the plant computes it from motor turns
// and both pressures, A_h·dx = D·dθ·(1-κ) - L·(1+r|n|)·Δp·dt - ±C_h·dp_h; the rod position
// tells only where it begins, the oil's temperature how much slips where the plant
// knows. ok is false without these channels.
func TravelFromTurns(p *plant.Plant, t *trace.Trace) (travel float64, ok bool) {
	theta, okAngle := t.Samples(trace.MotorPosition)
	x, okRod := t.Samples(trace.RodPosition)
	a, b, hydraulic := pressures(t)
	n := max(1, int(math.Round(travelFrame/t.Period())))
	if !okAngle || !okRod || !hydraulic || !p.PressuresSeen || t.Len() < 2*n {
		return 0, false
	}
	start := mean(x[:n])
	at := start
	m := p.Model
	if warmth, logged := t.Samples(trace.OilTemperature); logged && p.SlipThinning.PerKelvin.Known() {
		m.Leakage *= math.Exp(p.SlipThinning.PerKelvin.Value * (mean(warmth) - p.SlipThinning.Temperature))
	}
	for from := 0; from+2*n <= t.Len(); from += n {
		at += stepOf(&m, theta, a, b, from, n, t.Period(), at)
	}
	return at - start, true
}

// stepOf is the rod's travel from the frame of n samples at from to the next, the piston at x.
func stepOf(m *plant.Model, theta, a, b []float64, from, n int, period, x float64) float64 {
	before := [2]float64{mean(a[from : from+n]), mean(b[from : from+n])}
	after := [2]float64{mean(a[from+n : from+2*n]), mean(b[from+n : from+2*n])}
	turn := mean(theta[from+n:from+2*n]) - mean(theta[from:from+n])
	return travelOf(m, turn, float64(n)*period, x, before, after)
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
	flow := m.Displacement * turn * (1 - m.PumpLoss(turn, pCap, pRod))
	stored := sign * m.Compliance(c, x, math.Max(pCap, pRod)) * rise
	leakage := m.Leakage * (1 + m.LeakRise*math.Abs(turn/time))
	return (flow - leakage*(pCap-pRod)*time - stored) / m.Area.At(c)
}
