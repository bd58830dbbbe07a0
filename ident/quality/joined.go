package quality

import "fmt"

// oneClock is what to do about recordings that were joined without a common channel.
const oneClock = "Record one channel in both recordings, such as the motor position, or all channels on one clock."

// joined tells how two recordings were set on one clock.
func (v *view) joined() []Finding {
	j := v.r.Joint
	if j == nil {
		return nil
	}
	text := fmt.Sprintf("the second recording is set on the clock of the first by %s: %.4f s added at its %.1f s, 95 %% interval %.4f to %.4f s",
		j.AlignedOn(), j.Offset, j.Middle, j.OffsetLow, j.OffsetHigh)
	if j.DriftTold() {
		text += fmt.Sprintf("; a drift of %.0f ppm was taken out, 95 %% interval %.0f to %.0f ppm, weighed against what clocks usually differ by.", 1e6*j.Drift, 1e6*j.DriftLow, 1e6*j.DriftHigh)
	} else {
		text += "; the overlap is too short to tell a drift of the clocks, none was taken out."
	}
	do := fmt.Sprintf("Lags between its channels and the first's are in doubt by ± %.1f ms.", 1e3*j.Doubt())
	if j.On[0] != j.On[1] {
		do += " " + oneClock
	}
	if j.Doubt() > usualLag {
		return []Finding{v.finding(Joined, Harm, j.On[0], waveParams, text, do)}
	}
	return []Finding{v.finding(Joined, Note, j.On[0], nil, text, do)}
}

// jointDoubt (s) is by how much a lag may come from the joining alone.
func (v *view) jointDoubt() float64 {
	if v.r.Joint == nil {
		return 0
	}
	return v.r.Joint.Doubt()
}
