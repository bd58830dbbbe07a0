package drive

import (
	"math"

	"eha/strokewise/ident/motion"
	"eha/strokewise/ident/trace"
)

const (
	rampStretches = 4     // the least number of straight rises that show a ramp
	rampSpread    = 1.03  // by what factor they may differ: torque less the load's share varies more
	steepShare    = 0.005 // share of a stretch that may be steeper than the ramp
)

// ramp returns the slope (rad/s²) of a ramp inside the drive, +Inf where the logs
// show none: a ramp has one slope whatever the load and the direction.
func ramp(logs []Log) float64 {
	low, high, count := math.Inf(1), 0.0, 0
	for _, l := range logs {
		for _, lim := range l.Motion.Limits {
			if lim.Kind == motion.AccelLimit {
				low, high, count = min(low, lim.Level), max(high, lim.Level), count+1
			}
		}
	}
	if count < rampStretches || high > rampSpread*low {
		return math.Inf(1)
	}
	return low
}

// steeper reports whether the speed command of the stretch is steeper than the
// slope (rad/s²) for more of it than a moment: what a ramp cuts off so often is no
// longer the loop's answer, though no single rise lasts long enough to be seen.
func steeper(t *trace.Trace, s trace.Span, slope float64) bool {
	u, ok := t.Samples(trace.SpeedCommand)
	if !ok || math.IsInf(slope, 1) {
		return false
	}
	// Over the longest time that a command may be held, a staircase has the slope
	// of what it stands for.
	step := max(1, int(math.Round(longestHold/t.Period())))
	steep, all := 0, 0
	for i := s.From; i+step < min(s.To, t.Len()); i++ {
		if math.Abs(u[i+step]-u[i]) > slope*float64(step)*t.Period() {
			steep++
		}
		all++
	}
	return float64(steep) > steepShare*float64(all)
}

// longestHold (s) is the period of a usual outer controller.
const longestHold = 0.002
