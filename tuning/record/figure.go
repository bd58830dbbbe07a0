package record

import (
	"math"

	"eha/strokewise/ident/quantity"
)

// figure is one plot of the record.
type figure struct {
	title  string
	about  string // what it shows, for those who cannot see it
	x, y   axis
	series []series
}

// axis is one axis with its unit in the label.
type axis struct {
	label string
	log   bool
	equal bool // the same scale as the other axis
	// low and high fix the range; equal values leave it to the data.
	low, high float64
}

// look tells lines apart without colour.
type look int

const (
	solid look = iota
	dashed
	dotted
	dots    // a mark per point
	crosses // another mark per point
	shade   // the area between low and y
)

// series is one line, cloud or band of a figure. NaN breaks a line.
type series struct {
	name string
	look look
	x, y []float64
	low  []float64 // of a shade
}

// usable reports whether there is anything to draw.
func (f *figure) usable() bool {
	for _, s := range f.series {
		for i := range s.y {
			if finitePair(s.x[i], s.y[i]) {
				return true
			}
		}
	}
	return false
}

func finitePair(x, y float64) bool {
	return !math.IsNaN(x) && !math.IsInf(x, 0) && !math.IsNaN(y) && !math.IsInf(y, 0)
}

// extent returns the range of the axis over all series, a little wider than the data.
func (f *figure) extent(a axis, pick func(s series, i int) []float64) (low, high float64) {
	if a.low < a.high {
		return a.low, a.high
	}
	low, high = math.Inf(1), math.Inf(-1)
	for _, s := range f.series {
		for i := range s.y {
			for _, v := range pick(s, i) {
				if !math.IsNaN(v) && !math.IsInf(v, 0) && (!a.log || v > 0) {
					low, high = math.Min(low, v), math.Max(high, v)
				}
			}
		}
	}
	switch {
	case low > high:
		return 0, 1
	case a.log && low == high:
		return low / 2, high * 2
	case a.log:
		return low, high
	case low == high:
		pad := math.Max(math.Abs(low)/10, 1e-9)
		return low - pad, high + pad
	}
	pad := 0.05 * (high - low)
	return low - pad, high + pad
}

// ticks returns round values across the range, about as many as wanted.
func ticks(low, high float64, log bool, wanted int) []float64 {
	var list []float64
	if log {
		for e := math.Floor(math.Log10(low)); e <= math.Ceil(math.Log10(high)); e++ {
			for _, m := range []float64{1, 2, 5} {
				if v := m * math.Pow(10, e); v >= low*0.999 && v <= high*1.001 && (m == 1 || high/low < 200) {
					list = append(list, v)
				}
			}
		}
		return list
	}
	raw := (high - low) / float64(wanted)
	step := math.Pow(10, math.Floor(math.Log10(raw)))
	for _, m := range []float64{1, 2, 5, 10} {
		if m*step >= raw {
			step *= m
			break
		}
	}
	for k := math.Ceil(low/step - 1e-9); k*step <= high+1e-9*step && len(list) < 50; k++ {
		list = append(list, k*step)
	}
	return list
}

// tickText prints a tick's value without rounding noise.
func tickText(v float64) string { return quantity.Digits(v, 4) }
