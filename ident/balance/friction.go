package balance

import (
	"fmt"
	"math"

	"eha/strokewise/ident/plant"
	"eha/strokewise/ident/window"
)

const (
	// Friction is a straight line over speed between these shares of full speed:
	// below, seals stick; above, lines throttle.
	lineLow, lineHigh = 0.08, 0.75
	// lineWidth (s) of the windows: long, since steady friction needs no detail.
	lineWidth = 0.120
	// offsetSigma is the standard deviation (Pa) of a pressure sensor's offset,
	// a usual industrial sensor (common practice, no source).
	offsetSigma = 1e5
)

// frictionLine fits Coulomb and viscous friction and the load; nil where
// there is too little travel.
func (s *survey) frictionLine(res *Result) *line {
	a := s.collect(lineWidth, lineLow*s.full, lineHigh*s.full)
	l, err := a.fitBalance(true)
	if err != nil {
		return nil
	}
	from := fmt.Sprintf("balance of forces in %d windows in motion", len(a.force))
	slow, fast := speedRange(a.speed)
	b, sigma := l.coef(speed), l.sigma(speed)
	half := 1.96*1.5*sigma + 0.01*math.Abs(b)
	if fast > 2*slow && b > -half {
		res.Viscous = plant.ViscousFriction.Found(b, b-half, b+half, from)
		weaken(&res.Viscous, fast < 3*slow)
	}
	load := -l.coef(constant) // the mean over the travel: the other terms have none
	half = 1.96 * 1.5 * l.sigma(constant)
	if _, both := l.index[sign]; !both {
		res.Warnings = append(res.Warnings, "travel in one direction only: friction and load cannot be told apart")
		return l
	}
	res.Load = plant.AxialLoad.Found(load, load-half, load+half, from)
	fc := l.coef(sign)
	half = 1.96*1.5*l.sigma(sign) + 0.005*math.Abs(fc)
	if fc > -half {
		res.Coulomb = plant.CoulombFriction.Found(fc, fc-half, fc+half, from)
	}
	return l
}

// weaken lowers an identified estimate to weak where the condition holds.
func weaken(e *plant.Estimate, condition bool) {
	if condition && e.Status == plant.Identified {
		e.Status = plant.Weak
	}
}

// speedRange returns the 5 % and 95 % points of the speeds' magnitude.
func speedRange(v []float64) (slow, fast float64) {
	sorted := sortedMagnitude(v)
	n := len(sorted) - 1
	return sorted[n/20], sorted[n-n/20]
}

// offsetDoubt widens the load's interval by what the pressure sensors' offsets
// may add to it; no log can part the two.
func (r *Result) offsetDoubt(area plant.PerChamber[float64]) {
	if !r.Load.Known() {
		return
	}
	sigma := offsetSigma * math.Hypot(area.Cap, area.Rod)
	half := math.Hypot(r.Load.HalfWidth(), 2*sigma)
	r.Load.Low, r.Load.High = r.Load.Value-half, r.Load.Value+half
	r.Load.Status = plant.Identified
	weaken(&r.Load, math.Abs(r.Load.Value) < 5*sigma)
}

// lineLoss fits the part of the force that grows with speed squared,
//
//	F = ... + c·x'·|x'|
//
// and turns it into the pressure that the same line on each port loses at full
// flow Q: with p = R·Q², c = R·(A_cap³ + A_rod³). Friction that bends with speed
// lands in it too; without taps at the chambers nothing parts them, so it is weak at best.
func (s *survey) lineLoss(res *Result, known Known) {
	a := s.collect(lineWidth, lineLow*s.full, math.Inf(1))
	slow, fast := speedRange(a.speed)
	if fast < 3*slow || !a.bothWays() {
		return
	}
	terms := append(a.balanceTerms(true), square)
	size := rms(a.force)
	l, err := a.solve(terms, map[term]window.Prior{slope: {Sigma: 0.5 * size}, bend: {Sigma: 0.5 * size}})
	if err != nil {
		return
	}
	flow := known.Displacement * known.MaxSpeed
	if flow <= 0 {
		flow = s.full * known.Area.Cap
	}
	toPressure := flow * flow / (math.Pow(known.Area.Cap, 3) + math.Pow(known.Area.Rod, 3))
	loss := l.coef(square) * toPressure
	half := 2*1.96*l.sigma(square)*toPressure + 0.2*math.Abs(loss)
	if loss < -half {
		loss = 0 // friction bends the other way; the interval below still holds what was found
	}
	res.LineLoss = plant.LineLoss.Found(math.Max(loss, 0), math.Max(loss-half, 0), math.Max(loss, 0)+half,
		"force growing with speed squared; joins friction that does the same")
	weaken(&res.LineLoss, true)
}
