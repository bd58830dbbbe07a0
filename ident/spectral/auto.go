package spectral

import (
	"fmt"
	"math"

	"github.com/mjibson/go-dsp/spectral"
)

// Auto is a one-sided power spectral density: its integral over Omega/2π is the
// signal's variance.
type Auto struct {
	Omega   []float64 // rad/s
	Density []float64 // unit² per Hz
}

// AutoSpectrum estimates the power spectral density of x, sampled at period (s),
// by averaging Hann-windowed segments of n samples at half overlap. Each
// segment's straight line is taken out first. x is not modified.
//
// It returns an error if n is odd or under 8, if x is shorter than n or if a
// sample is not finite.
//
// P. D. Welch, "The use of fast Fourier transform for the estimation of power
// spectra", IEEE Trans. Audio Electroacoustics 15(2), 1967, pp. 70-73.
func AutoSpectrum(x []float64, period float64, n int) (Auto, error) {
	if n < 8 || n%2 != 0 {
		return Auto{}, fmt.Errorf("spectral: auto-spectrum: segments of %d samples, need an even number of at least 8", n)
	}
	if len(x) < n {
		return Auto{}, fmt.Errorf("spectral: auto-spectrum: %d samples, need a segment of %d", len(x), n)
	}
	if !finite(x) {
		return Auto{}, fmt.Errorf("spectral: auto-spectrum: a sample is not a finite number")
	}
	a := Auto{Omega: make([]float64, n/2+1), Density: make([]float64, n/2+1)}
	segment := make([]float64, n)
	// Segments go one by one: the library averages them but takes out no trend.
	opt := &spectral.PwelchOptions{NFFT: n, Window: Hann}
	count := 0
	for from := 0; from+n <= len(x); from += n / 2 {
		copy(segment, x[from:from+n])
		detrend(segment)
		density, _ := spectral.Pwelch(segment, 1/period, opt)
		for k, d := range density {
			a.Density[k] += d
		}
		count++
	}
	for k := range a.Omega {
		a.Omega[k] = 2 * math.Pi * float64(k) / (float64(n) * period)
		a.Density[k] /= float64(count)
	}
	return a, nil
}

// Variance returns the integral of the density from angular frequency from to to (rad/s).
func (a Auto) Variance(from, to float64) float64 {
	step := a.Omega[1] / (2 * math.Pi)
	sum := 0.0
	for k, omega := range a.Omega {
		if omega >= from && omega <= to {
			sum += a.Density[k] * step
		}
	}
	return sum
}

func finite(x []float64) bool {
	for _, v := range x {
		if math.IsNaN(v) || math.IsInf(v, 0) {
			return false
		}
	}
	return true
}
