package trace

import (
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"strings"
	"testing"
)

// journey is an invented motion without a repeat: turns of the motor over time.
func journey(t float64) float64 {
	return 20*math.Sin(0.9*t) + 9*math.Sin(2.3*t+1) + 4*math.Sin(5.1*t+2) + 1.5*math.Sin(0.013*t*t+t)
}

// twoRecorders returns recordings of one journey: the second's clock reads
// (t - offset)/(1 + drift) where the first's reads t. The transducer is late by so much (s).
func twoRecorders(t *testing.T, rng *rand.Rand, offset, drift, late float64, shared bool) (a, b *Trace) {
	t.Helper()
	const n = 40_000
	motor, cmd := make([]float64, n), make([]float64, n)
	for i := range motor {
		at := float64(i) * 1e-3
		motor[i] = 2*math.Pi*journey(at) + 0.002*rng.NormFloat64()
		cmd[i] = journey(at + 0.01)
	}
	a, err := New("a", 1e-3, 0, map[Channel][]float64{MotorPosition: motor, SpeedCommand: cmd}, nil)
	if err != nil {
		t.Fatal(err)
	}
	m := 10_000
	rod, force, again := make([]float64, m), make([]float64, m), make([]float64, m)
	for i := range rod {
		at := float64(i)*2.5e-3*(1+drift) + offset
		rod[i] = 0.2 + 0.0025*journey(at-late) + 5e-6*rng.NormFloat64()
		force[i] = 50e5 + 1e5*journey(at)
		again[i] = 2*math.Pi*journey(at) + 0.002*rng.NormFloat64()
	}
	second := map[Channel][]float64{RodPosition: rod, Force: force}
	if shared {
		second[MotorPosition] = again
	}
	b, err = New("b", 2.5e-3, 0, second, nil)
	if err != nil {
		t.Fatal(err)
	}
	return a, b
}

func TestJoinFindsOffsetAndDrift(t *testing.T) {
	for _, c := range []struct {
		name   string
		shared bool
		near   float64 // s, of the offset; the transducer may be late by 0 to 10 ms
	}{{"on a shared channel", true, 1e-3}, {"on encoder against transducer", false, 7e-3}} {
		t.Run(c.name, func(t *testing.T) {
			rng := rand.New(rand.NewPCG(21, 22))
			const repeats = 20
			inOffset, inDrift := 0, 0
			for range repeats {
				offset, drift := 2+10*rng.Float64(), (rng.Float64()-0.5)*2e-4
				a, b := twoRecorders(t, rng, offset, drift, 10e-3*rng.Float64(), c.shared)
				joined, joint, err := Join(a, b)
				if err != nil {
					t.Fatal(err)
				}
				exact := offset + drift*joint.Middle
				if joint.OffsetLow <= exact && exact <= joint.OffsetHigh {
					inOffset++
				}
				if joint.DriftLow <= drift && drift <= joint.DriftHigh {
					inDrift++
				}
				if math.Abs(joint.Offset-exact) > c.near || math.Abs(joint.Drift-drift) > 1e-4 {
					t.Errorf("offset %g drift %g, want %g and %g (%+v)", joint.Offset, joint.Drift, exact, drift, joint)
				}
				checkJoined(t, joined, c.near)
			}
			// Of 20 intervals of 95 %, under 16 come true once in 400 tests.
			if inOffset < 16 || inDrift < 16 {
				t.Errorf("%d and %d of %d intervals hold offset and drift", inOffset, inDrift, repeats)
			}
		})
	}
}

// checkJoined compares the second's force, which follows the journey exactly,
// with the first's motor position, sample by sample, which may be off by so much time (s).
func checkJoined(t *testing.T, joined *Trace, off float64) {
	t.Helper()
	if !joined.Has(MotorPosition, SpeedCommand, RodPosition, Force) || joined.Period() != 1e-3 {
		t.Fatalf("channels %v, period %g", joined.Channels(), joined.Period())
	}
	p, _ := joined.Samples(Force)
	for i := 100; i < joined.Len()-100; i += 97 {
		want := 50e5 + 1e5*journey(joined.TimeAt(i))
		// At the fastest 60 rev/s, and the line over 2.5 ms.
		if math.Abs(p[i]-want) > (0.02+60*off)*1e5 {
			t.Fatalf("force at %g s is %g, want %g", joined.TimeAt(i), p[i], want)
		}
	}
}

func TestJoinIsExactWithoutNoise(t *testing.T) {
	x := make([]float64, 20_000)
	for i := range x {
		x[i] = journey(float64(i) * 1e-3)
	}
	a, err := New("a", 1e-3, 5, map[Channel][]float64{MotorPosition: x[:15_000]}, nil)
	if err != nil {
		t.Fatal(err)
	}
	b, err := New("b", 1e-3, -1, map[Channel][]float64{MotorPosition: x[4_000:], RodPosition: x[4_000:]}, []Span{{100, 200}})
	if err != nil {
		t.Fatal(err)
	}
	joined, joint, err := Join(a, b)
	if err != nil {
		t.Fatal(err)
	}
	// Sample 4000 is at 9 s on the first's clock and at -1 s on the second's.
	if math.Abs(joint.Offset-10) > 1e-6 || math.Abs(joint.Drift) > 1e-7 {
		t.Errorf("%+v, want an offset of 10 s and no drift", joint)
	}
	if joined.Len() < 10_999 || joined.Len() > 11_000 {
		t.Errorf("%d samples, want the 11,000 that both hold", joined.Len())
	}
	if g := joined.Gaps(); len(g) != 1 || g[0].From > 100 || g[0].To < 200 || g[0].Len() > 104 {
		t.Errorf("gaps %v, want the second's from 100 to 200", g)
	}
}

