package trace

import (
	"math"

	"eha/strokewise/ident/quantity"
)

// epochUnit returns the unit in which x counts from the beginning of 1970, "" where it
// does not: the values then belong to the years 2001 to 2096.
func epochUnit(x []float64) string {
	for _, v := range x {
		for _, u := range []struct {
			symbol string
			second float64
		}{{"s", 1}, {"ms", 1e3}, {"us", 1e6}, {"ns", 1e9}} {
			if v >= 1e9*u.second && v < 4e9*u.second {
				return u.symbol
			}
		}
		if v == v {
			break
		}
	}
	return ""
}

// timeUnitOf tells the unit of time from the usual step: recorders sample between
// 20 µs and 0.2 s. A step that suits two units is told apart by nothing, and gives none.
func timeUnitOf(x []float64) (quantity.Unit, float64) {
	step := medianStep(x)
	for _, symbol := range []string{"s", "ms", "us", "ns"} {
		u, _ := quantity.LookupAs(symbol, quantity.Time)
		// A step of 20 µs in ms reads 0.02, like 20 ms in s: the longer is far more usual.
		if s := step * u.Factor; s >= 90e-6 && s <= 0.11 {
			return u, 0.8
		}
	}
	return quantity.Unit{}, 0
}

// unrollMidnight makes a clock time without date go on over midnight, and takes whole
// days out of a step of over twenty of them: no recording waits that long, but at midnight
// a date read with day and month exchanged goes on by a month.
func unrollMidnight(x []float64) {
	const day = 86400.0
	add := 0.0
	for i := 1; i < len(x); i++ {
		switch d := x[i] + add - x[i-1]; {
		case math.Abs(d) > 20*day:
			add -= day * math.Floor(d/day+0.5)
		case d < -day/2 && d > -day:
			add += day
		}
		x[i] += add
	}
}

// fromFirst counts stamps from the first of them, which it returns: seconds since some
// day say nothing to whoever looks for a place in the log.
func fromFirst(x []float64) float64 {
	for _, first := range x {
		if math.IsNaN(first) {
			continue
		}
		for i := range x {
			x[i] -= first
		}
		return first
	}
	return 0
}

// medianStep returns the median of the forward steps of up to 2001 neighbours
// spread over x, 0 if there is none.
func medianStep(x []float64) float64 {
	var steps []float64
	stride := max(1, (len(x)-1)/2001)
	for i := 1; i < len(x); i += stride {
		if d := x[i] - x[i-1]; d > 0 {
			steps = append(steps, d)
		}
	}
	return median(steps)
}
