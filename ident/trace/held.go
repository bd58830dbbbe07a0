package trace

import (
	"math"
	"slices"
)

// irregularHold returns over how many samples at most, and on average, a recorder
// repeats a channel that it updates now and then, and 0, 0 for others. A channel that
// is written anew each time and moves by several of its steps moves by some in the
// next sample too; one that is held never does.
func irregularHold(x []float64, step float64) (longest int, mean float64) {
	const (
		large = 4    // steps
		least = 100  // such changes
		grace = 0.03 // of them, that may follow each other: two updates may fall on neighbours
	)
	var apart []int
	last, neighbours := -1, 0
	for i := 1; i < len(x); i++ {
		d := math.Abs(x[i] - x[i-1])
		if d == 0 {
			continue
		}
		if last >= 0 && d >= large*step {
			apart = append(apart, i-last)
			if i-last == 1 {
				neighbours++
			}
		}
		last = i
	}
	if len(apart) < least || float64(neighbours) > grace*float64(len(apart)) {
		return 0, 0
	}
	slices.Sort(apart)
	sum := 0
	for _, d := range apart {
		sum += min(d, longestHold)
	}
	return apart[len(apart)-1-len(apart)/20], float64(sum) / float64(len(apart))
}

// release draws smooth curves between the updates of a held channel, in place: a
// staircase lags by half its tread on average. What stays the same for longer than
// every samples was level, and is left so.
func release(x []float64, every int) {
	knots := []int{0}
	for i := 1; i < len(x); i++ {
		if x[i] == x[i-1] {
			continue
		}
		if from := max(knots[len(knots)-1], i-every); from > knots[len(knots)-1] {
			knots = append(knots, from)
		}
		knots = append(knots, i)
	}
	throughKnots(x, knots)
}

// throughKnots draws the natural cubic spline through the samples at the knots, in
// place. A straight line would take a fifth off a swing sampled four times a period,
// the spline a fiftieth.
//
// G. Wahba, "Spline Models for Observational Data", SIAM 1990, ch. 1 (the equations of
// the second derivatives are common knowledge; reference from memory).
func throughKnots(x []float64, knots []int) {
	n := len(knots)
	if n < 3 {
		if n == 2 && knots[1]-knots[0] > 1 {
			fill(x, knots[0]+1, knots[1])
		}
		return
	}
	// Tridiagonal equations of the second derivatives, zero at both ends; Thomas' method.
	second, upper := make([]float64, n), make([]float64, n)
	for k := 1; k < n-1; k++ {
		before, after := float64(knots[k]-knots[k-1]), float64(knots[k+1]-knots[k])
		right := 6 * ((x[knots[k+1]]-x[knots[k]])/after - (x[knots[k]]-x[knots[k-1]])/before)
		pivot := 2*(before+after) - before*upper[k-1]
		upper[k] = after / pivot
		second[k] = (right - before*second[k-1]) / pivot
	}
	for k := n - 2; k > 0; k-- {
		second[k] -= upper[k] * second[k+1]
	}
	for k := range n - 1 {
		a, b := knots[k], knots[k+1]
		h := float64(b - a)
		for i := a + 1; i < b; i++ {
			u := float64(i-a) / h
			x[i] = (1-u)*x[a] + u*x[b] - h*h/6*(u*(1-u)*((2-u)*second[k]+(1+u)*second[k+1]))
		}
	}
}
