package contact

import (
	"math"
	"math/rand/v2"
	"testing"

	"eha/strokewise/ident/motion"
	"eha/strokewise/ident/plant"
	"eha/strokewise/ident/trace"
)

// Whatever a log holds, nothing may panic and no number may be none.
func TestOddLogs(t *testing.T) {
	rng := rand.New(rand.NewPCG(21, 22))
	for range 300 {
		n := 2 + rng.IntN(600)
		samples := map[trace.Channel][]float64{}
		for _, c := range []trace.Channel{trace.RodPosition, trace.CapPressure, trace.RodPressure, trace.MotorPosition, trace.Force} {
			if rng.IntN(6) == 0 && c != trace.RodPosition {
				continue
			}
			scale := []float64{0, 1e-4, 1, 1e6}[rng.IntN(4)]
			y := make([]float64, n)
			for i := range y {
				y[i] = scale * (float64(i/50%3) + 0.1*rng.NormFloat64())
			}
			samples[c] = y
		}
		tr, err := trace.New("odd", []float64{1e-3, 4e-3, 0.1}[rng.IntN(3)], 0, samples, []trace.Span{{From: n / 2, To: n/2 + 3*(n/20)}})
		if err != nil {
			t.Fatal(err)
		}
		known := usualPress().known()
		if rng.IntN(2) == 0 {
			known = Known{}
		}
		found := append(Find(tr, motion.Find(tr), known.Area), Press{Trace: tr, Span: trace.Span{From: 0, To: n}})
		res := Fit(found, known)
		for _, e := range []plant.Estimate{res.Contact, res.Pressing, res.Position, res.Direct, res.Slip} {
			if math.IsNaN(e.Value) || math.IsNaN(e.Low) || math.IsInf(e.High, 0) {
				t.Fatalf("estimate %+v", e)
			}
		}
	}
}
