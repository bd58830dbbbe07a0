package motion

import (
	"math"
	"testing"

	"eha/strokewise/ident/trace"
)

// closed makes an ideal log that holds the position command as well, which is where the rod is.
func closed(t testing.TB, period, perTurn float64, speeds []float64) *trace.Trace {
	tr := ideal(t, period, perTurn, speeds)
	samples := map[trace.Channel][]float64{}
	for _, c := range tr.Channels() {
		samples[c], _ = tr.Samples(c)
	}
	samples[trace.PositionCommand] = append([]float64(nil), samples[trace.RodPosition]...)
	out, err := trace.New("closed", period, 0, samples, nil)
	if err != nil {
		t.Fatal(err)
	}
	return out
}

// What the machine did names the moves, whichever command was logged: slow strokes and
// steps of speed under a position loop are those.
func TestMovesUnderAPositionCommand(t *testing.T) {
	const period = 2e-3
	var u []float64
	for range 2 { // slow strokes, 5 s each way, with rests
		u = constant(constant(u, 10, 2500), 0, 500)
		u = constant(constant(u, -10, 2500), 0, 500)
	}
	slow := Find(closed(t, period, 1e-3, append(constant(constant(append([]float64(nil), u...), 60, 400), 0, 500), constant(nil, -60, 400)...)))
	if n := len(slow.Spans(SlowStrokes)); n != 4 {
		t.Errorf("%d slow strokes, 4 were played: %v", n, slow.Moves)
	}
	if n := len(slow.Spans(UsualRun)); n != 2 {
		t.Errorf("%d usual runs, 2 quick ones were played: %v", n, slow.Moves)
	}
	for _, v := range []float64{5, -5, 20, -20, 60, -60} {
		u = constant(constant(u, v, 400), 0, 400)
	}
	if m := Find(closed(t, period, 1e-3, u)); !m.Has(SpeedSteps) || !m.Has(SlowStrokes) {
		t.Errorf("speed steps and slow strokes under a position command: %v", m.Moves)
	}
}

// A drive that follows a ramp of its command with a lag is not limited; one that comes up a
// ramp after a step is.
func TestFollowingARampIsNoLimit(t *testing.T) {
	const period, slope = 1e-3, 1000.0
	ramp, step := make([]float64, 200), make([]float64, 200)
	for i := range ramp {
		ramp[i] = math.Min(math.Max(0, float64(i-50)*period*slope), 60)
		if i >= 50 {
			step[i] = 60
		}
	}
	if !followsRamp(ramp, 72, 50, slope, period) {
		t.Error("a ramp 22 ms before the speed's was not seen")
	}
	if followsRamp(step, 52, 50, slope, period) {
		t.Error("a step was taken for a ramp")
	}
}
