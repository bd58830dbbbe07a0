package trace

import "math"

// quantum returns the smallest step of a channel, 0 where its differences show none.
func quantum(x []float64) float64 {
	var steps []float64
	stride := max(1, len(x)/20000)
	for i := stride; i < len(x); i += stride {
		if d := math.Abs(x[i] - x[i-1]); d > 0 {
			steps = append(steps, d)
		}
	}
	if len(steps) < 20 {
		return 0
	}
	median(steps)
	// The smallest steps, a stray one apart, are one quantum each.
	q := steps[len(steps)/100]
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
	fits, tried := 0, 0
	for _, d := range steps {
		if m := d / q; m < 8 {
			tried++
			if math.Abs(m-math.Round(m)) < 0.15 {
				fits++
			}
		}
	}
	if tried < 20 || 10*fits < 9*tried {
		return 0
	}
	return q
}

// heldPeriod returns after how many samples a channel is updated, where the
// recorder repeats it between updates, and 0 where it does not.
func heldPeriod(x []float64) int {
	var changes []int
	for i := 1; i < len(x); i++ {
		if x[i] != x[i-1] {
			changes = append(changes, i)
		}
	}
	if len(changes) < 20 {
		return 0
	}
	times := map[int]int{}
	for i := 1; i < len(changes); i++ {
		times[changes[i]-changes[i-1]]++
	}
	m := 0
	for d, n := range times {
		if n > times[m] || n == times[m] && d < m {
			m = d
		}
	}
	if m < 2 {
		return 0
	}
	// Every change must fall on a multiple of the period after the one before, with a
	// sample of play, and most on the next one: a rounded slow signal changes at any time.
	regular, next := 0, 0
	for i := 1; i < len(changes); i++ {
		d := changes[i] - changes[i-1]
		off := d % m
		if d >= m-1 && (off <= 1 && (m > 3 || off == 0) || off == m-1 && m > 3) {
			regular++
		}
		if d <= m+1 {
			next++
		}
	}
	if 20*regular < 19*(len(changes)-1) || 4*next < len(changes) {
		return 0
	}
	return m
}
