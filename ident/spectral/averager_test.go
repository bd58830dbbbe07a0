package spectral

import (
	"errors"
	"math"
	"math/cmplx"
	"testing"
)

// TestErrorFormulas holds values of J. S. Bendat and A. G. Piersol's random error
// and of G. C. Carter's threshold, both computed from the formulas by hand
// calculator, not by this code.
func TestErrorFormulas(t *testing.T) {
	for _, c := range []struct{ coherence, n, want float64 }{
		{0.9, 10, 0.07454}, {0.8, 32, 0.0625}, {0.5, 10, 0.2236}, {0.99, 32, 0.01256},
	} {
		if got := RandomError(c.coherence, c.n); math.Abs(got-c.want) > 5e-5 {
			t.Errorf("random error at coherence %g, %g segments: got %.5f, want %.5f", c.coherence, c.n, got, c.want)
		}
	}
	for _, c := range []struct{ n, want float64 }{
		{5, 0.5271}, {10, 0.2831}, {20, 0.1459}, {30, 0.0981}, {50, 0.0593}, {100, 0.0298},
	} {
		if got := ZeroCoherence(c.n); math.Abs(got-c.want) > 5e-5 {
			t.Errorf("zero coherence with %g segments: got %.5f, want %.4f", c.n, got, c.want)
		}
	}
}

// TestIndependentSegments: P. D. Welch 1967 with the Hann window's overlap
// correlation 1/6 gives 9.524 of 10 and 47.42 of 50.
func TestIndependentSegments(t *testing.T) {
	for segments, want := range map[int]float64{10: 9.524, 50: 47.42} {
		a := NewAverager(64, 1, 1)
		a.Add(noise(5, 64+(segments-1)*32))
		if got := a.Independent(); a.segments != segments || math.Abs(got-want) > 5e-3 {
			t.Errorf("%d segments: worth %.3f, want %.3f", segments, got, want)
		}
	}
}

// TestOutputNoise: with noise on the output alone H1 is unbiased and
// γ² = 1/(1+Snn/(|H|²Suu)); with noise on the input alone it is low by
// 1/(1+Smm/Suu) (Bendat and Piersol, from memory).
func TestOutputAndInputNoise(t *testing.T) {
	const n, gain = 400_000, 2.0
	u, e := noise(6, n), noise(7, n)
	y, um := make([]float64, n), make([]float64, n)
	for i := range u {
		y[i] = gain*u[i] + e[i]
		um[i] = u[i] + 0.5*e[i]
	}
	a := NewAverager(256, 1e-3, 4)
	a.Add(u, y, um, um)
	check := func(what string, in, out int, h, coherence float64) {
		r, err := a.Between(in, out)
		if err != nil {
			t.Fatal(err)
		}
		var mean complex128
		var gamma float64
		for k := 2; k < len(r.H)-2; k++ {
			mean += r.H[k] / complex(float64(len(r.H)-4), 0)
			gamma += r.Coherence[k] / float64(len(r.H)-4)
		}
		// 3000 segments over 120 lines: 0.3 % is more than three standard deviations.
		if math.Abs(real(mean)-h) > 0.003*h || math.Abs(gamma-coherence) > 0.003 {
			t.Errorf("%s: H %.4f, want %.4f; coherence %.4f, want %.4f", what, real(mean), h, gamma, coherence)
		}
	}
	check("output noise", 0, 1, gain, 1/(1+1/(gain*gain)))
	check("noise-free instrument for a noisy input", 2, 1, gain, 1/(1+math.Pow((1-0.5*gain), 2)/(gain*gain)))
	b := NewAverager(256, 1e-3, 2)
	clean := make([]float64, n)
	for i := range u {
		clean[i] = gain * u[i]
	}
	b.Add(um, clean)
	r, err := b.Between(0, 1)
	if err != nil {
		t.Fatal(err)
	}
	if got, want := cmplx.Abs(r.H[40]), gain/1.25; math.Abs(got-want) > 0.05*want {
		t.Errorf("input noise: H %.3f, want %.3f", got, want)
	}
}

// TestRandomErrorIsTheSpread compares the error bars with the scatter over many records.
func TestRandomErrorIsTheSpread(t *testing.T) {
	const records, n = 200, 64 * 12
	var sum, squares, claimed float64
	for i := range records {
		u, e := noise(uint64(100+i), n), noise(uint64(900+i), n)
		y := make([]float64, n)
		for j := range y {
			y[j] = u[j] + e[j]
		}
		a := NewAverager(64, 1, 2)
		a.Add(u, y)
		r, _ := a.Between(0, 1)
		m := cmplx.Abs(r.H[10])
		sum += m
		squares += m * m
		claimed += r.RelError[10]
	}
	mean := sum / records
	spread := math.Sqrt(squares/records-mean*mean) / mean
	// The scatter of 200 records is known to 5 %; the formula is first order: 15 %.
	if got := claimed / records; math.Abs(got-spread) > 0.15*spread {
		t.Errorf("claimed random error %.3f, spread %.3f", got, spread)
	}
}

// TestFeedbackBias: u = r - C·y, y = G·u + v with G = C = 1. H1 from u to y is
// pulled towards -1/C, the instrument r is not (FFT of the loop's own equations).
func TestFeedbackBias(t *testing.T) {
	const n = 400_000
	r, v := noise(8, n), noise(9, n)
	u, y := make([]float64, n), make([]float64, n)
	for i := range r {
		u[i] = (r[i] - v[i]) / 2
		y[i] = u[i] + v[i]
	}
	a := NewAverager(256, 1, 3)
	a.Add(r, u, y)
	g, err := a.Between(1, 2)
	if err != nil {
		t.Fatal(err)
	}
	b := NewAverager(256, 1, 2)
	b.Add(u, y)
	h1, err := b.Between(0, 1)
	if err != nil {
		t.Fatal(err)
	}
	// E{H1} = (Srr - Svv)/(Srr + Svv) = 0 here; 0.1 is five standard deviations.
	if cmplx.Abs(g.H[30]-1) > 0.1 || cmplx.Abs(h1.H[30]) > 0.1 {
		t.Errorf("instrument gives %.3f, want 1; H1 gives %.3f, want 0", g.H[30], h1.H[30])
	}
}

func TestTooFewSegments(t *testing.T) {
	a := NewAverager(64, 1, 2)
	a.Add(noise(1, 128), noise(2, 128))
	if _, err := a.Between(0, 1); !errors.Is(err, ErrTooFewSegments) {
		t.Errorf("three segments: got error %v, want ErrTooFewSegments", err)
	}
}

// BenchmarkFrequencyResponse is one input and one output of 10 minutes at 1 kHz.
func BenchmarkFrequencyResponse(b *testing.B) {
	u, y := noise(1, 600_000), noise(2, 600_000)
	for b.Loop() {
		a := NewAverager(8192, 1e-3, 2)
		a.Add(u, y)
		if _, err := a.Between(0, 1); err != nil {
			b.Fatal(err)
		}
	}
}
