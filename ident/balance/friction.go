package balance

import (
	"fmt"
	"math"

	"eha/strokewise/ident/plant"
)

const (
	// lineLow is the share of full speed above which friction is a straight line
	// over speed: below, seals stick.
	lineLow = 0.08
	// lineLowFirst is a share from which on hardly any seal sticks.
	lineLowFirst = 0.2
	// lineLowMost is how far that share may be raised on machines whose seals stick
	// up to stickingSpeeds times the speed at which friction rises.
	lineLowMost, stickingSpeeds = 0.3, 4
	// wideRange is the ratio of speeds that parts Coulomb from viscous friction.
	wideRange = 2
	// lineWidth (s) of the windows: long, since steady friction needs no detail.
	lineWidth = 0.120
	// frictionInflation is the factor on the fit's own intervals, found on
	// simulated machines to cover 95 % of unlike ones; what friction does besides
	// following the line adds coulombDoubt and viscousDoubt, shares of the value.
	frictionInflation          = 1.15
	coulombDoubt, viscousDoubt = 0.0004, 0.001
	// bentShare is the share that counts of what the line changes by from twice the speed on.
	bentShare = 1.0
	// offsetSigma is the standard deviation (Pa) of a pressure sensor's offset,
	// a usual industrial sensor (common practice, no source).
	offsetSigma = 0.8e5
)

// friction fits the straight line of friction over speed: first from so high a
// speed on that no seal sticks there, to see against it up to what speed they do, then from there on.
func (s *survey) friction(res *Result) *line {
	s.low = lineLowFirst * s.full
	l := s.line()
	if l == nil {
		s.low = lineLow * s.full
		l = s.line()
	}
	if l == nil {
		return nil
	}
	s.curves(res, l)
	r, found := lowSpeedRise(res.Friction, l, 2*lineLow*s.full)
	low := lineLow * s.full
	if found {
		low = math.Min(math.Max(stickingSpeeds*r.stribeck, low), lineLowMost*s.full)
	}
	if low != s.low {
		s.low = low
		if again := s.line(); again != nil {
			l = again
			s.curves(res, l)
		}
	}
	s.frictionEstimates(res, l, s.bent(l))
	return l
}

// bent returns by how much Coulomb (N) and viscous friction (N·s/m) change beyond
// their deviations where the line is drawn from twice the speed on: seals whose
// friction falls slower than assumed, or a loss of another power than the
// second, bend the line, and the residuals hardly show it.
func (s *survey) bent(l *line) (doubt struct{ coulomb, viscous float64 }) {
	low := s.low
	s.low = math.Min(2*low, lineLowMost*s.full)
	defer func() { s.low = low }()
	faster := s.line()
	if s.low <= low || faster == nil {
		return doubt
	}
	beyond := func(t term) float64 {
		d, sigma := faster.coef(t)-l.coef(t), faster.sigma(t)
		return math.Sqrt(math.Max(d*d-sigma*sigma, 0))
	}
	doubt.coulomb, doubt.viscous = beyond(sign), beyond(speed)
	return doubt
}

// line fits the balance to all windows faster than s.low; nil where these are too few.
func (s *survey) line() *line {
	l, err := s.collect(lineWidth, s.low, math.Inf(1)).fitBalance(s)
	if err != nil {
		return nil
	}
	return l
}

// frictionEstimates sets Coulomb and viscous friction and the load.
func (s *survey) frictionEstimates(res *Result, l *line, bent struct{ coulomb, viscous float64 }) {
	a := l.rows
	from := fmt.Sprintf("balance of forces in %d windows in motion", len(a.force))
	slow, fast := speedRange(a.speed)
	wider, tooFew := l.few()
	wider *= 1.96 * frictionInflation
	b := l.coef(speed)
	half := math.Hypot(wider*l.sigma(speed), bentShare*bent.viscous) + viscousDoubt*math.Abs(b)
	if fast > 2*slow && b > -half {
		res.Viscous = plant.ViscousFriction.Found(b, b-half, b+half, from)
		weaken(&res.Viscous, tooFew || fast < wideRange*slow)
	}
	load := -l.coef(constant) // the mean over the travel: the other terms have none
	half = wider * l.sigma(constant)
	if _, both := l.index[sign]; !both {
		res.Warnings = append(res.Warnings, "travel in one direction only: friction and load cannot be told apart")
		return
	}
	res.Load = plant.AxialLoad.Found(load, load-half, load+half, from)
	fc := l.coef(sign)
	half = math.Hypot(wider*l.sigma(sign), bentShare*bent.coulomb) + coulombDoubt*math.Abs(fc)
	if fc > -half {
		res.Coulomb = plant.CoulombFriction.Found(fc, fc-half, fc+half, from)
		weaken(&res.Coulomb, tooFew || fast < wideRange*slow)
	}
}

// loadBehind takes out of viscous friction what the load's slope along the travel
// puts in: read by a position that lags δ behind the force, a load l(x) looks like
// l'·δ·v. Where the delay is not known, that much is in doubt.
func (s *survey) loadBehind(res *Result, l *line) {
	if !res.Viscous.Known() {
		return
	}
	slope := l.coef(slope) / s.reach
	lag, half := 0.0, 1.96*lagSigma
	if res.Lag.Known() {
		lag, half = res.Lag.Value, res.Lag.HalfWidth()
	}
	b, wide := res.Viscous.Value-slope*lag, math.Hypot(res.Viscous.HalfWidth(), slope*half)
	status := res.Viscous.Status
	res.Viscous = plant.ViscousFriction.Found(b, b-wide, b+wide, res.Viscous.From)
	weaken(&res.Viscous, status == plant.Weak)
}

// weaken lowers an identified estimate to weak where the condition holds.
func weaken(e *plant.Estimate, condition bool) {
	if condition && e.Status == plant.Identified {
		e.Status = plant.Weak
	}
}

// speedRange returns the 2 % and 98 % points of the speeds' magnitude.
func speedRange(v []float64) (slow, fast float64) {
	sorted := sortedMagnitude(v)
	n := len(sorted) - 1
	return sorted[n/50], sorted[n-n/50]
}

// offsetDoubt widens the load's interval by what the pressure sensors' offsets
// may add to it; no log can part the two.
func (r *Result) offsetDoubt(area plant.PerChamber[float64]) {
	if !r.Load.Known() {
		return
	}
	sigma := offsetSigma * math.Hypot(area.Cap, area.Rod)
	half := math.Hypot(r.Load.HalfWidth(), 1.96*sigma)
	r.Load.Low, r.Load.High = r.Load.Value-half, r.Load.Value+half
	r.Load.Status = plant.Identified
	weaken(&r.Load, math.Abs(r.Load.Value) < 5*sigma)
}
