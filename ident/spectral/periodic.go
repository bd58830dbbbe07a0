package spectral

import (
	"math"
	"math/cmplx"
)

// Periodic holds the Fourier coefficients of a signal that was played over and
// over, one set per period, as complex amplitudes: a line is Re(c·e^(jωt)), t
// counted from the period's first sample.
type Periodic struct {
	Omega  []float64      // rad/s
	Period [][]complex128 // [period][line]
}

// PeriodicLines transforms count whole periods of n samples each, taken one
// after the other from the start of x. A drift is taken out of each by the
// straight line from its first sample to the first of the next, so that x needs
// count*n+1 samples: a periodic signal on a steady drift comes out exact.
// period is the sample period (s). x is not modified. Lines above the Nyquist
// frequency are left out. It panics if x is too short or n or count not positive.
func PeriodicLines(x []float64, period float64, n, count int) Periodic {
	if n <= 0 || count <= 0 || len(x) < n*count+1 {
		panic("spectral: signal shorter than its periods")
	}
	t := NewTransform(n)
	lines := n/2 + 1
	p := Periodic{Omega: make([]float64, lines), Period: make([][]complex128, count)}
	for k := range p.Omega {
		p.Omega[k] = 2 * math.Pi * float64(k) / (float64(n) * period)
	}
	for i := range p.Period {
		p.Period[i] = make([]complex128, lines)
	}
	a, b, beyond := make([]float64, n), make([]float64, n), make([]complex128, lines)
	for i := 0; i < count; i += 2 { // two periods in one transform
		levelled(a, x[i*n:(i+1)*n+1])
		second := beyond
		if i+1 < count {
			levelled(b, x[(i+1)*n:(i+2)*n+1])
			second = p.Period[i+1]
		}
		t.Pair(p.Period[i], second, a, b)
	}
	for _, c := range p.Period {
		for k := range c {
			c[k] = scale(2/float64(n), c[k])
		}
	}
	return p
}

// levelled writes into dst the period x less the straight line from its first sample to the
// first of the next, which is the last in x.
func levelled(dst, x []float64) {
	slope := (x[len(dst)] - x[0]) / float64(len(dst))
	for j := range dst {
		dst[j] = x[j] - x[0] - slope*float64(j)
	}
}

// Mean returns line k averaged over the periods.
func (p Periodic) Mean(k int) complex128 {
	var sum complex128
	for _, c := range p.Period {
		sum += c[k]
	}
	return sum / complex(float64(len(p.Period)), 0)
}

// MeanError returns one standard deviation of the mean of line k, each of real
// and imaginary part, from the spread over the periods; +Inf with a single period.
func (p Periodic) MeanError(k int) float64 {
	n := float64(len(p.Period))
	if n < 2 {
		return math.Inf(1)
	}
	mean, sum := p.Mean(k), 0.0
	for _, c := range p.Period {
		d := cmplx.Abs(c[k] - mean)
		sum += d * d
	}
	return math.Sqrt(sum / (2 * n * (n - 1)))
}
