package window

import (
	"errors"
	"math"
	"math/rand/v2"
	"testing"

	"eha/strokewise/ident/trace"
)

// sampled returns f at n samples of the period.
func sampled(n int, period float64, f func(t float64) float64) []float64 {
	y := make([]float64, n)
	for i := range y {
		y[i] = f(float64(i) * period)
	}
	return y
}

func TestSlideMovesDerivativesOntoTheBump(t *testing.T) {
	const period, omega = 0.001, 2 * math.Pi * 7
	y := sampled(1000, period, func(t float64) float64 { return math.Sin(omega * t) })
	derivatives := [][]float64{
		y,
		sampled(1000, period, func(t float64) float64 { return omega * math.Cos(omega*t) }),
		sampled(1000, period, func(t float64) float64 { return -omega * omega * math.Sin(omega*t) }),
		sampled(1000, period, func(t float64) float64 { return -math.Pow(omega, 3) * math.Cos(omega*t) }),
		sampled(1000, period, func(t float64) float64 { return math.Pow(omega, 4) * math.Sin(omega*t) }),
	}
	s := NewSlider(6, 0.08, 0.01, period, len(y))
	for k, d := range derivatives {
		got, want := s.Slide(y, k), s.Slide(d, 0)
		var largest float64
		for _, w := range want {
			largest = math.Max(largest, math.Abs(w))
		}
		for w := range got {
			// The quadrature of a smooth function over a bump is exact to the
			// correction of its moments, well under a thousandth.
			if math.Abs(got[w]-want[w]) > 1e-3*largest {
				t.Fatalf("derivative %d, window %d: got %g, want %g within %g", k, w, got[w], want[w], 1e-3*largest)
			}
		}
	}
}

func TestSlideIsBlindToConstantAndSlope(t *testing.T) {
	const period = 0.004
	y := sampled(400, period, func(t float64) float64 { return 1e3 + 50*t })
	for _, order := range []int{4, 6} {
		s := NewSlider(order, 0.08, 0.01, period, len(y))
		if s.Samples() != MinSamples {
			t.Fatalf("window of %d samples, want the least of %d", s.Samples(), MinSamples)
		}
		for w, v := range s.Slide(y, 2) {
			// 1e3 times double rounding, over the width squared.
			if math.Abs(v) > 1e-8 {
				t.Fatalf("order %d, window %d: second derivative of a straight line %g, want 0", order, w, v)
			}
		}
	}
}

func TestSlideAheadTakesADelayOut(t *testing.T) {
	const period, delay = 0.001, 0.0023
	f := func(t float64) float64 { return math.Sin(40*t) + math.Cos(11*t) }
	y := sampled(800, period, f)
	late := sampled(800, period, func(t float64) float64 { return f(t - delay) })
	s := NewSlider(4, 0.08, 0.01, period, len(y))
	for k := range 3 {
		want, got := s.Slide(y, k), s.SlideAhead(late, k, delay)
		for w := range want[:len(want)-1] {
			if limit := 2e-5 * math.Pow(40, float64(k)); math.Abs(got[w]-want[w]) > limit {
				t.Fatalf("derivative %d, window %d: got %g, want %g within %g", k, w, got[w], want[w], limit)
			}
		}
	}
}

func TestMaskAndSide(t *testing.T) {
	y := sampled(500, 0.001, func(t float64) float64 { return 0.25 - t })
	log, err := trace.New("a.csv", 0.001, 0, map[trace.Channel][]float64{trace.RodPosition: y}, []trace.Span{{From: 100, To: 102}})
	if err != nil {
		t.Fatal(err)
	}
	s := NewSlider(4, 0.05, 0.01, 0.001, len(y))
	m := NewMask(log)
	m.MarkWhere(5, func(i int) bool { return i >= 400 && i < 405 })
	usable, side := m.Usable(s), Side(s, y, 0.02)
	for w := range usable {
		from, to := s.Start(w), s.Start(w)+s.Samples()
		clear := (to <= 100 || from >= 102) && (to <= 395 || from >= 410)
		if usable[w] != clear {
			t.Errorf("window %d to %d: usable %v, want %v", from, to, usable[w], clear)
		}
		want := 0
		if y[to-1] > 0.02 {
			want = 1
		} else if y[from] < -0.02 {
			want = -1
		}
		if side[w] != want {
			t.Errorf("window %d to %d: side %d, want %d", from, to, side[w], want)
		}
	}
}

