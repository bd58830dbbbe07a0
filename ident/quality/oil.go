package quality

import (
	"fmt"
	"math"

	"eha/strokewise/ident/motion"
	"eha/strokewise/ident/plant"
	"eha/strokewise/ident/trace"
)

// Oil of the usual viscosity classes is several times thicker below some 20 degC
// than at 40 degC: slip and friction found there do not hold for a warm machine; 10 K of
// warming change viscosity by a third to a half (common practice, no source).
const (
	coldOil     = 273.15 + 20
	warmingSpan = 8.0 // K
)

// oil judges the temperature and looks for drift along the log.
func (v *view) oil() []Finding {
	affects := join([]plant.Param{plant.Slip}, forceParams[:2], oilParams)
	var found []Finding
	if temp := v.frame[trace.OilTemperature]; temp != nil {
		low, high := quantile(temp, 0.01), quantile(temp, 0.99)
		switch {
		case low < 273.15-45 || high > 273.15+150:
			found = append(found, v.finding(UnitDoubtful, Note, trace.OilTemperature, nil,
				fmt.Sprintf("oil temperature reads %s to %s.", inUnit(trace.OilTemperature, low), inUnit(trace.OilTemperature, high)),
				"Check the unit of oil_temperature."))
			return found
		case low < coldOil:
			found = append(found, v.finding(ColdOil, Harm, trace.OilTemperature, affects,
				fmt.Sprintf("the oil is cold: %s at least, %s at most.", inUnit(trace.OilTemperature, low), inUnit(trace.OilTemperature, high)),
				"Run the machine warm and log again: slip and friction will be others."))
		}
		if high-low > warmingSpan {
			found = append(found, v.finding(WarmingUp, Harm, trace.OilTemperature, affects,
				fmt.Sprintf("the oil warms from %s to %s along the log.", inUnit(trace.OilTemperature, low), inUnit(trace.OilTemperature, high)),
				"Log again at working temperature, or take slip and friction as means."))
			return found
		}
	}
	if drift := v.slipDrift(affects); len(drift) > 0 {
		return append(found, drift...)
	}
	return append(found, v.frictionDrift(affects)...)
}

// frictionDrift compares slow strokes at the beginning of the log with later ones
// of the same speed: pressure under way up less under way down, of both sides together. A
// drift beyond a fifth is more than runs of one warm machine differ.
func (v *view) frictionDrift(affects []plant.Param) []Finding {
	p1, p2 := v.frame[trace.CapPressure], v.frame[trace.RodPressure]
	areaCap, areaRod := v.areas()
	if p1 == nil || p2 == nil || areaRod <= 0 {
		return nil
	}
	type pair struct{ at, force, speed float64 }
	var pairs []pair
	var last motion.Segment
	have := false
	force := func(k int) float64 { return p1[k]*areaCap - p2[k]*areaRod }
	strokes := v.motion.Spans(motion.SlowStrokes)
	for _, s := range v.motion.Segments {
		if s.Kind != motion.Steady || !within(s.Span, strokes) {
			continue
		}
		if have && s.MotorSpeed*last.MotorSpeed < 0 && math.Abs(s.MotorSpeed+last.MotorSpeed) < 0.05*math.Abs(s.MotorSpeed) {
			if rubs, ok := v.halfDifference(last.Span, s.Span, force); ok {
				pairs = append(pairs, pair{v.t.TimeAt(last.Span.From), rubs, math.Abs(s.MotorSpeed)})
			}
			have = false
			continue
		}
		last, have = s, true
	}
	if len(pairs) < 2 {
		return nil
	}
	a, b := pairs[0], pairs[len(pairs)-1]
	if a.force <= 0 || math.Abs(b.speed/a.speed-1) > 0.05 || math.Abs(b.force/a.force-1) < 0.2 {
		return nil
	}
	f := v.finding(WarmingUp, Harm, trace.NoChannel, affects,
		fmt.Sprintf("friction drifts along the log: %.2f kN in the slow strokes at %.0f s, %.2f kN in those at %.0f s.", a.force*1e-3, a.at, b.force*1e-3, b.at),
		"Run the machine warm and log again.")
	f.From, f.To = a.at, b.at
	return []Finding{f}
}

