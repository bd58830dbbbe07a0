package spectral

import "math"

// Hann returns the Hann window of n samples, 0.5 (1 - cos(2πi/n)), in its
// periodic form: the sample that would repeat the first is left off, so that
// windows at half overlap add up to one.
func Hann(n int) []float64 {
	w := make([]float64, n)
	for i := range w {
		w[i] = 0.5 * (1 - math.Cos(2*math.Pi*float64(i)/float64(n)))
	}
	return w
}

// overlapVariance is twice the squared correlation of neighbouring Hann windows
// at half overlap: what K overlapped segments are worth as independent ones is
//
//	K / (1 + 2 (1-1/K) ρ²),  ρ = 1/6
//
// P. D. Welch, IEEE Trans. Audio Electroacoustics 15(2), 1967, pp. 70-73.
const overlapVariance = 2.0 / 36

// detrend takes the least-squares straight line out of x in place.
func detrend(x []float64) {
	start, slope := trend(x)
	for i := range x {
		x[i] -= start + slope*float64(i)
	}
}

// trend returns the least-squares straight line through x, its value at x[0] and
// its slope per sample. Even and odd samples are summed apart, so that two sums go on
// side by side where one would wait for itself.
func trend(x []float64) (start, slope float64) {
	var even, odd, evenMoment, oddMoment float64
	n := float64(len(x))
	at := -(n - 1) / 2
	i := 0
	for ; i+1 < len(x); i += 2 {
		even += x[i]
		evenMoment += at * x[i]
		odd += x[i+1]
		oddMoment += (at + 1) * x[i+1]
		at += 2
	}
	if i < len(x) {
		even += x[i]
		evenMoment += at * x[i]
	}
	if len(x) > 1 {
		slope = (evenMoment + oddMoment) / (n * (n*n - 1) / 12)
	}
	return (even+odd)/n - slope*(n-1)/2, slope
}
