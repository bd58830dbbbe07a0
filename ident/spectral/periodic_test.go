package spectral

import (
	"math"
	"math/cmplx"
	"testing"
)

// TestPeriodicLinesExact: two lines on a steady drift, in a period whose length
// is a prime, come out exact.
func TestPeriodicLinesExact(t *testing.T) {
	const n, count, dt = 1009, 3, 1e-3
	x := make([]float64, n*count+1)
	for i := range x {
		phase := 2 * math.Pi * float64(i) / n
		x[i] = 5 + 0.3*float64(i) + 2*math.Cos(3*phase+0.4) + 0.5*math.Cos(40*phase-1)
	}
	p := PeriodicLines(x, dt, n, count)
	for k, want := range map[int]complex128{3: cmplx.Rect(2, 0.4), 40: cmplx.Rect(0.5, -1), 7: 0} {
		if got := p.Mean(k); cmplx.Abs(got-want) > 1e-10 {
			t.Errorf("line %d: got %g, want %g", k, got, want)
		}
		if e := p.MeanError(k); e > 1e-10 {
			t.Errorf("line %d: spread %g of a periodic signal, want 0", k, e)
		}
	}
	if want := 2 * math.Pi * 40 / (n * dt); math.Abs(p.Omega[40]-want) > 1e-9 {
		t.Errorf("line 40 at %g rad/s, want %g", p.Omega[40], want)
	}
}

func TestPeriodicMeanError(t *testing.T) {
	const n, count, sigma = 200, 400, 0.1
	x := noise(12, n*count+1)
	for i := range x {
		x[i] = sigma*x[i] + math.Cos(2*math.Pi*10*float64(i)/n)
	}
	p := PeriodicLines(x, 1, n, count)
	// White noise gives each of real and imaginary part sigma·sqrt(2/(n·count)).
	want := sigma * math.Sqrt(2.0/(n*count))
	if got := p.MeanError(30); math.Abs(got-want) > 0.15*want {
		t.Errorf("error of the mean %.3g, want %.3g within 15 %%", got, want)
	}
}