// halfDifference is half the difference of the force (N, of a frame) between two strokes
// over the middle half of the way that they share, weighed by the way: a load that
// changes along the stroke, which also changes the chamber and with it the speed,
// then counts the same both ways. ok is false where they share no way.
func (v *view) halfDifference(a, b trace.Span, force func(k int) float64) (half float64, ok bool) {
	x := v.frame[trace.RodPosition]
	if x == nil {
		return 0, false
	}
	frames := func(s trace.Span) []float64 { return x[(s.From+v.step-1)/v.step : s.To/v.step] }
	if len(frames(a)) < 2 || len(frames(b)) < 2 {
		return 0, false
	}
	lowA, highA := extremes(frames(a))
	lowB, highB := extremes(frames(b))
	low, high := math.Max(lowA, lowB), math.Min(highA, highB)
	low, high = low+(high-low)/4, high-(high-low)/4
	mean := func(s trace.Span) float64 {
		var sum, way float64
		for k := (s.From + v.step - 1) / v.step; k+1 < s.To/v.step; k++ {
			if x[k] > low && x[k] < high {
				d := math.Abs(x[k+1] - x[k])
				sum, way = sum+force(k)*d, way+d
			}
		}
		return sum / way
	}
	half = math.Abs(mean(a)-mean(b)) / 2
	return half, !math.IsNaN(half)
}

func within(s trace.Span, spans []trace.Span) bool {
	for _, o := range spans {
		if s.From >= o.From && s.To <= o.To {
			return true
		}
	}
	return false
}

// positionRange compares the rod position with the stroke. A position below zero or
// beyond the stroke has no true zero; travel longer than the stroke has a wrong scale.
func (v *view) positionRange() []Finding {
	x, ok := v.samples(trace.RodPosition)
	stroke := v.m.Cylinder.Stroke
	if !ok || v.wiring.has(rod) {
		return nil
	}
	low, high := extremes(v.frame[trace.RodPosition])
	slack := 2e-3 + 3*v.quickNoise(x) // end stops give, and mounting is good to a millimetre or two
	found := v.zeroSet()
	switch {
	case stroke > 0 && high-low > 1.03*stroke+slack:
		found = append(found, v.finding(SensorRange, Harm, trace.RodPosition, join(strokeParams, oilParams),
			fmt.Sprintf("the rod position covers %s, the stroke is %s.", inUnit(trace.RodPosition, high-low), inUnit(trace.RodPosition, stroke)),
			"Check unit and scaling of rod_position, and the stroke in the machine file."))
	case low < -slack || (stroke > 0 && high > stroke+slack):
		text := fmt.Sprintf("the rod position runs from %s to %s", inUnit(trace.RodPosition, low), inUnit(trace.RodPosition, high))
		if stroke > 0 {
			text += fmt.Sprintf(", the stroke is %s", inUnit(trace.RodPosition, stroke))
		}
		found = append(found, v.finding(NoZero, Harm, trace.RodPosition, oilParams, text+": its zero is not the fully retracted rod.", "Retract fully and state the reading there, negated, as offset of rod_position; until then volumes and modulus are weak."))
	}
	return found
}

// zeroSet tells that the rod position's zero was taken from the end stops.
func (v *view) zeroSet() []Finding {
	shift := v.r.ZeroShift
	if shift == 0 {
		return nil
	}
	log := "this log"
	if v.r.ZeroFrom != "" {
		log = v.r.ZeroFrom
	}
	return []Finding{v.finding(ZeroSet, Note, trace.RodPosition, nil,
		fmt.Sprintf("the rod position's zero was set by the end stops that %s reaches: %s were added.", log, inUnit(trace.RodPosition, shift)),
		fmt.Sprintf("Where it was a work piece that stopped the rod, state the zero: offset = \"%s\" is what was taken.", inUnit(trace.RodPosition, shift)))}
}
