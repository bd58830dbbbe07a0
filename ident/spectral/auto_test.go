package spectral

import (
	"math"
	"testing"
)

// TestAutoSpectrumParseval: the integral of the density is the variance, whatever
// trend lies under the signal.
func TestAutoSpectrumParseval(t *testing.T) {
	const n = 100_000
	x := noise(11, n)
	for i := range x {
		x[i] = 2*x[i] + 100 - 0.01*float64(i)
	}
	a, err := AutoSpectrum(x, 1e-3, 1000)
	if err != nil {
		t.Fatal(err)
	}
	// 200 segments of 500 lines: the variance is known to about 0.5 %.
	if got := a.Variance(0, math.Inf(1)); math.Abs(got-4) > 0.06 {
		t.Errorf("variance from the spectrum %.3f, want 4.000", got)
	}
	flat := 4 / 500.0
	for _, k := range []int{2, 100, 400} {
		if math.Abs(a.Density[k]-flat) > 0.4*flat {
			t.Errorf("density of line %d: %.5f, want %.5f", k, a.Density[k], flat)
		}
	}
}

func TestAutoSpectrumRefuses(t *testing.T) {
	bad := noise(1, 100)
	bad[3] = math.NaN()
	for name, call := range map[string]func() error{
		"odd segments": func() error { _, err := AutoSpectrum(noise(1, 100), 1, 31); return err },
		"short signal": func() error { _, err := AutoSpectrum(noise(1, 100), 1, 128); return err },
		"not a number": func() error { _, err := AutoSpectrum(bad, 1, 32); return err },
	} {
		if call() == nil {
			t.Errorf("%s: no error", name)
		}
	}
}
