package contact

import (
	"math"

	"eha/strokewise/ident/motion"
	"eha/strokewise/ident/plant"
	"eha/strokewise/ident/trace"
)

const (
	// apart (s) is the time between two pressing segments up to which they are one
	// stretch: the force is changed in between.
	apart = 1.0
	// lead (s) of travel before the first pressing segment is taken in, for the touch.
	lead = 0.5
	// pastTravel is how far the force of a rod at rest must be beyond that of
	// travel to be pressed, in shares of the difference of both directions.
	pastTravel = 0.5
	// leastPast is the same as a pressure (Pa) on the cap side, against sensor doubt.
	leastPast = 3e5
)

// Find returns the pressing stretches of a log that presses, which is one with
// motion.PressHold in it: segments that turn the motor without travel, and those at
// rest whose force no free travel of the log asked for, as when a force is held.
// Rest alone does not tell a contact from a load that grows along the travel.
// Areas (m²) may be zero; then only the first kind is found.
func Find(t *trace.Trace, m *motion.Motion, area plant.PerChamber[float64]) []Press {
	if len(m.Spans(motion.PressHold)) == 0 {
		return nil
	}
	pressed := past(t, m.Segments, area)
	var found []Press
	before, join := int(lead/t.Period()), int(apart/t.Period())
	for _, s := range m.Segments {
		if s.Kind != motion.Pressing && !(s.Kind == motion.Rest && pressed(s.Span)) {
			continue
		}
		if last := len(found) - 1; last >= 0 && s.Span.From-found[last].Span.To < join {
			found[last].Span.To = s.Span.To
			continue
		}
		found = append(found, Press{Trace: t, Span: trace.Span{From: max(s.Span.From-before, 0), To: s.Span.To}})
	}
	return found
}

// past returns whether a span's mean force is beyond that of the log's steady travel.
func past(t *trace.Trace, segments []motion.Segment, area plant.PerChamber[float64]) func(trace.Span) bool {
	f, ok := force(t, area)
	if !ok {
		return func(trace.Span) bool { return false }
	}
	low, high := math.Inf(1), math.Inf(-1)
	for _, s := range segments {
		if s.Kind == motion.Steady && float64(s.Span.Len())*t.Period() > motion.MinSteady {
			m := mean(f[s.Span.From:s.Span.To])
			low, high = math.Min(low, m), math.Max(high, m)
		}
	}
	margin := pastTravel*(high-low) + leastPast*area.Cap
	return func(s trace.Span) bool {
		m := mean(f[s.From:s.To])
		return high >= low && (m > high+margin || m < low-margin)
	}
}

func mean(y []float64) float64 {
	sum := 0.0
	for _, v := range y {
		sum += v
	}
	return sum / math.Max(float64(len(y)), 1)
}