func TestRateAndSmoothOfALine(t *testing.T) {
	y := sampled(300, 0.002, func(t float64) float64 { return 5 + 3*t })
	for i, v := range Rate(y, 0.002, 0.01) {
		if math.Abs(v-3) > 1e-9 {
			t.Fatalf("rate at %d: got %g, want 3", i, v)
		}
	}
	for i, v := range Smooth(y, 0.002, 0.01)[10:290] {
		if math.Abs(v-y[i+10]) > 1e-9 {
			t.Fatalf("smooth at %d: got %g, want %g", i+10, v, y[i+10])
		}
	}
}

// noisy makes y = 2 a - 3 b + 0.5 with noise of the size sigma in the logged a.
func noisy(rng *rand.Rand, n int, sigma float64) Problem {
	clean, logged := make([]float64, n), make([]float64, n)
	b, y, block := make([]float64, n), make([]float64, n), make([]int, n)
	for i := range n {
		clean[i] = math.Sin(0.02*float64(i)) + rng.NormFloat64()
		b[i] = rng.NormFloat64()
		logged[i] = clean[i] + sigma*rng.NormFloat64()
		y[i] = 2*clean[i] - 3*b[i] + 0.5
		block[i] = i / 50
	}
	return Problem{Y: y, X: [][]float64{logged, b, ones(n)}, Z: [][]float64{clean, b, ones(n)}, Block: block}
}

func TestSolveExactWithoutNoise(t *testing.T) {
	p := noisy(rand.New(rand.NewPCG(1, 2)), 500, 0)
	f, err := Solve(p)
	if err != nil {
		t.Fatal(err)
	}
	for j, want := range []float64{2, -3, 0.5} {
		if math.Abs(f.Coef[j]-want) > 1e-8 {
			t.Errorf("coefficient %d: got %.12g, want %g", j, f.Coef[j], want)
		}
	}
}

func TestInstrumentsTakeTheBiasOut(t *testing.T) {
	p := noisy(rand.New(rand.NewPCG(3, 4)), 4000, 0.5)
	with, err := Solve(p)
	if err != nil {
		t.Fatal(err)
	}
	p.Z = nil
	without, err := Solve(p)
	if err != nil {
		t.Fatal(err)
	}
	// The attenuation of plain least squares is 1.5/(1.5+0.25) of the value 2.
	if math.Abs(without.Coef[0]-2) < 0.15 {
		t.Errorf("without instruments: got %g, expected the textbook bias to about 1.7", without.Coef[0])
	}
	if math.Abs(with.Coef[0]-2) > 4*with.Sigma(0) || with.Sigma(0) > 0.05 {
		t.Errorf("with instruments: got %g +- %g, want 2", with.Coef[0], with.Sigma(0))
	}
}

func TestSandwichCoversWhenRowsOverlap(t *testing.T) {
	rng := rand.New(rand.NewPCG(5, 6))
	inside, tries := 0, 300
	for range tries {
		n := 1500
		x, y, block := make([]float64, n), make([]float64, n), make([]int, n)
		var ex, ee float64
		for i := range n {
			// Both are correlated over some 10 rows, as overlapping windows are.
			ex, ee = 0.9*ex+rng.NormFloat64(), 0.9*ee+rng.NormFloat64()
			x[i], y[i], block[i] = ex, 1.5*ex+ee, i/60
		}
		f, err := Solve(Problem{Y: y, X: [][]float64{x}, Block: block})
		if err != nil {
			t.Fatal(err)
		}
		if math.Abs(f.Coef[0]-1.5) < 1.96*f.Sigma(0) {
			inside++
		}
	}
	// 95 % less what 25 blocks lose (some 3 %) and three standard deviations of the count.
	if share := float64(inside) / float64(tries); share < 0.89 {
		t.Errorf("coverage %.3f of 95 %% intervals, want at least 0.89", share)
	}
}

