package balance

import (
	"math"

	"gonum.org/v1/gonum/stat/distuv"

	"eha/strokewise/ident/plant"
)

// lossSigma is the standard deviation (Pa at full flow) of the line loss that is
// expected before it is fitted: none for a pump on the cylinder, a few bar
// through hoses (common practice, no source).
const lossSigma = 1.5e5

// line loss is the part of the force that grows with the pump's flow squared,
//
//	F = ... + c·n·|n|,  c = R·D²·(A_cap + A_rod)
//
// with one resistance R (Pa per (m³/s)²) between pump and cylinder on either
// side. It is always fitted beside friction, since it would pass for viscous
// friction otherwise. lossPerCoef returns what turns c into the pressure lost at full flow.
func (s *survey) lossPerCoef(known Known) float64 {
	top := known.MaxSpeed
	if top <= 0 {
		for _, r := range s.records {
			top = math.Max(top, r.topSpeed())
		}
	}
	return top * top / (known.Area.Cap + known.Area.Rod)
}

// expectLoss adds the line loss to the terms where every log has an encoder.
func (s *survey) expectLoss(known Known) {
	for _, r := range s.records {
		if r.angle == nil {
			return
		}
	}
	if per := s.lossPerCoef(known); per > 0 {
		s.terms = append(s.terms, flow)
		s.flowSigma = lossSigma / per
	}
}

// boundLoss takes into the fit that a line loses no pressure backwards, and that a
// pump on the cylinder has no line: before the logs speak, even odds on a
// coefficient c of none and on a half-normal one of the survey's standard
// deviation τ. With ĉ ± s as fitted under N(0, τ²), the odds on none become
//
//	φ(ĉ/s)/(s·Φ(ĉ/s)) : 2·φ(0)/τ
//
// by the Savage-Dickey ratio of densities (J. M. Dickey, Annals of Mathematical
// Statistics 42, 1971, pp. 204-223; value from memory). All other coefficients
// follow c by their covariance with it.
func (l *line) boundLoss(tau float64) {
	k, fitted := l.index[flow]
	s := l.sigma(flow)
	if !fitted || s == 0 || tau == 0 {
		return
	}
	s *= frictionInflation
	n := distuv.UnitNormal
	z := l.coef(flow) / s
	above := math.Max(n.CDF(z), 1e-12)
	// Mean and variance of what lies above zero.
	ratio := n.Prob(z) / above
	mean, variance := s*(z+ratio), s*s*(1-ratio*(z+ratio))
	odds := n.Prob(z) / (s * above) / (2 * n.Prob(0) / tau)
	some := 1 / (1 + odds)
	variance = some*(variance+mean*mean) - some*some*mean*mean
	mean *= some
	m := len(l.fit.Coef)
	gain := make([]float64, m)
	for j := range gain {
		gain[j] = l.fit.Cov.At(j, k) / l.fit.Cov.At(k, k)
	}
	change, less := mean-l.coef(flow), variance/(frictionInflation*frictionInflation)-l.fit.Cov.At(k, k)
	for i := range m {
		l.fit.Coef[i] += gain[i] * change
		for j := i; j < m; j++ {
			l.fit.Cov.SetSym(i, j, l.fit.Cov.At(i, j)+gain[i]*gain[j]*less)
		}
	}
}

// topSpeed returns the largest motor speed over a few milliseconds (rad/s).
func (r *record) topSpeed() float64 {
	top := 0.0
	for _, n := range r.motorSpeed() {
		top = math.Max(top, math.Abs(n))
	}
	return top
}

// lineLoss fills in the loss at full flow. Friction that bends with speed lands
// in it too; without sensors at both ends of a line nothing parts them, so it is
// weak at best.
func (s *survey) lineLoss(res *Result, l *line, known Known) {
	if _, fitted := l.index[flow]; !fitted {
		return
	}
	slow, fast := speedRange(l.rows.speed)
	if fast < wideRange*slow || !l.rows.bothWays() {
		return
	}
	per := s.lossPerCoef(known)
	loss := l.coef(flow) * per
	half := 1.96*frictionInflation*l.sigma(flow)*per + 0.1*math.Abs(loss)
	// Friction that bends the other way shows as a negative loss.
	res.LineLoss = plant.LineLoss.Found(math.Max(loss, 0), math.Max(loss-half, 0), math.Max(loss, 0)+half,
		"force growing with flow squared; friction that does the same is in it")
	weaken(&res.LineLoss, true)
}
