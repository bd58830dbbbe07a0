package drive

import (
	"math"

	"eha/strokewise/ident/motion"
	"eha/strokewise/ident/trace"
)

// steepShare is the share of a stretch that may be steeper than the ramp.
const steepShare = 0.005

// mostOfRamp is how many times the ramp's slope the motor may speed up with behind it:
// a loop overshoots.
const mostOfRamp = 1.5

// ramp returns the slope (rad/s²) of a ramp inside the drive, +Inf where the logs
// show none: equal rises, and no steeper ones anywhere.
func ramp(logs []Log) float64 {
	var limits []motion.Limited
	for _, l := range logs {
		limits = append(limits, l.Motion.Limits...)
	}
	if slope, ok := motion.Ramp(limits); ok && largestAcceleration(logs) < mostOfRamp*slope {
		return slope
	}
	return math.Inf(1)
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
