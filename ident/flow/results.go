package flow

import (
	"fmt"
	"math"

	"eha/strokewise/ident/machine"
	"eha/strokewise/ident/plant"
)

const (
	// slipInflation and slipFloor widen the regression's interval of slip to what
	// the spread over simulated machines asks for: its model knows neither
	// speed nor temperature.
	slipInflation = 1.5
	slipFloor     = 0.03
	// slipWeak is the relative half-width beyond which slip is called weak.
	slipWeak = 0.15
	// lowAcross is the mean pressure across the pump (Pa) under which the sensors' offsets rule slip.
	lowAcross = 10e5
)

// ratios sets PerTurn: D/A of the chamber that carries in each direction.
func (s *Stroke) ratios(t *turns) {
	for _, d := range []plant.Direction{plant.Extend, plant.Retract} {
		if side := s.Carrier.At(d); side != 0 {
			if n, ok := s.perTurn(t, chamberOf(side)); ok {
				s.PerTurn.Set(d, n)
			}
		}
	}
}

// perTurn returns the travel per turn (m/rad) while the chamber carries.
func (s *Stroke) perTurn(t *turns, c plant.Chamber) (Number, bool) {
	r, ok := t.ratioOf(c)
	if !ok {
		return Number{}, false
	}
	return Number{1 / r.Value, s.ratioSigma(t, r) / (r.Value * r.Value)}, true
}

// estimates sets Params.
func (s *Stroke) estimates(t *turns, m *machine.Machine) {
	s.Params = map[plant.Param]plant.Estimate{}
	from := fmt.Sprintf("%.0f s of travel and holding with one chamber under pressure", t.time)
	for c, p := range map[plant.Chamber]plant.Param{plant.Cap: plant.StrokePerTurnCap, plant.Rod: plant.StrokePerTurnRod} {
		if n, ok := s.perTurn(t, c); ok {
			s.Params[p] = n.estimate(p, from)
		} else {
			s.Params[p] = plant.MissingFrom("slow_strokes")
		}
	}
	for d, p := range map[plant.Direction]plant.Param{plant.Extend: plant.StrokePerTurnExtend, plant.Retract: plant.StrokePerTurnRetract} {
		if n := s.PerTurn.At(d); n.Value != 0 {
			s.Params[p] = n.estimate(p, from)
		} else {
			s.Params[p] = plant.MissingFrom("slow_strokes")
		}
	}
	s.spanMixed(t)
	s.weakenPerTurn(t)
	s.Params[plant.Slip] = s.slipEstimate(t)
	s.Params[plant.TransducerDelay] = s.delayEstimate()
	s.nameplate(m)
}

// spanMixed widens a direction's ratio to both chambers' where either carries in it.
func (s *Stroke) spanMixed(t *turns) {
	for d, p := range map[plant.Direction]plant.Param{plant.Extend: plant.StrokePerTurnExtend, plant.Retract: plant.StrokePerTurnRetract} {
		e := s.Params[p]
		side := s.Carrier.At(d)
		if !s.mixed.At(d) || !e.Known() || side == 0 {
			continue
		}
		if other, ok := s.perTurn(t, chamberOf(-side)); ok {
			e.Low, e.High = min(e.Low, other.Value), max(e.High, other.Value)
			e.Status = plant.Weak
			e.From += "; either side carries the load that way"
			s.Params[p] = e
		}
	}
}

// weakenPerTurn calls the ratios weak if they were found on a small part of the stroke.
func (s *Stroke) weakenPerTurn(t *turns) {
	low, high := span(t.moves)
	if high-low >= 0.3*s.Travel {
		return
	}
	for _, p := range []plant.Param{plant.StrokePerTurnExtend, plant.StrokePerTurnRetract, plant.StrokePerTurnCap, plant.StrokePerTurnRod} {
		if e := s.Params[p]; e.Status == plant.Identified {
			e.Status = plant.Weak
			e.From += fmt.Sprintf(", on %.0f %% of the stroke only", 100*(high-low)/s.Travel)
			s.Params[p] = e
		}
	}
}

