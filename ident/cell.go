package ident

import (
	"math"
	"slices"

	"eha/strokewise/ident/trace"
)

// A sample of the load cell counts from this share of its largest force on: below,
// the rod touches nothing and the difference is friction and weight alone. It counts as
// pressed up or eased off where the force changes by changeShare over changeTime (s) to either side:
// less of a change bends the seals without sliding them and shows too little friction.
const (
	cellShare   = 0.2
	changeShare = 0.05
	changeTime  = 0.2
)

// cellOffset compares the piston's force with the load cell's over all logs that hold
// both: what the rod feels differs by friction, which turns with the way the force changes,
// and by load, weight along the axis and the sensors' zeros, which do not.
func (f *fitting) cellOffset() [3]float64 {
	area, known := areas(f.machine)
	if !known {
		return [3]float64{}
	}
	var eased, pressed []float64
	for _, t := range f.full {
		a, okA := t.Samples(trace.CapPressure)
		b, okB := t.Samples(trace.RodPressure)
		cell, okC := t.Samples(trace.Force)
		if !okA || !okB || !okC {
			continue
		}
		piston := make([]float64, len(a))
		for i := range a {
			piston[i] = a[i]*area.Cap - b[i]*area.Rod
		}
		e, p := offsetsOf(piston, cell, max(1, int(changeTime/t.Period())))
		eased, pressed = append(eased, e...), append(pressed, p...)
	}
	return middleOffset(eased, pressed)
}

// offsetsOf returns piston less cell (N) where the size of the cell's force falls and
// where it rises over so many samples to either side. Samples that are no numbers are left out.
func offsetsOf(piston, cell []float64, reach int) (eased, pressed []float64) {
	finite := func(v float64) bool { return !math.IsInf(v, 0) && !math.IsNaN(v) }
	most := 0.0
	for _, c := range cell {
		if finite(c) {
			most = max(most, math.Abs(c))
		}
	}
	for i := reach; i+reach < len(cell); i += thinBy {
		d, change := piston[i]-cell[i], math.Abs(cell[i+reach])-math.Abs(cell[i-reach])
		if !finite(d) || !finite(change) || math.Abs(cell[i]) < cellShare*most {
			continue
		}
		if change > changeShare*most {
			pressed = append(pressed, d)
		} else if change < -changeShare*most {
			eased = append(eased, d)
		}
	}
	return eased, pressed
}

// outer is the quantile taken on the side that friction moves the difference to: right
// after a turn of the force friction has not turned yet.
const outer = 0.8

// middleOffset returns the offset while easing off and while pressing up with their
// mean between them, zeros under 20 samples of either.
func middleOffset(eased, pressed []float64) [3]float64 {
	if len(eased) < 20 || len(pressed) < 20 {
		return [3]float64{}
	}
	slices.Sort(eased)
	slices.Sort(pressed)
	at := func(sorted []float64, share float64) float64 { return sorted[int(share*float64(len(sorted)-1))] }
	off, on := at(eased, 1-outer), at(pressed, outer)
	if at(pressed, 0.5) < at(eased, 0.5) { // pressed while retracting
		off, on = at(eased, outer), at(pressed, 1-outer)
	}
	return [3]float64{off, (off + on) / 2, on}
}
