package flow

import (
	"fmt"
	"math"

	"eha/strokewise/ident/machine"
	"eha/strokewise/ident/plant"
	"eha/strokewise/ident/window"
)

const (
	// blindSpan is the half-width that compression and slip leave on a stroke per
	// turn found without pressures, as a share.
	blindSpan = 0.01
	// phiSpan is how closely the ratio of the two directions must agree with the
	// areas' to say which chamber carries.
	phiSpan = 0.04
)

// fitBlind fits the logs without pressures. Each direction has a ratio of its
// own and a constant speed lost, which holds slip at the unknown pressure:
//
//	dθ = r_d (dx + d f(x)) + n_d dt + τ dn
func fitBlind(logs []*means, m *machine.Machine) (*Stroke, error) {
	moves := thin(collectMoves(logs, 0), maxMoves)
	ratio, ok := roughRatio(moves)
	if !ok {
		return nil, ErrTooLittle
	}
	s := &Stroke{Travel: travelOf(moves, m)}
	s.Areas, s.AreasKnown = areasOf(m)
	s.Curve.From, s.Curve.To = span(moves)
	p := window.Problem{Y: make([]float64, len(moves)), Block: make([]int, len(moves))}
	add := func(prior window.Prior, value func(v move) float64) {
		c := make([]float64, len(moves))
		for i, v := range moves {
			c[i] = value(v)
		}
		p.X, p.Priors = append(p.X, c), append(p.Priors, prior)
	}
	for i, v := range moves {
		p.Y[i], p.Block[i] = v.turn, v.block
	}
	var seen []plant.Direction
	for _, d := range []plant.Direction{plant.Extend, plant.Retract} {
		if travelBy(moves, 0, d, math.Inf(-1), math.Inf(1)) < sideTravel*moveTime/meanTime {
			continue
		}
		seen = append(seen, d)
		only := func(v move, value float64) float64 {
			if v.travel()*d.Sign() > 0 {
				return value
			}
			return 0
		}
		add(window.Prior{}, func(v move) float64 { return only(v, v.travel()) })
		add(window.Prior{Sigma: 20}, func(v move) float64 { return only(v, v.duration) })
	}
	add(window.Prior{Sigma: 0.02}, func(v move) float64 { return v.speedGain })
	for j := range innerKnots {
		add(window.Prior{Sigma: curveSpan * s.Travel * ratio}, func(v move) float64 {
			return hat(s.Curve.From, s.Curve.To, j, v.to) - hat(s.Curve.From, s.Curve.To, j, v.from)
		})
	}
	fit, err := window.Solve(p)
	if err != nil {
		return nil, fmt.Errorf("%w: %w", ErrTooLittle, err)
	}
	s.takeBlind(fit, seen, ratio)
	s.blindEstimates(m)
	s.drawMap()
	var rates []float64
	for i, v := range moves {
		away := math.Abs(fit.Residual[i]) / ratio
		s.Map.ResidualWorst = math.Max(s.Map.ResidualWorst, away)
		rates = append(rates, away/v.duration)
	}
	s.MismatchRate = quantile(rates, 0.999)
	return s, nil
}

// takeBlind reads the coefficients in the order in which fitBlind made the columns.
func (s *Stroke) takeBlind(fit *window.Fit, seen []plant.Direction, ratio float64) {
	s.Curve.Add = make([]float64, innerKnots+2)
	after := 2 * len(seen)
	for j := range innerKnots {
		s.Curve.Add[j+1] = fit.Coef[after+1+j] / ratio
	}
	s.Delay = Number{fit.Coef[after], fit.Sigma(after)}
	unseen := s.Curve.RMS() / (s.Curve.To - s.Curve.From)
	for i, d := range seen {
		r, sigma := fit.Coef[2*i], fit.Sigma(2*i)
		sigma = math.Hypot(sigma/r, math.Hypot(unseen, blindSpan/1.96))
		s.PerTurn.Set(d, Number{1 / r, sigma / math.Abs(r)})
	}
}

