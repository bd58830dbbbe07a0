package spectral

import (
	"fmt"
	"math/cmplx"
	"testing"

	"gonum.org/v1/gonum/dsp/fourier"
)

// Every mixture of the stages gives what gonum's transform gives, to the rounding
// of either: the coefficients are about √n large.
func TestFFTAgainstGonum(t *testing.T) {
	for _, n := range []int{1, 2, 3, 4, 5, 6, 8, 9, 10, 15, 16, 25, 30, 32, 120, 243, 600, 625, 1200, 2000, 4096, 8192, 8640, 30000} {
		x, re, im := make([]complex128, n), noise(8, n), noise(9, n)
		for i := range x {
			x[i] = complex(re[i], im[i])
		}
		want := fourier.NewCmplxFFT(n).Coefficients(nil, x)
		f := newFFT(n)
		for range 2 { // the second time with a work space that is not clear
			got := append([]complex128(nil), x...)
			f.transform(got)
			for k := range want {
				if cmplx.Abs(got[k]-want[k]) > 1e-14*float64(n) {
					t.Fatalf("length %d line %d: got %g, want %g", n, k, got[k], want[k])
				}
			}
		}
	}
}

// BenchmarkFFT sets the transform beside gonum's, at the length of the comparison
// with general tools and at that of the program's segments of 2 s at 1 kHz.
func BenchmarkFFT(b *testing.B) {
	for _, n := range []int{2000, 8192} {
		x, re, im := make([]complex128, n), noise(8, n), noise(9, n)
		for i := range x {
			x[i] = complex(re[i], im[i])
		}
		work := make([]complex128, n)
		b.Run(fmt.Sprint("own/", n), func(b *testing.B) {
			f := newFFT(n)
			for b.Loop() {
				copy(work, x)
				f.transform(work)
			}
		})
		b.Run(fmt.Sprint("gonum/", n), func(b *testing.B) {
			f := fourier.NewCmplxFFT(n)
			for b.Loop() {
				f.Coefficients(work, x)
			}
		})
	}
}
