package trace

import "slices"

// median returns the median of x, which it reorders, and 0 for none.
func median(x []float64) float64 {
	if len(x) == 0 {
		return 0
	}
	slices.Sort(x)
	h := len(x) / 2
	if len(x)%2 == 1 {
		return x[h]
	}
	return (x[h-1] + x[h]) / 2
}
