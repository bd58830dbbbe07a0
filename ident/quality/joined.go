package quality

import (
	"fmt"
	"math"

	"eha/strokewise/ident/trace"
)

// oneClock is what to do about recordings that were joined without a common channel.
const oneClock = "Record one channel in both recordings, such as the motor position, or all channels on one clock."

// joined tells how two recordings were set on one clock.
func (v *view) joined() []Finding {
	j := v.r.Joint
	if j == nil {
		return nil
	}
	text := fmt.Sprintf("the second recording is set on the clock of the first by %s: %.4f s added at its %.1f s, 95 %% interval %.4f to %.4f s",
		aligned(j), j.Offset, j.Middle, j.OffsetLow, j.OffsetHigh)
	switch {
	case j.DriftLow == j.DriftHigh:
		text += "; the overlap is too short to tell a drift of the clocks, none was taken out."
	case j.Drift == 0:
		text += fmt.Sprintf("; a drift of the clocks of %.0f to %.0f ppm is possible, none was taken out.", 1e6*j.DriftLow, 1e6*j.DriftHigh)
	default:
		text += fmt.Sprintf("; a drift of %.0f ppm was taken out, 95 %% interval %.0f to %.0f ppm.", 1e6*j.Drift, 1e6*j.DriftLow, 1e6*j.DriftHigh)
	}
	do := "Lags between its channels and the first's are in doubt by that much."
	if j.On[0] != j.On[1] {
		do += " " + oneClock
	}
	return []Finding{v.finding(Joined, Note, j.On[0], nil, text, do)}
}

func aligned(j *trace.Joint) string {
	if j.On[0] == j.On[1] {
		return fmt.Sprintf("the %s in both", j.On[0].Words())
	}
	return fmt.Sprintf("%s against %s", j.On[0].Words(), j.On[1].Words())
}

// jointDoubt (s) is by how much a lag may come from the joining alone: the offset's
// interval, and a drift that was not taken out, halfway to the ends.
func (v *view) jointDoubt() float64 {
	j := v.r.Joint
	if j == nil {
		return 0
	}
	drift := math.Max(math.Abs(j.DriftLow-j.Drift), math.Abs(j.DriftHigh-j.Drift))
	return (j.OffsetHigh-j.OffsetLow)/2 + drift*j.Overlap/4
}
