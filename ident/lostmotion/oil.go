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

// calculate fills in the angle calculated from the oil and the factor to mid-stroke.
func (p *Place) calculate(before, after branch, direction float64, known Known) {
	if known.Oil == nil || known.Displacement <= 0 || known.Area.Cap <= 0 || known.Stroke <= 0 || before.p.Cap == before.p.Rod {
		return
	}
	here := crossing(before.p, after.force, direction, p.Position, known)
	middle := crossing(before.p, after.force, direction, known.Stroke/2, known)
	if here > 0 && middle > 0 {
		p.Calculated, p.toMiddle = here, middle/here
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
