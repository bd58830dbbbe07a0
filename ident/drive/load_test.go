package drive

import (
	"testing"

	"eha/strokewise/ident/motion"
	"eha/strokewise/ident/trace"
)

// A buffer with pressures and no rod position beside one with the rod position and one
// pressure share no load signal; either alone has one.
func TestCommonLoads(t *testing.T) {
	log := func(channels ...trace.Channel) Log {
		samples := map[trace.Channel][]float64{trace.MotorPosition: make([]float64, 100)}
		for _, c := range channels {
			samples[c] = make([]float64, 100)
		}
		tr, err := trace.New("buffer", 1e-3, 0, samples, nil)
		if err != nil {
			t.Fatal(err)
		}
		return Log{Trace: tr, Motion: &motion.Motion{Periodic: make([]motion.Periodic, 1)}}
	}
	pressures, travel := log(trace.CapPressure, trace.RodPressure), log(trace.RodPosition, trace.CapPressure)
	for _, c := range []struct {
		logs []Log
		want loadTerms
	}{
		{[]Log{pressures}, withPressures}, {[]Log{travel}, withTravel},
		{[]Log{pressures, travel}, frictionOnly}, {[]Log{travel, pressures}, frictionOnly},
	} {
		if got := commonLoads(c.logs); got != c.want {
			t.Errorf("%d logs: got load terms %d, want %d", len(c.logs), got, c.want)
		}
	}
}
