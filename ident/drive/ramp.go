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

// rounded returns the delay (s) that a ramp of the slope (rad/s²) adds by rounding the
// steps of a command that it does not cut off: each takes its height over the slope to
// pass, and is late by half of that. A step counts with its square, as in the least
// squares. hold (s) is the time for which a command is held.
func rounded(t *trace.Trace, s trace.Span, slope, hold float64) float64 {
	u, ok := t.Samples(trace.SpeedCommand)
	if !ok || math.IsInf(slope, 1) {
		return 0
	}
	late, all := 0.0, 0.0
	for i := s.From; i+1 < min(s.To, t.Len()); i++ {
		step := math.Abs(u[i+1]-u[i]) * hold / t.Period()
		late += step * step * step / slope / 2
		all += step * step
	}
	if all == 0 {
		return 0
	}
	return late / all
}

// longestHold (s) is the period of a usual outer controller.
const longestHold = 0.002
