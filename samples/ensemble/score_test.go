package main

import (
	"math"
	"testing"

	"eha/strokewise/ident/plant"
	"eha/strokewise/samples/twin"
)

func TestScore(t *testing.T) {
	truth := twin.True{Value: 100, Range: [2]float64{95, 100}}
	e := plant.Estimate{Value: 90, Low: 88, High: 92, Status: plant.Identified}
	o := scoreOf(plant.MovingMass, e, truth, 0)
	if math.Abs(o.strict-0.10) > 1e-12 || math.Abs(o.near-0.05) > 1e-12 || o.covered || o.far || math.Abs(o.half-0.02) > 1e-12 {
		t.Errorf("90 ± 2 against 95 to 100: %+v", o)
	}
	e.Value, e.Low, e.High = 88, 87, 89
	if o := scoreOf(plant.MovingMass, e, truth, 0); !o.far {
		t.Errorf("seven half-widths off does not count as far: %+v", o)
	}
	e.High = 96
	if o := scoreOf(plant.MovingMass, e, truth, 0); !o.covered {
		t.Errorf("an interval that reaches the range does not count as covering: %+v", o)
	}
}

// TestWilson checks the interval of 95 in 100 against Wilson's formula worked by
// hand: 0.8882 to 0.9785.
func TestWilson(t *testing.T) {
	low, high := wilson(95, 100)
	if math.Abs(low-0.8882) > 5e-4 || math.Abs(high-0.9785) > 5e-4 {
		t.Errorf("got %.4f to %.4f, want 0.8882 to 0.9785", low, high)
	}
}

func TestQuantile(t *testing.T) {
	v := []float64{4, 1, 3, 2, 5}
	if got := quantile(v, 0.5); got != 3 {
		t.Errorf("median %g, want 3", got)
	}
	if got := quantile(v, 0.9); math.Abs(got-4.6) > 1e-12 {
		t.Errorf("90th percentile %g, want 4.6", got)
	}
	if v[0] != 4 {
		t.Error("the input was sorted")
	}
}
