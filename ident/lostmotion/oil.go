package lostmotion

import (
	"math"

	"eha/strokewise/ident/plant"
)

const (
	// openAcross is the pressure (Pa) that the other side must be higher by for
	// the valve to clamp a side to the reservoir (common practice, no source).
	openAcross = 4e5
	// mostTurns (rad) ends a calculation that does not arrive.
	mostTurns = 2 * math.Pi * 20
	steps     = 400
)

// calculable reports whether all that crossing needs is known.
func (k Known) calculable() bool {
	return k.Oil != nil && k.Displacement > 0 && k.Area.Cap > 0 && k.Area.Rod > 0 && k.Stroke > 0
}

// toMiddle finds, for each place, the factor that the oil gives between there and
// the place that the result is for.
func (res *Result) toMiddle(known Known) {
	if !known.calculable() {
		return
	}
	low, high := math.Inf(1), math.Inf(-1)
	for _, p := range res.Places {
		low, high = math.Min(low, p.Position), math.Max(high, p.Position)
	}
	target := math.Min(math.Max(known.Stroke/2, low), high)
	for i := range res.Places {
		p := &res.Places[i]
		if there := crossing(p.start, p.After, p.direction, target, known); there > 0 && p.Calculated > 0 {
			p.toMiddle = there / p.Calculated
		}
	}
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
	for turned := 0.0; turned < mostTurns; turned += step {
		if direction*(force-hydraulic()) <= 0 {
			return turned
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