// blindEstimates sets Params, and which chamber carries where the ratio of the
// two directions is that of the areas.
func (s *Stroke) blindEstimates(m *machine.Machine) {
	const from = "turns and travel by direction, pressures not logged"
	s.Params = map[plant.Param]plant.Estimate{
		plant.Slip:             plant.MissingFrom("press_hold"),
		plant.StrokePerTurnCap: plant.MissingFrom("slow_strokes"), plant.StrokePerTurnRod: plant.MissingFrom("slow_strokes"),
		plant.StrokePerTurnExtend: plant.MissingFrom("slow_strokes"), plant.StrokePerTurnRetract: plant.MissingFrom("slow_strokes"),
	}
	for d, p := range [...]plant.Param{plant.Extend: plant.StrokePerTurnExtend, plant.Retract: plant.StrokePerTurnRetract} {
		if n := s.PerTurn.At(plant.Direction(d)); n.Value != 0 {
			s.Params[p] = n.estimate(p, from)
		}
	}
	s.Params[plant.TransducerDelay] = s.blindDelay()
	s.Displacement = Number{Value: 1e-6}
	if m.Pump.Displacement > 0 {
		s.Displacement.Value = m.Pump.Displacement
	}
	s.blindCarrier(m)
	for _, side := range []int{1, -1} {
		n := s.carriedBy(side)
		if n.Value == 0 {
			continue
		}
		p := plant.StrokePerTurnCap
		if side < 0 {
			p = plant.StrokePerTurnRod
		}
		s.Params[p] = n.estimate(p, from+", chamber told from the ratio of the directions")
		if s.AreasKnown {
			s.Displacement = Number{n.Value * s.Areas.At(chamberOf(side)), n.Sigma * s.Areas.At(chamberOf(side))}
		}
	}
}

// carriedBy returns the travel per motor angle (m/rad) in the directions in which the
// side carries, zero where it carries in none. Where it is both, slip under the load
// parts them and the truth lies between.
func (s *Stroke) carriedBy(side int) Number {
	extend, retract := s.PerTurn.Extend, s.PerTurn.Retract
	switch {
	case s.Carrier.Extend == side && s.Carrier.Retract == side:
		return Number{(extend.Value + retract.Value) / 2, max(extend.Sigma, retract.Sigma, math.Abs(extend.Value-retract.Value)/4)}
	case s.Carrier.Extend == side:
		return extend
	case s.Carrier.Retract == side:
		return retract
	}
	return Number{}
}

// blindDelay judges the delay found without pressures. It holds the lag of the
// oil too, 2ζ/ω, and so is the most that the transducer's may be.
func (s *Stroke) blindDelay() plant.Estimate {
	most := s.Delay.Value + 2*s.Delay.Sigma
	if !(most > 0) || s.Delay.Sigma > 0.01 {
		s.Delay = Number{}
		return plant.MissingFrom("speed_steps")
	}
	s.Delay = Number{most / 2, most / 4}
	e := plant.TransducerDelay.Found(most/2, 0, most, "rod position against motor turns, with the lag of the oil in it")
	e.Status = plant.Weak
	return e
}

// blindCarrier tells the chambers from the ratio of the directions, or from the
// nameplate's displacement where both directions have one ratio.
func (s *Stroke) blindCarrier(m *machine.Machine) {
	out, in := s.PerTurn.Extend.Value, s.PerTurn.Retract.Value
	if !s.AreasKnown || out <= 0 || in <= 0 {
		return
	}
	phi := s.Areas.Rod / s.Areas.Cap
	near := func(a, b float64) bool { return math.Abs(a/b-1) < phiSpan }
	switch d := m.Pump.Displacement; {
	case near(out/in, phi):
		s.Carrier = plant.PerDirection[int]{Extend: 1, Retract: -1}
	case near(in/out, phi):
		s.Carrier = plant.PerDirection[int]{Extend: -1, Retract: 1}
	case near(out, in) && d > 0 && near(out, d/s.Areas.Cap):
		s.Carrier = plant.PerDirection[int]{Extend: 1, Retract: 1}
	case near(out, in) && d > 0 && near(out, d/s.Areas.Rod):
		s.Carrier = plant.PerDirection[int]{Extend: -1, Retract: -1}
	}
}
