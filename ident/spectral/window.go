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
	n := float64(len(x))
	var sum, moment float64
	mid := (n - 1) / 2
	for i, v := range x {
		sum += v
		moment += (float64(i) - mid) * v
	}
	mean, slope := sum/n, 0.0
	if len(x) > 1 {
		slope = moment / (n * (n*n - 1) / 12)
	}
	for i := range x {
		x[i] -= mean + slope*(float64(i)-mid)
	}
}
