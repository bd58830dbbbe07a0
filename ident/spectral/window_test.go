package spectral

import (
	"math"
	"math/cmplx"
	"testing"
)

// TestHannFigures checks the window against F. J. Harris, "On the use of windows
// for harmonic analysis with the discrete Fourier transform", Proc. IEEE 66(1),
// 1978, doi:10.1109/PROC.1978.10837, table 1, periodic form; digits beyond the
// table's computed from the closed form.
func TestHannFigures(t *testing.T) {
	const n = 4096
	w := Hann(n)
	var sum, squares, overlap float64
	for i, v := range w {
		sum += v
		squares += v * v
		if i < n/2 {
			overlap += v * w[i+n/2]
		}
	}
	half := response(w, 0.5) / sum
	side := 0.0
	for bins := 2.0; bins < 8; bins += 0.01 {
		side = max(side, response(w, bins)/sum)
	}
	for _, c := range []struct {
		what             string
		got, want, limit float64
	}{
		{"coherent gain", sum / n, 0.5, 1e-12},
		{"equivalent noise bandwidth (bins)", n * squares / (sum * sum), 1.5, 1e-12},
		{"overlap correlation at half overlap", overlap / squares, 1.0 / 6, 1e-9},
		{"scallop loss (dB)", 20 * math.Log10(half), -1.424, 5e-4},
		// Sought here on steps of a hundredth of a bin, in the reference on
		// coarser ones: 0.02 dB lie between them.
		{"highest side lobe (dB)", 20 * math.Log10(side), -31.48, 0.02},
	} {
		if math.Abs(c.got-c.want) > c.limit {
			t.Errorf("%s: got %.6g, want %.6g within %g", c.what, c.got, c.want, c.limit)
		}
	}
}

// response returns the magnitude of the window's spectrum at a fractional bin.
func response(w []float64, bins float64) float64 {
	var s complex128
	for i, v := range w {
		s += complex(v, 0) * cmplx.Rect(1, -2*math.Pi*bins*float64(i)/float64(len(w)))
	}
	return cmplx.Abs(s)
}

func TestDetrendTakesLineOut(t *testing.T) {
	x := make([]float64, 101)
	for i := range x {
		x[i] = 3 - 0.25*float64(i)
	}
	detrend(x)
	for i, v := range x {
		if math.Abs(v) > 1e-12 {
			t.Fatalf("sample %d: %g left of a straight line", i, v)
		}
	}
}
