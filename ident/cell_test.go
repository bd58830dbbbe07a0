package ident

import (
	"math"
	"testing"
)

// A cell that reads 500 N less with friction of 300 N either way, while pressed and not.
func TestCellOffset(t *testing.T) {
	var piston, cell []float64
	for i := range 1000 {
		load := 10e3 * math.Sin(float64(i)/100)
		friction := 300.0
		if math.Cos(float64(i)/100) < 0 {
			friction = -300
		}
		if math.Abs(load) < 1500 {
			friction = 5000 // free travel must not count
		}
		piston, cell = append(piston, load+500+friction), append(cell, load)
	}
	piston[500], cell[501] = math.NaN(), math.Inf(1)
	got := offsetOf(piston, cell)
	if math.Abs(got[0]-200) > 1e-6 || math.Abs(got[2]-800) > 1e-6 || got[1] < got[0] || got[1] > got[2] {
		t.Errorf("offset %v, want 200 to 800", got)
	}
	if none := offsetOf(piston[:10], cell[:10]); none != [3]float64{} {
		t.Errorf("ten samples give %v", none)
	}
	if none := offsetOf(nil, nil); none != [3]float64{} {
		t.Errorf("nothing gives %v", none)
	}
}
