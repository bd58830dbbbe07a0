package balance

import (
	"math"

	"eha/strokewise/ident/plant"
)

// leastLoss (Pa at full flow) is the line loss that friction is fitted with:
// less than the sensors' own doubt changes nothing.
const leastLoss = 0.1e5

// lineLoss fits the part of the force that grows with the pump's flow squared,
//
//	F = ... + c·n·|n|,  c = R·D²·(A_cap + A_rod)
//
// with one resistance R (Pa per (m³/s)²) between pump and cylinder on either
// side, and returns R at full flow. Friction that bends with speed lands in it
// too: without sensors at both ends of a line nothing parts them, so it is weak at
// best. Where it is clearly there, mass and friction are fitted beside it.
func (s *survey) lineLoss(res *Result, known Known) {
	a := s.collect(lineWidth, lineLow*s.full, math.Inf(1))
	if len(a.force) == 0 || len(a.flow) != len(a.force) || !a.bothWays() {
		return
	}
	if slow, fast := speedRange(a.speed); fast < 3*slow {
		return
	}
	l, err := a.fitBalance(slope, bend, flow)
	if err != nil {
		return
	}
	top := known.MaxSpeed
	if top <= 0 {
		top = math.Sqrt(sortedMagnitude(a.flow)[len(a.flow)-1])
	}
	toPressure := top * top / (known.Area.Cap + known.Area.Rod)
	loss, sigma := l.coef(flow)*toPressure, l.sigma(flow)*toPressure
	half := 1.96*1.5*sigma + 0.2*math.Abs(loss)
	if loss > 4*sigma && loss > leastLoss {
		s.terms = append(s.terms, flow)
	}
	// Friction that bends the other way shows as a negative loss.
	res.LineLoss = plant.LineLoss.Found(math.Max(loss, 0), math.Max(loss-half, 0), math.Max(loss, 0)+half,
		"force growing with flow squared; friction that does the same is in it")
	weaken(&res.LineLoss, true)
}
