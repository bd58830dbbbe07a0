package chart

import (
	"math"
	"strconv"
)

// scale maps values onto n dots; a log scale maps their logarithm.
type scale struct {
	min, max float64
	log      bool
	n        int
}

// at returns the dot of v, 0 to n-1 for values in range; NaN for what has no place.
func (s scale) at(v float64) float64 {
	lo, hi := s.min, s.max
	if s.log {
		v, lo, hi = math.Log10(v), math.Log10(lo), math.Log10(hi)
	}
	// Halves keep the difference of two huge numbers finite.
	return (v/2 - lo/2) / (hi/2 - lo/2) * float64(s.n-1)
}

// value returns the value at a dot.
func (s scale) value(dot float64) float64 {
	if s.n < 2 {
		return s.min
	}
	f := dot / float64(s.n-1)
	if s.log {
		return s.min * math.Pow(s.max/s.min, f)
	}
	return s.min*(1-f) + s.max*f
}

// newScale returns a usable scale whatever the range: where it is empty or not
// finite it takes one that can be drawn.
func newScale(lo, hi float64, log bool, n int) scale {
	finite := func(v float64) bool { return !math.IsNaN(v) && !math.IsInf(v, 0) }
	if !finite(lo) || !finite(hi) || lo > hi {
		lo, hi = 0, 1
	}
	if log {
		if !(hi > 0) {
			lo, hi = 1, 10
		}
		if !(lo > 0) {
			lo = hi / 1000
		}
		if hi/lo < 1.0001 {
			lo, hi = lo/2, hi*2
		}
		return scale{lo, hi, true, n}
	}
	if pad := math.Max(math.Abs(lo), math.Abs(hi)) * 1e-9; hi-lo <= pad {
		pad = math.Max(math.Abs(lo)*0.05, 1e-12)
		if lo == 0 {
			pad = 1
		}
		lo, hi = lo-pad, hi+pad
		if math.IsInf(lo, 0) || math.IsInf(hi, 0) {
			lo, hi = -math.MaxFloat64, math.MaxFloat64
		}
	}
	return scale{lo, hi, false, n}
}

// Ticks returns round values from min to max, at most about want of them, and
// the step between them; on a log axis decades and, where there is room, their 2 and 5.
func Ticks(min, max float64, want int, log bool) (ticks []float64, step float64) {
	if want < 1 || !(max > min) || math.IsInf(max, 0) || math.IsInf(min, 0) {
		return nil, 0
	}
	if log && min > 0 {
		return logTicks(min, max, want), 0
	}
	raw := (max/2 - min/2) / float64(want) * 2
	power := math.Pow(10, math.Floor(math.Log10(raw)))
	step = 10 * power
	for _, f := range []float64{1, 2, 5} {
		if f*power >= raw {
			step = f * power
			break
		}
	}
	if !(step > 0) || math.IsInf(step, 0) {
		return nil, 0
	}
	first := math.Ceil(min/step - 1e-9)
	for i := 0; i <= want+1; i++ {
		v := (first + float64(i)) * step
		if v > max+step*1e-9 || math.IsInf(v, 0) {
			break
		}
		ticks = append(ticks, v)
	}
	return ticks, step
}

func logTicks(min, max float64, want int) []float64 {
	decades := math.Log10(max / min)
	factors := []float64{1, 2, 5}
	if decades*3 > float64(want) {
		factors = factors[:1]
	}
	skip := 1 + int(decades/float64(want))
	var ticks []float64
	low := int(math.Floor(math.Log10(min)))
	for e := low; e <= int(math.Ceil(math.Log10(max))); e += skip {
		for _, f := range factors {
			if v := f * math.Pow(10, float64(e)); v >= min*(1-1e-9) && v <= max*(1+1e-9) {
				ticks = append(ticks, v)
			}
		}
	}
	return ticks
}

// tickText writes a tick with as many decimals as the step needs.
func tickText(v, step float64) string {
	switch {
	case math.Abs(v) < step*1e-6:
		return "0"
	case step == 0:
		return strconv.FormatFloat(v, 'g', 3, 64)
	case math.Abs(v) >= 1e6 || step < 1e-4:
		return strconv.FormatFloat(v, 'g', 4, 64)
	}
	decimals := int(math.Max(0, -math.Floor(math.Log10(step)+1e-9)))
	return strconv.FormatFloat(v, 'f', decimals, 64)
}
