package lostmotion

import (
	"math"

	"eha/strokewise/ident/motion"
	"eha/strokewise/ident/plant"
	"eha/strokewise/ident/trace"
)

const (
	// openAcross is the pressure (Pa) that the other side must be higher by for
	// the valve to clamp a side to the reservoir: springs of some 1 to 3 bar are
	// usual (common practice, no source).
	openAcross = 2e5
	// steps is how many it would take with both chambers free; with one of them held
	// it takes more, and mostSteps ends a calculation that does not arrive.
	steps, mostSteps = 400, 40 * 400
	// travelDoubt and openDoubt are the factors, less one, that what is calculated from
	// forces and oil alone may be off by, the latter where valves may stand half open.
	travelDoubt, openDoubt = 0.3, 1.0
)

// calculable reports whether all that crossing needs is known.
func (k Known) calculable() bool {
	return k.Oil != nil && k.Displacement > 0 && k.Area.Cap > 0 && k.Area.Rod > 0 && k.Stroke > 0
}

// toMiddle finds, for each place, the factor that the oil gives between there and
// mid-stroke.
func (res *Result) toMiddle(known Known) {
	if !known.calculable() {
		return
	}
	for i := range res.Places {
		p := &res.Places[i]
		if there := crossing(p.start, p.After, p.direction, known.Stroke/2, known); there > 0 && p.Calculated > 0 {
			p.toMiddle = there / p.Calculated
		}
	}
}

// fromTravel calculates the lost motion at mid-stroke from the forces of slow
// travel in both directions, the low side at the lowest pressure of the logs.
func (res *Result) fromTravel(logs []Log, known Known) {
	low, ok := lowSide(logs)
	if !ok || !known.calculable() || known.FreeForce == nil {
		return
	}
	extend, retract := held(known.FreeForce.Extend, low, known), held(known.FreeForce.Retract, low, known)
	forward := crossing(retract, known.FreeForce.Extend, 1, known.Stroke/2, known)
	back := crossing(extend, known.FreeForce.Retract, -1, known.Stroke/2, known)
	if forward <= 0 || back <= 0 {
		return
	}
	value, doubt := (forward+back)/2, travelDoubt
	if halfOpenBetween(extend, retract) {
		doubt = openDoubt
	}
	res.LostMotion = plant.LostMotion.Found(value, value/(1+doubt), value*(1+doubt),
		"oil compressed between the forces of travel both ways; log reversals to see it")
	if res.LostMotion.Status == plant.Identified {
		res.LostMotion.Status = plant.Weak // play would not show
	}
}

// held returns the pressures (Pa) at a hydraulic force (N) with the other side at the low one.
func held(force, low float64, known Known) plant.PerChamber[float64] {
	p := plant.PerChamber[float64]{Cap: (force + low*known.Area.Rod) / known.Area.Cap, Rod: low}
	if p.Cap < low {
		p = plant.PerChamber[float64]{Cap: low, Rod: (low*known.Area.Cap - force) / known.Area.Rod}
	}
	return p
}

// lowSide returns the median of the lower of both pressures (Pa) while the rod travels.
func lowSide(logs []Log) (low float64, ok bool) {
	var lows, weights []float64
	for _, l := range logs {
		p1, ok1 := l.Trace.Samples(trace.CapPressure)
		p2, ok2 := l.Trace.Samples(trace.RodPressure)
		if !ok1 || !ok2 {
			continue
		}
		for _, s := range l.Segments {
			if s.Kind == motion.Steady || s.Kind == motion.Accelerating {
				lows = append(lows, math.Min(mean(p1[s.Span.From:s.Span.To]), mean(p2[s.Span.From:s.Span.To])))
				weights = append(weights, float64(s.Span.Len()))
			}
		}
	}
	return weightedMedian(lows, weights), len(lows) > 0
}

// crossing returns the motor angle (rad) that takes the chambers from the
// pressures p to the hydraulic force (N), the rod standing at x (m):
//
//	dp_cap = D·dθ/C_cap,  dp_rod = -D·dθ/C_rod
//
// with a side held at the reservoir's pressure while the other is higher by
// openAcross, or where it would fall below it. It returns 0 where the force is not reached.
func crossing(p plant.PerChamber[float64], force, direction, x float64, known Known) float64 {
	low := math.Min(p.Cap, p.Rod)
	c1 := func(p float64) float64 { return known.Oil.Cap.Compliance(known.Area.Cap*math.Max(x, 0), p) }
	c2 := func(p float64) float64 {
		return known.Oil.Rod.Compliance(known.Area.Rod*math.Max(known.Stroke-x, 0), p)
	}
	hydraulic := func() float64 { return known.Area.Cap*p.Cap - known.Area.Rod*p.Rod }
	if direction*(force-hydraulic()) <= 0 {
		return 0
	}
	need := math.Abs(force - hydraulic())
	// A step is a small part of what both chambers together would take.
	step := need / (known.Displacement * (known.Area.Cap/c1(p.Cap) + known.Area.Rod/c2(p.Rod))) / steps
	if !(step > 0) {
		return 0
	}
	for k := range mostSteps {
		if direction*(force-hydraulic()) <= 0 {
			return float64(k) * step
		}
		volume := direction * known.Displacement * step
		held := plant.PerChamber[bool]{Cap: p.Cap <= low && p.Rod > p.Cap+openAcross, Rod: p.Rod <= low && p.Cap > p.Rod+openAcross}
		if !held.Cap {
			p.Cap = math.Max(p.Cap+volume/c1(p.Cap), low)
		}
		if !held.Rod {
			p.Rod = math.Max(p.Rod-volume/c2(p.Rod), low)
		}
	}
	return 0
}