// slipEstimate widens the regression's slip and judges it.
func (s *Stroke) slipEstimate(t *turns) plant.Estimate {
	n := s.Slip
	half := slipInflation*1.96*n.Sigma + slipFloor*math.Abs(n.Value)
	s.Slip.Sigma = half / 1.96
	if n.Value <= 0 || half > 2*n.Value {
		return plant.MissingFrom("press_hold")
	}
	from := "turns lost at different pressures and speeds"
	if w := s.Thinning; w.PerKelvin.Known() {
		from += fmt.Sprintf(", at %.0f °C; %+.1f %% per K (%.1f to %.1f)", w.Temperature-273.15, 100*w.PerKelvin.Value, 100*w.PerKelvin.Low, 100*w.PerKelvin.High)
	}
	e := plant.Slip.Found(n.Value, n.Value-half, n.Value+half, from)
	if half > slipWeak*n.Value || t.across() < lowAcross {
		e.Status = plant.Weak
	}
	return e
}

// delayEstimate judges the transducer's delay; clocks that disagree land in it too.
func (s *Stroke) delayEstimate() plant.Estimate {
	n := s.Delay
	if n.Sigma > 0.01 {
		return plant.MissingFrom("speed_steps")
	}
	const floor = 3e-4 / 2 // s: the regression's own error on simulated machines
	n.Sigma = math.Hypot(n.Sigma, floor)
	s.Delay = n
	return n.estimate(plant.TransducerDelay, "rod position against motor turns while the speed changes")
}

// nameplate warns where displacement or areas of the machine file disagree with the logs.
func (s *Stroke) nameplate(m *machine.Machine) {
	if !s.AreasKnown || m.Pump.Displacement <= 0 {
		return
	}
	if ratio := s.Displacement.Value / m.Pump.Displacement; math.Abs(ratio-1) > 0.1 {
		s.Warnings = append(s.Warnings, fmt.Sprintf("nameplate: turns and travel give a displacement %.2f times that of the machine file: check bore, rod, displacement and the units of the logs", ratio))
	}
}

// mapPoints is how many positions the stroke map has.
const mapPoints = 41

// drawMap sets the stroke map from ratios and curve, as the transducer reads travel.
func (s *Stroke) drawMap() {
	for i := range mapPoints {
		x := s.Curve.From + (s.Curve.To-s.Curve.From)*float64(i)/(mapPoints-1)
		stretch := 1 / (1 + s.Curve.Slope(x))
		s.Map.Position = append(s.Map.Position, x)
		s.Map.PerTurn.Extend = append(s.Map.PerTurn.Extend, s.PerTurn.Extend.Value*stretch)
		s.Map.PerTurn.Retract = append(s.Map.PerTurn.Retract, s.PerTurn.Retract.Value*stretch)
		s.Map.TransducerCurve = append(s.Map.TransducerCurve, -s.Curve.At(x))
	}
}

// evidence sets the residuals' figures and the slip points of the plot.
func (s *Stroke) evidence(t *turns) {
	type bin struct{ across, lost, count float64 }
	bins := map[int]*bin{}
	var rates []float64
	for i, v := range t.moves {
		away := math.Abs(t.fit.Residual[i]) / t.ratio.At(chamberOf(v.side))
		s.Map.ResidualWorst = math.Max(s.Map.ResidualWorst, away)
		rates = append(rates, away/v.duration)
		if v.side == 0 {
			continue
		}
		k := int(math.Floor(v.across / 2.5e5))
		if bins[k] == nil {
			bins[k] = &bin{}
		}
		bins[k].across += v.across
		bins[k].lost += s.Slip.Value*v.across + t.fit.Residual[i]/v.duration
		bins[k].count++
	}
	s.MismatchRate = quantile(rates, 0.999)
	for k := -400; k <= 400; k++ {
		if b := bins[k]; b != nil && b.count >= 5 {
			s.SlipPoints = append(s.SlipPoints, plant.Point{X: b.across / b.count, Y: b.lost / b.count})
		}
	}
}
