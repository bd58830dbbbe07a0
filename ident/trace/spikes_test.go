package trace

import (
	"math"
	"math/rand/v2"
	"testing"
)

// quiet lists motions that hold no spike, however abrupt.
func quiet(rng *rand.Rand) map[string][]float64 {
	n := 20_000
	make1 := func(f func(i int) float64) []float64 {
		x := make([]float64, n)
		for i := range x {
			x[i] = f(i)
		}
		return x
	}
	phase := 0.0
	return map[string][]float64{
		"noise":             make1(func(int) float64 { return rng.NormFloat64() }),
		"heavy noise":       make1(func(int) float64 { return rng.NormFloat64() / (0.3 + rng.Float64()) }),
		"coarse":            make1(func(i int) float64 { return math.Round(5 * math.Sin(float64(i)*0.002)) }),
		"coarse and noisy":  make1(func(i int) float64 { return math.Round(5*math.Sin(float64(i)*0.002) + 0.4*rng.NormFloat64()) }),
		"steps":             make1(func(i int) float64 { return 100*float64(i/500%2) + 0.01*rng.NormFloat64() }),
		"steps, no noise":   make1(func(i int) float64 { return 100 * float64(i/500%2) }),
		"pulses of 5":       make1(func(i int) float64 { return 100*b2f(i%400 < 5) + 0.01*rng.NormFloat64() }),
		"ringing":           make1(func(i int) float64 { return 50 * math.Exp(-float64(i%1000)*0.02) * math.Cos(float64(i%1000)*0.6) }),
		"rare single steps": make1(func(i int) float64 { return math.Floor(float64(i) / 1000) }),
		"flickering bit":    make1(func(i int) float64 { return 7 + 0.01*b2f(i%97 == 0) }),
		"chirp": make1(func(i int) float64 {
			phase += 0.001 + 1.2*float64(i)/float64(n)
			return 10*math.Sin(phase) + 0.02*rng.NormFloat64()
		}),
	}
}

func TestNoSpikeIsInvented(t *testing.T) {
	for name, x := range quiet(rand.New(rand.NewPCG(3, 4))) {
		before := append([]float64(nil), x...)
		if found := despike(x, RodPosition, func(i int) float64 { return float64(i) }); len(found) > 0 {
			t.Errorf("%s: %d spikes found, the first %+v", name, len(found), found[0])
		}
		for i := range x {
			if x[i] != before[i] {
				t.Fatalf("%s: sample %d changed", name, i)
			}
		}
	}
}

func TestSpikesAreFoundAndBridged(t *testing.T) {
	rng := rand.New(rand.NewPCG(5, 6))
	clean := make([]float64, 10_000)
	for i := range clean {
		clean[i] = 200*math.Sin(float64(i)*0.002) + 0.05*rng.NormFloat64()
	}
	x := append([]float64(nil), clean...)
	planted := []Span{{1000, 1001}, {2500, 2502}, {4000, 4003}, {7001, 7002}}
	for k, s := range planted {
		for i := s.From; i < s.To; i++ {
			x[i] += 60 * float64(1-2*(k%2))
		}
	}
	found := despike(x, RodPosition, func(i int) float64 { return float64(i) })
	if len(found) != len(planted) {
		t.Fatalf("found %+v, want %v", found, planted)
	}
	for k, s := range planted {
		if f := found[k]; int(f.Time) < s.From || int(f.Time) >= s.To || f.Samples != s.Len() {
			t.Errorf("found %+v, want %v", f, s)
		}
		for i := s.From; i < s.To; i++ {
			if math.Abs(x[i]-clean[i]) > 0.5 { // a few noise widths on a line over 3 samples
				t.Errorf("sample %d bridged with %g, want about %g", i, x[i], clean[i])
			}
		}
	}
}

func TestHeldChannels(t *testing.T) {
	rng := rand.New(rand.NewPCG(8, 9))
	n := 20_000
	held := func(every, jitter int) []float64 {
		x := make([]float64, n)
		next, v := 0, 0.0
		for i := range x {
			if i >= next {
				v = math.Sin(float64(i)*0.01) + 0.01*rng.NormFloat64()
				next += every
				if jitter > 0 {
					next += rng.IntN(2*jitter+1) - jitter
				}
			}
			x[i] = v
		}
		return x
	}
	for _, every := range []int{2, 4, 10, 100} {
		if got := heldPeriod(held(every, 0)); got != every {
			t.Errorf("held for %d samples: found %d", every, got)
		}
	}
	for name, x := range quiet(rng) {
		if name == "pulses of 5" || name == "steps, no noise" || name == "rare single steps" || name == "flickering bit" {
			continue // regular by their making
		}
		if got := heldPeriod(x); got != 0 {
			t.Errorf("%s: held for %d samples, want none", name, got)
		}
	}
}

func TestQuantum(t *testing.T) {
	rng := rand.New(rand.NewPCG(10, 11))
	for _, c := range []struct {
		name           string
		q, noise, want float64
		decimals       float64
	}{
		{"noise of one step", 0.01, 0.01, 0.01, 1e-9},
		{"noise of ten steps", 0.01, 0.1, 0.01, 1e-9},
		{"printed with fewer digits", 0.0153, 0.02, 0.0153, 1e-3},
		{"fine", 1e-9, 0.1, 0, 1e-12},
	} {
		x := make([]float64, 50_000)
		for i := range x {
			v := 20*math.Sin(float64(i)*1e-4) + c.noise*rng.NormFloat64()
			x[i] = math.Round(math.Round(v/c.q)*c.q/c.decimals) * c.decimals
		}
		if got := quantum(x); math.Abs(got-c.want) > 0.01*c.want {
			t.Errorf("%s: found %g, want %g", c.name, got, c.want)
		}
	}
}

// A fine encoder at a steady speed advances by nearly the same every sample, which is no
// step of it; a coarse one at the same speed shows its step.
func TestSteadySpeedIsNoStep(t *testing.T) {
	fine, coarse := make([]float64, 3000), make([]float64, 3000)
	for i := range fine {
		turns := 0.010298*float64(i) + 2e-5*math.Sin(float64(i)/9)
		fine[i] = math.Round(turns*131072) / 131072
		coarse[i] = math.Round(turns*150) / 150
	}
	if q := quantum(fine); q > 1e-4 {
		t.Errorf("fine encoder: step %g", q)
	}
	if q := quantum(coarse); math.Abs(q-1.0/150) > 1e-4 {
		t.Errorf("encoder of 150 counts: step %g", q)
	}
}
