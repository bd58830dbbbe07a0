package trace

import (
	"math"
	"slices"
)

// quantum returns the smallest step of a channel, 0 where its differences show none.
func quantum(x []float64) float64 {
	var steps, before []float64 // differences other than zero, and in the same order the one before each
	stride := max(1, len(x)/4000)
	for i := stride; i < len(x); i += stride {
		if d := math.Abs(x[i] - x[i-1]); d > 0 {
			steps = append(steps, d)
			before = append(before, math.Abs(x[i-1]-x[max(i-2, 0)]))
		}
	}
	if len(steps) < 20 {
		return 0
	}
	// The smallest steps, a stray one apart, are one quantum each.
	sorted := slices.Sorted(slices.Values(steps))
	q := sorted[len(sorted)/100]
	for range 3 {
		var sum, count float64
		for _, d := range steps {
			if m := math.Round(d / q); m >= 1 && m <= 6 {
				sum += d
				count += m
			}
		}
		if count == 0 {
			return 0
		}
		q = sum / count
	}
	fits, tried, differ := 0, 0, 0
	for i, d := range steps {
		if m := d / q; m < 8 {
			tried++
			if math.Abs(m-math.Round(m)) < 0.15 {
				fits++
			}
			if math.Round(before[i]/q) != math.Round(m) {
				differ++
			}
		}
	}
	// At a steady speed all differences are alike, and no steps.
	if tried < 20 || 10*fits < 9*tried || 20*differ < tried {
		return 0
	}
	return q
}

// longestHold bounds the search for a held channel (samples).
const longestHold = 4096

// heldPeriod returns after how many samples a channel is updated, where the
// recorder repeats it between updates, and 0 where it does not.
func heldPeriod(x []float64) int {
	m := usualHold(x)
	if m < 2 {
		return 0
	}
	// Every change must fall on a multiple of the period after the one before, with a
	// sample of play, and many on the next one: a rounded slow signal changes at any time.
	changes, regular, next, last := 0, 0, 0, -1
	for i := 1; i < len(x); i++ {
		if x[i] == x[i-1] {
			continue
		}
		if last >= 0 {
			d := i - last
			off := d % m
			changes++
			if off == 0 || m > 3 && d >= m-1 && (off == 1 || off == m-1) {
				regular++
			}
			if d <= m+1 {
				next++
			}
		}
		last = i
	}
	if changes < 20 || 20*regular < 19*changes || 4*next < changes {
		return 0
	}
	return m
}

// usualHold returns the most frequent distance between changes, 0 where
// neighbours change so often that nothing is held.
func usualHold(x []float64) int {
	var times [longestHold]int32
	changes, last := 0, 0
	for i := 1; i < len(x); i++ {
		if x[i] == x[i-1] {
			continue
		}
		times[min(i-last, longestHold-1)]++
		last = i
		changes++
		if changes&1023 == 0 && int(times[1])*10 > changes {
			return 0
		}
	}
	best := 0
	for d, n := range times[:longestHold-1] {
		if n > times[best] {
			best = d
		}
	}
	return best
}
