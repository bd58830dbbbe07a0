// Package spectral estimates spectra and frequency responses of uniformly
// sampled signals, each with its own random error. It knows nothing of
// machines; all frequencies are angular (rad/s) and periods are in seconds.
package spectral

import (
	"math"
	"math/cmplx"
)

// Transform is a discrete Fourier transform of one fixed length. It is not safe
// for use by several goroutines at once.
//
// Lengths whose only prime factors are 2, 3 and 5 go straight to the fast
// transform; others are turned into a convolution of such a length (L. I. Bluestein, IEEE Trans. Audio
// Electroacoustics 18(4), 1970, pp. 451-455).
type Transform struct {
	n     int
	fast  *fft
	chirp []complex128 // nil for a direct transform
	bank  []complex128 // transform of the chirp filter
	work  []complex128
	pair  []complex128
}

// NewTransform returns the transform of length n. It panics if n is not positive.
func NewTransform(n int) *Transform {
	if n <= 0 {
		panic("spectral: transform length must be positive")
	}
	if isSmooth(n) {
		return &Transform{n: n, fast: newFFT(n)}
	}
	m := smoothAtLeast(2*n - 1)
	t := &Transform{n: n, fast: newFFT(m), chirp: make([]complex128, n), work: make([]complex128, m)}
	filter := make([]complex128, m)
	for k := range t.chirp {
		// The phase k²π/n has period 2n in k²; reduced, it keeps all its digits.
		phase := math.Pi * float64(int64(k)*int64(k)%int64(2*n)) / float64(n)
		t.chirp[k] = cmplx.Rect(1, -phase)
		filter[k] = cmplx.Rect(1, phase)
		if k > 0 {
			filter[m-k] = filter[k]
		}
	}
	t.fast.transform(filter)
	t.bank = filter
	return t
}

// Len returns the length of the transform.
func (t *Transform) Len() int { return t.n }

// Coefficients returns the sums over i of x[i] e^(-j2πik/n), k from 0 to n-1, in
// dst, which is made where it is nil; dst may be x. It panics if len(x) is not
// the transform's length.
func (t *Transform) Coefficients(dst, x []complex128) []complex128 {
	if len(x) != t.n {
		panic("spectral: signal length differs from the transform's")
	}
	if dst == nil {
		dst = make([]complex128, t.n)
	}
	if t.chirp == nil {
		copy(dst, x)
		t.fast.transform(dst)
		return dst
	}
	clear(t.work)
	for k, c := range t.chirp {
		t.work[k] = x[k] * c
	}
	t.fast.transform(t.work)
	for k, b := range t.bank { // conjugate before and after, the transform runs backwards
		t.work[k] = cmplx.Conj(t.work[k] * b)
	}
	t.fast.transform(t.work)
	for k, c := range t.chirp {
		dst[k] = scale(1/float64(len(t.work)), cmplx.Conj(t.work[k])*c)
	}
	return dst
}

// Pair transforms two real signals at once, as real and imaginary part of one
// complex signal, into their coefficients from 0 to n/2 in fa and fb, each of
// n/2+1 entries. It panics if a length does not fit.
func (t *Transform) Pair(fa, fb []complex128, a, b []float64) {
	if len(a) != t.n || len(b) != t.n || len(fa) != t.n/2+1 || len(fb) != len(fa) {
		panic("spectral: signal lengths differ from the transform's")
	}
	if t.pair == nil {
		t.pair = make([]complex128, t.n)
	}
	for i, v := range a {
		t.pair[i] = complex(v, b[i])
	}
	z := t.Coefficients(t.pair, t.pair)
	back := 0 // the line n-k
	for k := range fa {
		p, q := z[k], cmplx.Conj(z[back])
		fa[k] = scale(0.5, p+q)
		fb[k] = timesJ(scale(-0.5, p-q))
		back = t.n - 1 - k
	}
}

// SmoothAtMost returns the largest length not above n whose only prime factors
// are 2, 3 and 5: a transform of it is fast and exact. It panics if n is not positive.
func SmoothAtMost(n int) int {
	if n <= 0 {
		panic("spectral: length must be positive")
	}
	for !isSmooth(n) {
		n--
	}
	return n
}

func smoothAtLeast(n int) int {
	for !isSmooth(n) {
		n++
	}
	return n
}

func isSmooth(n int) bool {
	for _, p := range [...]int{2, 3, 5} {
		for n%p == 0 {
			n /= p
		}
	}
	return n == 1
}
