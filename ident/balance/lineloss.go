package balance

import (
	"math"

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
