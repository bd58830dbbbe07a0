package ident

import (
	"math"
	"testing"
)

// A cell that reads 500 N less with friction of 300 N either way, while pressed and
// not: the friction turns with the way the force changes, worked by hand.
func TestCellOffset(t *testing.T) {
	var piston, cell []float64
	for i := range 3000 {
		load := 10e3 * math.Sin(float64(i)/100)
		friction := 300.0
		if math.Cos(float64(i)/100) < 0 {
			friction = -300
		}
		if math.Abs(load) < 1500 {
			friction = 5000 // free travel must not count
		}
		piston, cell = append(piston, max(load, 0)+500+friction), append(cell, max(load, 0))
	}
	piston[500], cell[501] = math.NaN(), math.Inf(1)
	got := middleOffset(offsetsOf(piston, cell, 10))
	for i, want := range []float64{200, 500, 800} {
		if math.Abs(got[i]-want) > 1e-6 {
			t.Errorf("offset %v, want 200, 500, 800", got)
		}
	}
	if none := middleOffset(offsetsOf(piston[:10], cell[:10], 10)); none != [3]float64{} {
		t.Errorf("ten samples give %v", none)
	}
	if none := middleOffset(offsetsOf(nil, nil, 10)); none != [3]float64{} {
		t.Errorf("nothing gives %v", none)
	}
}
