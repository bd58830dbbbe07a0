package motion

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"eha/strokewise/ident/trace"
)

// ideal makes a log of a machine without any dynamics: the speed follows the
// command (rad/s), the rod the motor by perTurn (m/rad).
func ideal(t testing.TB, period, perTurn float64, command []float64) *trace.Trace {
	theta, x := make([]float64, len(command)), make([]float64, len(command))
	x[0] = 0.1
	for i := 1; i < len(command); i++ {
		theta[i] = theta[i-1] + command[i-1]*period
		x[i] = 0.1 + perTurn*theta[i]
	}
	tr, err := trace.New("ideal", period, 0, map[trace.Channel][]float64{
		trace.SpeedCommand: command, trace.MotorPosition: theta, trace.RodPosition: x}, nil)
	if err != nil {
		t.Fatal(err)
	}
	return tr
}

// constant appends value for a time of so many samples.
func constant(to []float64, value float64, samples int) []float64 {
	for range samples {
		to = append(to, value)
	}
	return to
}

func TestSlopeOfALineAndAParabola(t *testing.T) {
	y := make([]float64, 100)
	for i := range y {
		x := float64(i) * 0.01
		y[i] = 3 + 2*x + 5*x*x
	}
	tr, err := trace.New("parabola", 0.01, 0, map[trace.Channel][]float64{trace.RodPosition: y}, []trace.Span{{From: 40, To: 50}})
	if err != nil {
		t.Fatal(err)
	}
	got := Slope(tr, y, 0.05)
	for i := range y {
		x := float64(i) * 0.01
		want, limit := 2+10*x, 1e-9 // a symmetric line fit takes the parabola's slope exactly
		switch {
		case i >= 40 && i < 50:
			want = 0
		case i == 0 || i == 39 || i == 50 || i == 99:
			limit = 0.051 // one-sided over one sample: half a sample of curvature
		}
		near(t, "slope", got[i], want, limit)
	}
}

func TestSegmentsOfAnIdealRun(t *testing.T) {
	var u []float64
	u = constant(u, 0, 1000)
	u = constant(u, 100, 500)
	u = constant(u, -98, 500)
	u = constant(u, 0, 600)
	for i := range 800 {
		u = append(u, float64(i)/4)
	}
	u = constant(u, 200, 400)
	u = constant(u, 0, 100)
	tr := ideal(t, 1e-3, 4e-4, u)
	m := Find(tr)
	var kinds []Kind
	for _, s := range m.Segments {
		if s.Span.Len() > 250 {
			kinds = append(kinds, s.Kind)
		}
	}
	want := []Kind{Rest, Steady, Steady, Rest, Accelerating, Steady}
	if len(kinds) != len(want) {
		t.Fatalf("kinds %v, want %v", kinds, want)
	}
	for i := range want {
		if kinds[i] != want[i] {
			t.Errorf("segment %d is %v, want %v", i, kinds[i], want[i])
		}
	}
	if len(m.Reversals) != 1 {
		t.Fatalf("%d reversals, want 1", len(m.Reversals))
	}
	near(t, "reversal", tr.TimeAt(m.Reversals[0].Span.From), 1.5, 0.05)
	near(t, "stroke per turn", m.StrokePerTurn, 4e-4, 1e-9)
}

func TestGapsBreakSegments(t *testing.T) {
	u := constant(nil, 100, 3000)
	full := ideal(t, 1e-3, 4e-4, u)
	samples := map[trace.Channel][]float64{}
	for _, c := range full.Channels() {
		samples[c], _ = full.Samples(c)
	}
	gap := trace.Span{From: 1200, To: 1333}
	tr, err := trace.New("gap", 1e-3, 0, samples, []trace.Span{gap})
	if err != nil {
		t.Fatal(err)
	}
	segments := Find(tr).Segments
	if len(segments) != 2 {
		t.Fatalf("%d segments, want 2: %v", len(segments), segments)
	}
	for _, s := range segments {
		if s.Span.From < gap.To && s.Span.To > gap.From {
			t.Errorf("segment %v runs into the gap %v", s.Span, gap)
		}
	}
}

// multisine is a sum of lines of equal size and random phase between low and high (Hz).
func multisine(rng *rand.Rand, samples int, period, repeat, low, high float64) []float64 {
	y := make([]float64, samples)
	for k := int(math.Ceil(low * repeat)); float64(k) <= high*repeat; k++ {
		phase := rng.Float64() * 2 * math.Pi
		for i := range y {
			y[i] += math.Cos(2*math.Pi*float64(k)*float64(i)*period/repeat + phase)
		}
	}
	return y
}

