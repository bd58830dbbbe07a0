package ident_test

import (
	"context"
	"errors"
	"math"
	"math/rand/v2"
	"testing"

	"eha/strokewise/ident"
	"eha/strokewise/ident/machine"
	"eha/strokewise/ident/plant"
	"eha/strokewise/ident/trace"
)

// TestRoughLogsNeverPanic fits logs that no machine ever made: channels that are
// constant, random, clipped, stepping or wandering, in any combination, with gaps.
// Whatever comes out must be whole and finite.
func TestRoughLogsNeverPanic(t *testing.T) {
	for seed := range uint64(40) {
		rng := rand.New(rand.NewPCG(seed, 5))
		n := 200 + rng.IntN(6000)
		samples := map[trace.Channel][]float64{}
		for _, c := range trace.Channels() {
			if c != trace.Time && rng.Float64() < 0.75 {
				samples[c] = rough(rng, n, scales[c])
			}
		}
		if len(samples) == 0 {
			continue
		}
		var gaps []trace.Span
		for range rng.IntN(4) {
			from := rng.IntN(n)
			gaps = append(gaps, trace.Span{From: from, To: min(from+rng.IntN(500), n)})
		}
		tr, err := trace.New("rough", []float64{2.5e-4, 1e-3, 4e-3, 0.02}[rng.IntN(4)], 0, samples, gaps)
		if err != nil {
			t.Fatal(err)
		}
		m := &machine.Machine{}
		if rng.Float64() < 0.6 {
			m.Cylinder = machine.Cylinder{Bore: 0.05, Rod: 0.028, Stroke: 0.3}
		}
		p, err := ident.Fit(context.Background(), []*trace.Trace{tr}, m, ident.Options{})
		var data *ident.DataError
		if err != nil && !errors.As(err, &data) {
			t.Errorf("seed %d: %v", seed, err)
		}
		if err := p.Model.Check(); err != nil {
			t.Errorf("seed %d: %v", seed, err)
		}
		for _, param := range plant.Params() {
			e := p.Est(param)
			if math.IsNaN(e.Value+e.Low+e.High) || math.IsInf(e.Value+e.Low+e.High, 0) || e.From == "" || e.Low > e.Value || e.High < e.Value {
				t.Errorf("seed %d: %s: %+v", seed, param, e)
			}
		}
		v := p.Validation
		if math.IsNaN(v.RodSpeed + v.CapPressure + v.RodPressure + v.StrokeFromTurns) {
			t.Errorf("seed %d: validation %+v", seed, v)
		}
	}
}

// scales are the sizes that the channels have on a machine.
var scales = map[trace.Channel]float64{
	trace.SpeedCommand: 100, trace.MotorPosition: 500, trace.RodPosition: 0.2, trace.PositionCommand: 0.2, trace.ForceCommand: 1e4,
	trace.CapPressure: 1e7, trace.RodPressure: 1e7, trace.MotorSpeed: 100, trace.MotorCurrent: 10, trace.MotorTorque: 10, trace.Force: 1e4, trace.OilTemperature: 300,
}

func rough(rng *rand.Rand, n int, scale float64) []float64 {
	x := make([]float64, n)
	kind, value := rng.IntN(5), 0.0
	for i := range x {
		switch kind {
		case 0: // constant
			value = scale
		case 1: // noise
			value = scale * rng.NormFloat64()
		case 2: // steps
			if rng.Float64() < 0.01 {
				value = scale * (rng.Float64() - 0.5)
			}
		case 3: // wandering
			value += 0.01 * scale * rng.NormFloat64()
		case 4: // a clipped sine
			value = scale * math.Max(-0.5, math.Min(0.5, math.Sin(float64(i)*0.01)))
		}
		x[i] = value
	}
	return x
}