func TestPriorDecidesWhatTheRowsCannot(t *testing.T) {
	p := noisy(rand.New(rand.NewPCG(7, 8)), 500, 0)
	for i := range p.Y {
		p.Y[i] += 0.01 * math.Sin(float64(i*i))
	}
	p.X = append(p.X, p.X[0])
	p.Z = nil
	if _, err := Solve(p); !errors.Is(err, ErrUnexcited) {
		t.Fatalf("two equal columns: error %v, want ErrUnexcited", err)
	}
	p.Priors = []Prior{{}, {}, {}, {Mean: 0.5, Sigma: 0.1}}
	f, err := Solve(p)
	if err != nil {
		t.Fatal(err)
	}
	if math.Abs(f.Coef[3]-0.5) > 1e-3 || math.Abs(f.Sigma(3)-0.1) > 0.01 {
		t.Errorf("coefficient from its prior: got %g +- %g, want 0.5 +- 0.1", f.Coef[3], f.Sigma(3))
	}
	if math.Abs(f.Coef[0]-1.5) > 0.01 {
		t.Errorf("its neighbour: got %g, want 1.5", f.Coef[0])
	}
}

func TestOutliersAreWeighedDown(t *testing.T) {
	p := noisy(rand.New(rand.NewPCG(9, 10)), 600, 0)
	for i := range p.Y {
		p.Y[i] += 0.01 * math.Sin(float64(i*i))
		if i%40 == 0 {
			p.Y[i] += 20
		}
	}
	f, err := Solve(p)
	if err != nil {
		t.Fatal(err)
	}
	if math.Abs(f.Coef[2]-0.5) > 0.005 {
		t.Errorf("constant with 2.5 %% outliers of 20: got %g, want 0.5 within 0.005", f.Coef[2])
	}
}

func TestSolveRefusesTooFewRows(t *testing.T) {
	if _, err := Solve(noisy(rand.New(rand.NewPCG(1, 1)), 8, 0)); !errors.Is(err, ErrTooFew) {
		t.Errorf("8 rows for 3 unknowns: error %v, want ErrTooFew", err)
	}
}

func BenchmarkSlide(b *testing.B) {
	y := sampled(600000, 0.001, math.Sin)
	s := NewSlider(4, 0.08, 0.01, 0.001, len(y))
	for b.Loop() {
		s.Slide(y, 2)
	}
}

func TestKnownNoiseTakesTheBiasOut(t *testing.T) {
	const sigma = 0.5
	p := noisy(rand.New(rand.NewPCG(13, 14)), 4000, sigma)
	p.Z = nil
	p.Noise = [][]float64{make([]float64, 4000), make([]float64, 4000), make([]float64, 4000)}
	for i := range p.Noise[0] {
		p.Noise[0][i] = sigma
	}
	f, err := Solve(p)
	if err != nil {
		t.Fatal(err)
	}
	// Weights that depend on the residual leave a little of the bias.
	if math.Abs(f.Coef[0]-2) > 4*f.Sigma(0)+0.03 || f.Sigma(0) > 0.05 {
		t.Errorf("with the noise known: got %g +- %g, want 2", f.Coef[0], f.Sigma(0))
	}
}

func TestNoiseOfASlide(t *testing.T) {
	rng := rand.New(rand.NewPCG(15, 16))
	y := sampled(200000, 0.001, func(float64) float64 { return rng.NormFloat64() })
	s := NewSlider(4, 0.08, 0.1, 0.001, len(y))
	first, second := s.Slide(y, 1), s.Slide(y, 2)
	var sum float64
	for w := range first {
		v := first[w] + 0.002*second[w]
		sum += v * v
	}
	got, want := math.Sqrt(sum/float64(len(first))), s.Noise(1, 0.002)
	// 2000 windows tell a standard deviation to 1.6 %.
	if math.Abs(got-want) > 0.06*want {
		t.Errorf("noise of a slide: got %g, want %g within 6 %%", got, want)
	}
}