func TestMultisineOfUnknownPeriod(t *testing.T) {
	for _, c := range []struct{ repeat, long, bias, ramp float64 }{
		{0.5, 5, 0, 0}, {0.7, 3.5, 20, 0}, {1, 8, 50, 5}, {2.346, 9.384, -20, 0}, {5, 20, 0, 0}, {10, 20, 0, -3}, {4, 20, 10, 0},
	} {
		rng := rand.New(rand.NewPCG(7, uint64(c.repeat*1000)))
		const before = 3000
		u := constant(nil, 0, before)
		for i, v := range multisine(rng, int(c.long*1000), 1e-3, c.repeat, max(1/c.repeat, 0.4), 20) {
			u = append(u, c.bias+c.ramp*float64(i)*1e-3+2*v+0.2*rng.NormFloat64())
		}
		u = constant(u, 0, 2000)
		found := PeriodicSpans(ideal(t, 1e-3, 4e-4, u))
		if len(found) != 1 {
			t.Errorf("period %g s: found %v", c.repeat, found)
			continue
		}
		p := found[0]
		near(t, "period (s)", float64(p.Period)*1e-3, c.repeat, 0.0005)
		if want := int(c.long/c.repeat + 1e-6); p.Periods != want {
			t.Errorf("period %g s: %d periods, want %d", c.repeat, p.Periods, want)
		}
		// A period longer than two samples cannot be shifted unnoticed by a fiftieth of itself.
		near(t, "from (s)", float64(p.Span.From)*1e-3, before*1e-3, 0.021*c.repeat+0.01)
	}
}

func TestNoExcitationWhereThereIsNone(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 2))
	cases := map[string][]float64{"noise": nil, "ringing": nil, "steps": nil, "reversals": nil, "smooth": nil}
	for i := range 30000 {
		s := float64(i) * 1e-3
		cases["noise"] = append(cases["noise"], rng.NormFloat64())
		cases["ringing"] = append(cases["ringing"], 30*math.Sin(2*math.Pi*6.3*s))
		cases["steps"] = append(cases["steps"], 100*math.Floor(math.Mod(s, 3))+0.3*rng.NormFloat64())
		cases["reversals"] = append(cases["reversals"], math.Copysign(40, math.Sin(2*math.Pi*s/1.4)))
		cases["smooth"] = append(cases["smooth"], 100*math.Pow(math.Sin(math.Pi*s/2.5), 3))
	}
	for name, u := range cases {
		if found := PeriodicSpans(ideal(t, 1e-3, 4e-4, u)); len(found) != 0 {
			t.Errorf("%s: found %v", name, found)
		}
	}
}

// secondOrder passes the command through a speed loop of natural frequency w
// (rad/s) and damping 0.7 whose acceleration is limited.
func secondOrder(u []float64, period, w, limit float64) []float64 {
	out := make([]float64, len(u))
	var n, a float64
	const sub = 10
	for i := range u {
		for range sub {
			da := w*w*(u[i]-n) - 1.4*w*a
			a = min(max(a+da*period/sub, -limit), limit)
			n += a * period / sub
		}
		out[i] = n
	}
	return out
}

func TestAccelerationLimit(t *testing.T) {
	var u []float64
	for range 5 {
		u = constant(constant(u, 0, 400), 200, 600)
	}
	for _, c := range []struct {
		limit float64
		met   bool
	}{{2000, true}, {5000, true}, {1e9, false}} {
		n := secondOrder(u, 1e-3, 2*math.Pi*15, c.limit)
		tr := ideal(t, 1e-3, 4e-4, n)
		samples := map[trace.Channel][]float64{trace.SpeedCommand: u}
		for _, ch := range []trace.Channel{trace.MotorPosition, trace.RodPosition} {
			samples[ch], _ = tr.Samples(ch)
		}
		tr, err := trace.New("limited", 1e-3, 0, samples, nil)
		if err != nil {
			t.Fatal(err)
		}
		met := 0
		for _, l := range Find(tr).Limits {
			if l.Kind == AccelLimit {
				met++
				near(t, "limit", l.Level, c.limit, 0.05*c.limit) // the plateau's edges are smoothed
			}
		}
		if (met > 0) != c.met {
			t.Errorf("limit %g: met %d times, want met %v", c.limit, met, c.met)
		}
	}
}

func TestQuantileAgainstSorting(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 4))
	for _, n := range []int{1, 2, 3, 10, 1001} {
		y := make([]float64, n)
		for i := range y {
			y[i] = float64(rng.IntN(n)) // with ties
		}
		sorted := slices.Sorted(slices.Values(y))
		for _, q := range []float64{0, 0.1, 0.5, 0.98, 1} {
			if got, want := Quantile(y, q), sorted[min(n-1, int(q*float64(n)))]; got != want {
				t.Errorf("quantile %g of %d: got %g, want %g", q, n, got, want)
			}
		}
	}
}

func TestShortAndOddLogs(t *testing.T) {
	for _, n := range []int{2, 3, 21, 25, 100} {
		u := make([]float64, n)
		for i := range u {
			u[i] = float64(i % 7)
		}
		Find(ideal(t, 1e-3, 4e-4, u))
		Find(ideal(t, 0.3, 4e-4, u))
		tr, err := trace.New("one", 1e-3, 0, map[trace.Channel][]float64{trace.CapPressure: u}, []trace.Span{{From: 0, To: n}})
		if err != nil {
			t.Fatal(err)
		}
		Find(tr)
	}
}

func BenchmarkFind600k(b *testing.B) {
	rng := rand.New(rand.NewPCG(1, 1))
	var u []float64
	for len(u) < 600000 {
		u = constant(constant(constant(u, 0, 1000), 100, 2000), -50, 3000)
		u = append(u, multisine(rng, 10000, 1e-3, 5, 0.4, 20)...)
	}
	tr := ideal(b, 1e-3, 4e-4, u[:600000])
	b.ResetTimer()
	for range b.N {
		Find(tr)
	}
}
