package response

import (
	"math"
	"math/cmplx"

	"eha/strokewise/ident/plant"
)

// scatterSpan is how many neighbours to each side the scatter of a line is averaged over.
const scatterSpan = 2

// widenByScatter adds to the error bars what neighbouring lines scatter about a
// smooth curve. Friction bends the response of a multisine in a way that repeats
// with every period, so that the periods agree to the last digit and yet no line
// is right; with phases drawn at random that distortion looks like noise from
// line to line.
//
//	d_k = H_k - interpolation of its neighbours,  var(d) = 1.5 σ²
//
// R. Pintelon and J. Schoukens, "System Identification: A Frequency Domain
// Approach", on stochastic non-linear distortions (value from memory).
func widenByScatter(f *plant.FrequencyResponse) {
	n := len(f.Omega)
	if n < 3 {
		return
	}
	squared := make([]float64, n)
	for k := 1; k+1 < n; k++ {
		share := complex((f.Omega[k]-f.Omega[k-1])/(f.Omega[k+1]-f.Omega[k-1]), 0)
		d := f.Measured[k] - f.Measured[k-1] - share*(f.Measured[k+1]-f.Measured[k-1])
		// Each of real and imaginary part has half the power.
		squared[k] = real(d*cmplx.Conj(d)) / 3
	}
	squared[0], squared[n-1] = squared[1], squared[n-2]
	for k := range f.RelError {
		sum, count := 0.0, 0.0
		for j := max(k-scatterSpan, 0); j <= min(k+scatterSpan, n-1); j++ {
			sum, count = sum+squared[j], count+1
		}
		if size := cmplx.Abs(f.Measured[k]); size > 0 {
			f.RelError[k] = math.Hypot(f.RelError[k], math.Sqrt(sum/count)/size)
		}
	}
}
