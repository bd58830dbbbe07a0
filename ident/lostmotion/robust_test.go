package lostmotion

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
	rng := rand.New(rand.NewPCG(31, 32))
	for range 200 {
		n := 20 + rng.IntN(3000)
		samples := map[trace.Channel][]float64{}
		for _, c := range []trace.Channel{trace.RodPosition, trace.CapPressure, trace.RodPressure, trace.MotorPosition} {
			if rng.IntN(6) == 0 && c != trace.MotorPosition {
				continue
			}
			scale := []float64{0, 1e-4, 1, 1e6}[rng.IntN(4)]
			y := make([]float64, n)
			for i := range y {
				y[i] = scale * (math.Abs(float64(i%800)-400)/400 + 0.001*rng.NormFloat64())
			}
			samples[c] = y
		}
		tr, err := trace.New("odd", []float64{1e-3, 4e-3, 0.1}[rng.IntN(3)], 0, samples, nil)
		if err != nil {
			t.Fatal(err)
		}
		var made []motion.Segment
		for i := 0; i+40 < n; i += 40 {
			made = append(made, motion.Segment{Kind: motion.Steady, MotorSpeed: rng.NormFloat64(), Span: trace.Span{From: i, To: i + 40}})
		}
		k := usualKnown()
		k.Slip, k.TransducerDelay = rng.NormFloat64(), 1e-3
		k.FreeForce = &plant.PerDirection[float64]{Extend: 1e5 * rng.NormFloat64(), Retract: 1e5 * rng.NormFloat64()}
		for _, segments := range [][]motion.Segment{motion.Find(tr).Segments, made, nil} {
			e := Fit([]Log{{Trace: tr, Segments: segments}}, k).LostMotion
			if math.IsNaN(e.Value) || math.IsNaN(e.Low) || math.IsInf(e.High, 0) {
				t.Fatalf("lost motion %+v", e)
			}
		}
	}
}
