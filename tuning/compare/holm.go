package compare

import (
	"math"
	"sort"

	"gonum.org/v1/gonum/stat/distuv"
)

// holm returns which of the hypotheses with these p-values are rejected so that
// the chance of any false rejection stays within risk, however they depend on
// each other: the smallest p is held against risk/m, the next against
// risk/(m-1), and so on until one fails.
func holm(p []float64, risk float64) []bool {
	order := make([]int, len(p))
	for i := range order {
		order[i] = i
	}
	sort.SliceStable(order, func(i, j int) bool { return p[order[i]] < p[order[j]] })
	rejected := make([]bool, len(p))
	for k, i := range order {
		if !(p[i] <= risk/float64(len(p)-k)) {
			break
		}
		rejected[i] = true
	}
	return rejected
}

// sample is one figure of one side: mean, variance of the mean and its degrees
// of freedom.
type sample struct {
	n              int
	mean, variance float64
}

// sampleOf summarises values whose own doubts (one standard deviation each) add
// to the scatter seen: few repeats can agree by luck, and a figure is no better
// known than it can be read off.
func sampleOf(values, doubts []float64) sample {
	s := sample{n: len(values)}
	if s.n == 0 {
		return s
	}
	for _, v := range values {
		s.mean += v / float64(s.n)
	}
	square := 0.0
	for i, v := range values {
		square += (v - s.mean) * (v - s.mean) / math.Max(float64(s.n-1), 1)
		square += doubts[i] * doubts[i] / float64(s.n)
	}
	s.variance = square / float64(s.n)
	return s
}

// welch returns the difference after less before with its standard error and
// degrees of freedom, for sides that scatter differently. B. L. Welch, "The
// generalization of Student's problem when several different population
// variances are involved", Biometrika 34, 1947, pp. 28-35 (value from memory).
// Both sides need two values or more.
func welch(before, after sample) (difference, sigma, freedom float64) {
	variance := before.variance + after.variance
	spread := before.variance*before.variance/float64(before.n-1) + after.variance*after.variance/float64(after.n-1)
	freedom = math.Min(float64(before.n-1), float64(after.n-1))
	if spread > 0 {
		freedom = variance * variance / spread
	}
	return after.mean - before.mean, math.Sqrt(variance), freedom
}

// tail returns the chance that Student's t exceeds t.
func tail(t, freedom float64) float64 {
	return distuv.StudentsT{Sigma: 1, Nu: freedom}.Survival(t)
}

// reach returns the half-width of Student's 95 % interval in standard errors.
func reach(freedom float64) float64 {
	return distuv.StudentsT{Sigma: 1, Nu: freedom}.Quantile(0.975)
}
