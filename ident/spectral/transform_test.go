package spectral

import (
	"math"
	"math/cmplx"
	"math/rand/v2"
	"testing"
)

// slowDFT is the definition of the transform.
func slowDFT(x []complex128) []complex128 {
	n := len(x)
	out := make([]complex128, n)
	for k := range out {
		for i, v := range x {
			out[k] += v * cmplx.Rect(1, -2*math.Pi*float64(i*k%n)/float64(n))
		}
	}
	return out
}

func noise(seed uint64, n int) []float64 {
	rng := rand.New(rand.NewPCG(seed, 1))
	x := make([]float64, n)
	for i := range x {
		x[i] = rng.NormFloat64()
	}
	return x
}

func TestTransformAgainstDefinition(t *testing.T) {
	// 1e-12 of the largest coefficient: rounding of sums of a few hundred terms.
	for _, n := range []int{1, 2, 7, 64, 97, 360, 511} {
		x := make([]complex128, n)
		re, im := noise(1, n), noise(2, n)
		for i := range x {
			x[i] = complex(re[i], im[i])
		}
		got, want := NewTransform(n).Coefficients(nil, x), slowDFT(x)
		for k := range want {
			if d := cmplx.Abs(got[k] - want[k]); d > 1e-12*float64(n) {
				t.Errorf("length %d line %d: got %g, want %g, off by %g", n, k, got[k], want[k], d)
			}
		}
	}
}

func TestPairIsTwoTransforms(t *testing.T) {
	for _, n := range []int{60, 61, 256} {
		a, b := noise(3, n), noise(4, n)
		fa, fb := make([]complex128, n/2+1), make([]complex128, n/2+1)
		NewTransform(n).Pair(fa, fb, a, b)
		for s, f := range map[int][]complex128{0: fa, 1: fb} {
			x := make([]complex128, n)
			for i := range x {
				x[i] = complex([][]float64{a, b}[s][i], 0)
			}
			want := slowDFT(x)
			for k := range f {
				if cmplx.Abs(f[k]-want[k]) > 1e-12*float64(n) {
					t.Fatalf("length %d signal %d line %d: got %g, want %g", n, s, k, f[k], want[k])
				}
			}
		}
	}
}

func TestSmoothLengths(t *testing.T) {
	for n, want := range map[int]int{1: 1, 7: 6, 100: 100, 1001: 1000, 4097: 4096} {
		if got := SmoothAtMost(n); got != want {
			t.Errorf("SmoothAtMost(%d) = %d, want %d", n, got, want)
		}
	}
}