func TestJoinRefuses(t *testing.T) {
	rng := rand.New(rand.NewPCG(31, 32))
	make1 := func(c Channel, f func(t float64) float64) *Trace {
		x := make([]float64, 8000)
		for i := range x {
			x[i] = f(float64(i) * 2e-3)
		}
		tr, err := New("x", 2e-3, 0, map[Channel][]float64{c: x}, nil)
		if err != nil {
			t.Fatal(err)
		}
		return tr
	}
	walk := func(float64) float64 { return rng.NormFloat64() }
	for name, pair := range map[string][2]*Trace{
		"nothing in common":   {make1(CapPressure, journey), make1(RodPosition, journey)},
		"not alike":           {make1(MotorPosition, journey), make1(MotorPosition, walk)},
		"a move that repeats": {make1(MotorPosition, func(t float64) float64 { return math.Sin(4 * t) }), make1(MotorPosition, func(t float64) float64 { return math.Sin(4 * t) })},
		"at rest":             {make1(MotorPosition, func(float64) float64 { return 3 }), make1(RodPosition, func(float64) float64 { return 3 })},
	} {
		if _, joint, err := Join(pair[0], pair[1]); !errors.Is(err, ErrNotJoined) {
			t.Errorf("%s: joined with %+v, error %v", name, joint, err)
		}
	}
}

func TestJoinReadingsKeepsTheFactsOfBoth(t *testing.T) {
	var first, second strings.Builder
	first.WriteString("time_s,motor_position_rev,speed_command_rpm\n")
	second.WriteString("time_ms;cap_pressure_bar;motor_position_rev;note\n")
	for i := range 8000 {
		at := float64(i) * 2e-3
		fmt.Fprintf(&first, "%.3f,%.5f,%.2f\n", at, journey(at), 100*journey(at))
		if i < 100 || i >= 150 {
			pressure := fmt.Sprintf("%.3f", 50+journey(at+1.5))
			switch i {
			case 3000:
				pressure = "250.000"
			case 4000:
				pressure = ""
			}
			fmt.Fprintf(&second, "%.1f;%s;%.5f;0\n", 1000*at, pressure, journey(at+1.5))
		}
	}
	r, err := JoinReadings(readText(t, first.String(), ReadOptions{}), readText(t, second.String(), ReadOptions{}))
	if err != nil {
		t.Fatal(err)
	}
	if !r.Trace.Has(CapPressure, MotorPosition, SpeedCommand) || r.Joint == nil || math.Abs(r.Joint.Offset-1.5) > 1e-4 {
		t.Fatalf("channels %v, joint %+v; want an offset of 1.5 s", r.Trace.Channels(), r.Joint)
	}
	if len(r.Spikes) != 1 || math.Abs(r.Spikes[0].Time-7.5) > 2e-3 || r.Bridged[CapPressure] != 1 || len(r.Clock.Missing) != 1 || math.Abs(r.Clock.Missing[0].From-1.698) > 2e-3 {
		t.Errorf("spikes %v, bridged %v, missing %v", r.Spikes, r.Bridged, r.Clock.Missing)
	}
	if len(r.SHA256) != 129 || r.Rows != 15_950 || len(r.Guesses) != 4 {
		t.Errorf("hash %q, %d rows, guesses %v", r.SHA256, r.Rows, r.Guesses)
	}
}

// Four seconds leave few windows for a scatter. The rod itself comes up to a quarter of its
// natural period late, 8 ms at 30 Hz, which looks like an offset of the clocks.
func TestJoinShortRecordings(t *testing.T) {
	const offset = 0.37
	rng := rand.New(rand.NewPCG(31, 32))
	for range 12 {
		late, size, rate := 8e-3*rng.Float64(), 0.6+0.6*rng.Float64(), 4+3*rng.Float64()
		turns := func(s float64) float64 {
			return size * (math.Tanh(rate*(s-1)) - 0.7*math.Tanh(0.6*rate*(s-2.2)))
		}
		motor, rod := make([]float64, 4000), make([]float64, 4000)
		for i := range motor {
			s := float64(i) * 1e-3
			motor[i], rod[i] = 2*math.Pi*turns(s), 0.1+0.002*turns(s-late)+2e-6*rng.NormFloat64()
		}
		a, errA := New("a", 1e-3, 0, map[Channel][]float64{MotorPosition: motor}, nil)
		b, errB := New("b", 1e-3, 0.3-offset, map[Channel][]float64{RodPosition: rod[300:3700]}, nil)
		if errA != nil || errB != nil {
			t.Fatal(errA, errB)
		}
		_, j, err := Join(a, b)
		switch {
		case err != nil:
			t.Error(err)
		case offset < j.OffsetLow || offset > j.OffsetHigh:
			t.Errorf("rod late by %.1f ms: offset %g to %g, true %g", 1e3*late, j.OffsetLow, j.OffsetHigh, offset)
		}
	}
}
