package ident

import (
	"math"
	"slices"

	"eha/strokewise/ident/trace"
)

// cellShare is the share of the largest force on the load cell from which a sample
// counts: below, the rod touches nothing and the difference is friction and weight alone.
const cellShare = 0.2

// cellOffset compares the piston's force with the load cell's over all logs that hold both.
func (f *fitting) cellOffset() [3]float64 {
	area, known := areas(f.machine)
	if !known {
		return [3]float64{}
	}
	var piston, cell []float64
	for _, t := range f.full {
		a, okA := t.Samples(trace.CapPressure)
		b, okB := t.Samples(trace.RodPressure)
		c, okC := t.Samples(trace.Force)
		if !okA || !okB || !okC {
			continue
		}
		for i := 0; i < len(a); i += thinBy {
			piston, cell = append(piston, a[i]*area.Cap-b[i]*area.Rod), append(cell, c[i])
		}
	}
	return offsetOf(piston, cell)
}

// offsetOf returns the 5 %, 50 % and 95 % points of piston less cell (N) where the
// cell is loaded, zeros under 20 such samples. Samples that are no numbers are left out.
func offsetOf(piston, cell []float64) [3]float64 {
	most := 0.0
	for _, c := range cell {
		if !math.IsInf(c, 0) && !math.IsNaN(c) {
			most = max(most, math.Abs(c))
		}
	}
	var off []float64
	for i, c := range cell {
		if d := piston[i] - c; math.Abs(c) > cellShare*most && !math.IsNaN(d) && !math.IsInf(d, 0) {
			off = append(off, d)
		}
	}
	if len(off) < 20 {
		return [3]float64{}
	}
	slices.Sort(off)
	at := func(share float64) float64 { return off[int(share*float64(len(off)-1))] }
	return [3]float64{at(0.05), at(0.5), at(0.95)}
}
