package balance

import (
	"math/rand/v2"
	"testing"

	"eha/strokewise/ident/trace"
)

// Whatever a log holds, nothing may panic: lengths from two samples on, periods
// from fast to absurd, noise, constants and jumps in every channel.
func TestOddLogsDoNotPanic(t *testing.T) {
	rng := rand.New(rand.NewPCG(11, 12))
	for range 300 {
		n := 2 + rng.IntN(400)
		period := []float64{1e-4, 1e-3, 4e-3, 0.05, 2}[rng.IntN(5)]
		samples := map[trace.Channel][]float64{}
		for _, c := range []trace.Channel{trace.RodPosition, trace.CapPressure, trace.RodPressure, trace.MotorPosition, trace.Force} {
			if rng.IntN(6) > 0 || c == trace.RodPosition {
				samples[c] = odd(rng, n)
			}
		}
		tr, err := trace.New("odd", period, 0, samples, []trace.Span{{From: n / 3, To: n/3 + rng.IntN(n/3+1)}})
		if err != nil {
			t.Fatal(err)
		}
		logs := []Log{{Trace: tr, Exclude: []trace.Span{{From: -5, To: rng.IntN(20)}}}}
		if res, err := Fit(logs, testKnown); err == nil {
			res.Crossings(0)
			res.Params()
		}
		if _, err := FromForceLogs(logs); err != nil && tr.Has(trace.Force) {
			t.Errorf("a log with force and position: %v", err)
		}
	}
}

func odd(rng *rand.Rand, n int) []float64 {
	y := make([]float64, n)
	kind, size := rng.IntN(4), []float64{1e-6, 1, 1e7}[rng.IntN(3)]
	for i := range y {
		switch kind {
		case 0:
			y[i] = size
		case 1:
			y[i] = size * rng.NormFloat64()
		case 2:
			y[i] = size * float64(i) / float64(n)
		case 3:
			y[i] = size * float64(i/7%3)
		}
	}
	return y
}
