package drive

import (
	"fmt"
	"math"
	"slices"

	"eha/strokewise/ident/motion"
	"eha/strokewise/ident/plant"
	"eha/strokewise/ident/trace"
)

// accelerationLimit takes the median level of the stretches in which speed rose
// as a straight line, with the load of the pressure taken out where its factor
// perPressure (rad/s² per Pa) is known. The interval is the spread of the levels.
//
// A plateau under half of largest, the largest acceleration seen (rad/s²), was
// no limit but a ramp.
func accelerationLimit(logs []Log, perPressure, largest float64) plant.Estimate {
	var levels []float64
	for _, l := range logs {
		for _, lim := range l.Motion.Limits {
			if lim.Kind == motion.AccelLimit && lim.Level > largest/2 {
				levels = append(levels, lim.Level+perPressure*opposing(l.Trace, lim.Span))
			}
		}
	}
	if len(levels) < 2 {
		return plant.MissingFrom("no acceleration limit was met; a step of speed larger than the drive can follow would show it")
	}
	slices.Sort(levels)
	mid := levels[len(levels)/2]
	// From the median to the 10 % and 90 % points, at least a tenth: plateaux
	// carry the rest of the load.
	half := max(0.1*mid, (levels[len(levels)*9/10]-levels[len(levels)/10])/2)
	return plant.AccelerationLimit.Found(mid, mid-half, mid+half, fmt.Sprintf("%d stretches at the limit", len(levels)))
}

// opposing is the mean pressure across the pump over the span, positive where it
// works against the change of speed (Pa); 0 where pressures are not logged.
func opposing(t *trace.Trace, s trace.Span) float64 {
	a, okA := t.Samples(trace.CapPressure)
	b, okB := t.Samples(trace.RodPressure)
	u, okU := t.Samples(trace.SpeedCommand)
	n, okN := motorSpeedNear(t, s)
	if !okA || !okB || !okU || !okN || s.Len() == 0 {
		return 0
	}
	sum := 0.0
	for i := s.From; i < s.To; i++ {
		sum += a[i] - b[i]
	}
	rise := u[s.From+s.Len()/2] - n
	return math.Copysign(1, rise) * sum / float64(s.Len())
}

// motorSpeedNear is the mean motor speed over the span.
func motorSpeedNear(t *trace.Trace, s trace.Span) (float64, bool) {
	if theta, ok := t.Samples(trace.MotorPosition); ok && s.Len() > 1 {
		return (theta[s.To-1] - theta[s.From]) / (float64(s.Len()-1) * t.Period()), true
	}
	return 0, false
}

// largestAcceleration is the largest rate of change of motor speed (rad/s²) over 4 ms or two samples.
func largestAcceleration(logs []Log) float64 {
	largest := 0.0
	for _, l := range logs {
		n, ok := motion.MotorSpeed(l.Trace)
		if !ok {
			continue
		}
		lag := max(2, int(math.Round(0.004/l.Trace.Period())))
		for _, s := range motion.Stretches(l.Trace, 4*lag) {
			// Slopes shrink their window at a gap: keep clear of it.
			for i := s.From + lag; i+2*lag < s.To; i++ {
				largest = max(largest, math.Abs(n[i+lag]-n[i])/(float64(lag)*l.Trace.Period()))
			}
		}
	}
	return largest
}
