package trace

import (
	"fmt"
	"math"
	"math/rand/v2"
	"strings"
	"testing"
)

// timed writes a log of a moving motor whose samples are taken at the times given
// and stamped as stamps say.
func timed(times, stamps []float64, decimals int) string {
	var b strings.Builder
	b.WriteString("time_s,motor_position_rev,rod_position_mm\n")
	for i, t := range times {
		fmt.Fprintf(&b, "%.*f,%.6f,%.4f\n", decimals, stamps[i], 20*math.Sin(3*t), 100+50*math.Sin(3*t+0.1))
	}
	return b.String()
}

func even(n int, period, start float64) []float64 {
	t := make([]float64, n)
	for i := range t {
		t[i] = start + float64(i)*period
	}
	return t
}

func TestEvenTimeGivesThePeriodAndTheStart(t *testing.T) {
	for _, c := range []struct{ period, start float64 }{{1e-3, 0}, {2e-3, -0.5}, {0.5e-3, 1000}, {1. / 3000, 0}, {62.5e-6, 0}, {1e-3, 1.7e9}} {
		times := even(3000, c.period, c.start)
		r := readText(t, timed(times, times, 7), ReadOptions{})
		// Stamps of 0.1 µs tell the mean of 3000 steps to 0.1 µs / 3000; those at 1.7e9 s to 0.24 µs / 3000.
		if math.Abs(r.Trace.Period()-c.period) > 1e-10 || math.Abs(r.Trace.TimeAt(0)-c.start) > 1e-6 || r.Trace.Len() != 3000 {
			t.Errorf("%d samples of %.12g s from %.9g s, want 3000 of %.12g s from %.9g s", r.Trace.Len(), r.Trace.Period(), r.Trace.TimeAt(0), c.period, c.start)
		}
	}
}

// 0.5 ms sampling with stamps in whole milliseconds: each stamp comes twice.
func TestStampsCoarserThanThePeriod(t *testing.T) {
	times := even(4000, 0.5e-3, 0)
	stamps := make([]float64, len(times))
	for i := range stamps {
		stamps[i] = math.Floor(times[i]*1000+1e-9) / 1000
	}
	r := readText(t, timed(times, stamps, 3), ReadOptions{})
	if math.Abs(r.Trace.Period()-0.5e-3) > 1e-9 || r.Trace.Len() != 4000 || len(r.Clock.Backward) > 0 {
		t.Errorf("%d samples of %g s, %d dropped; want 4000 of 0.5 ms", r.Trace.Len(), r.Trace.Period(), len(r.Clock.Backward))
	}
}

func TestJitterOfTheStampsIsToldFromJitterOfTheSampling(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 2))
	times := even(6000, 2e-3, 0)
	jittered := make([]float64, len(times))
	for i := range times {
		jittered[i] = times[i] + 0.2e-3*rng.NormFloat64()
	}
	for _, c := range []struct {
		name       string
		sampled    []float64
		stampsOnly bool
	}{{"stamps", times, true}, {"sampling", jittered, false}} {
		t.Run(c.name, func(t *testing.T) {
			r := readText(t, timed(c.sampled, jittered, 6), ReadOptions{})
			if r.Clock.StampsOnly != c.stampsOnly || r.Trace.Period() != 2e-3 || r.Trace.Len() != len(times) {
				t.Errorf("stamps only %v, %d samples of %g s", r.Clock.StampsOnly, r.Trace.Len(), r.Trace.Period())
			}
			// The standard deviation of 6000 values is known to 1 %; four times that.
			if math.Abs(r.Clock.Jitter/0.2e-3-1) > 0.04 {
				t.Errorf("jitter %g s, want 0.2 ms", r.Clock.Jitter)
			}
			x, _ := r.Trace.Samples(MotorPosition)
			worst := 0.0
			for i := 10; i < len(x)-10; i++ {
				worst = math.Max(worst, math.Abs(x[i]/(2*math.Pi)-20*math.Sin(3*r.Trace.TimeAt(i))))
			}
			// At 60 rev/s the start of the clock, known to 0.2 ms/√6000, makes 0.0002 rev; a
			// straight line over 2 ms of this sine is off by up to 180·(1.5e-3)²/2.
			if worst > 6e-4 {
				t.Errorf("off by up to %g rev", worst)
			}
		})
	}
}

func without(x []float64, spans ...Span) []float64 {
	var y []float64
	for i, v := range x {
		keep := true
		for _, s := range spans {
			keep = keep && (i < s.From || i >= s.To)
		}
		if keep {
			y = append(y, v)
		}
	}
	return y
}

func TestMissingRowsBecomeGaps(t *testing.T) {
	lost := []Span{{100, 101}, {500, 620}, {1500, 1507}}
	times := without(even(2000, 1e-3, 0), lost...)
	r := readText(t, timed(times, times, 6), ReadOptions{})
	if r.Trace.Len() != 2000 || r.Trace.Period() != 1e-3 {
		t.Fatalf("%d samples of %g s, want 2000 of 1 ms", r.Trace.Len(), r.Trace.Period())
	}
	if fmt.Sprint(r.Trace.Gaps()) != fmt.Sprint(lost) {
		t.Errorf("gaps %v, want %v", r.Trace.Gaps(), lost)
	}
	for i, b := range r.Clock.Missing {
		if b.Rows != lost[i].Len() || math.Abs(b.From-float64(lost[i].From-1)*1e-3) > 1e-9 || math.Abs(b.To-float64(lost[i].To)*1e-3) > 1e-9 {
			t.Errorf("block %d: %+v, want rows %v", i, b, lost[i])
		}
	}
	x, _ := r.Trace.Samples(MotorPosition)
	if got, want := x[560], (x[499]*60+x[620]*61)/121; math.Abs(got-want) > 1e-9 {
		t.Errorf("the filler at 560 is %g, want %g on the straight line", got, want)
	}
}

func TestRowsTwiceAndInDisorder(t *testing.T) {
	want := readText(t, timed(even(1000, 1e-3, 0), even(1000, 1e-3, 0), 6), ReadOptions{}).Trace
	lines := strings.Split(strings.TrimSpace(timed(even(1000, 1e-3, 0), even(1000, 1e-3, 0), 6)), "\n")
	lines[300], lines[301] = lines[301], lines[300]
	lines[500] += "\n" + lines[500]
	lines[700] = "0.690000" + lines[700][8:] // a wrong stamp
	r := readText(t, strings.Join(lines, "\n"), ReadOptions{})
	if len(r.Clock.Backward) != 3 || len(r.Clock.Restarts) != 0 || len(r.Trace.Gaps()) != 0 {
		t.Errorf("backward %v, restarts %v, gaps %v; want three, none and none", r.Clock.Backward, r.Clock.Restarts, r.Trace.Gaps())
	}
	// The wrong stamp moves the fitted clock by a hair.
	if got := r.Trace; got.Len() != want.Len() || got.Period() != want.Period() {
		t.Fatalf("%d samples of %g s", got.Len(), got.Period())
	}
	a, _ := r.Trace.Samples(MotorPosition)
	b, _ := want.Samples(MotorPosition)
	for i := range b {
		if a[i] != b[i] {
			t.Fatalf("sample %d is %g, want %g", i, a[i], b[i])
		}
	}
}

// A computer's clock in whole milliseconds, uncertain by a third of the period:
// repeated and backward stamps, but no row is missing or too many.
func TestRoughStampsLoseNoRows(t *testing.T) {
	rng := rand.New(rand.NewPCG(14, 15))
	times := even(20_000, 1e-3, 0)
	stamps := make([]float64, len(times))
	for i := range stamps {
		stamps[i] = math.Round(1000*times[i]+0.3*rng.NormFloat64()) / 1000
	}
	r := readText(t, timed(times, stamps, 3), ReadOptions{})
	if r.Trace.Len() != len(times) || r.Trace.Period() != 1e-3 || len(r.Trace.Gaps()) > 0 || !r.Clock.StampsOnly {
		t.Errorf("%d samples of %g s, gaps %v, stamps only %v; want 20000 of 1 ms and no gap", r.Trace.Len(), r.Trace.Period(), r.Trace.Gaps(), r.Clock.StampsOnly)
	}
}

func TestTimeThatBeginsAnewGivesOneTraceWithABreak(t *testing.T) {
	one := even(500, 1e-3, 0)
	stamps := append(append(append([]float64(nil), one...), one...), one...)
	r := readText(t, timed(stamps, stamps, 6), ReadOptions{})
	if len(r.Clock.Restarts) != 2 || len(r.Trace.Gaps()) != 2 {
		t.Fatalf("restarts %v, gaps %v; want two of each", r.Clock.Restarts, r.Trace.Gaps())
	}
	if r.Trace.Period() != 1e-3 {
		t.Errorf("period %g, want 1 ms", r.Trace.Period())
	}
	x, _ := r.Trace.Samples(MotorPosition)
	second := r.Trace.Gaps()[0].To
	for i := range 500 {
		if x[i] != x[second+i] {
			t.Fatalf("sample %d of the second buffer is %g, want %g as in the first", i, x[second+i], x[i])
		}
	}
}

// A clock 0.1 % fast against its own rounding must not open gaps or lose rows.
func TestPeriodThatIsNoRoundNumber(t *testing.T) {
	times := even(200_000, 1.000731e-3, 0)
	r := readText(t, timed(times, times, 4), ReadOptions{})
	if r.Trace.Len() != len(times) || math.Abs(r.Trace.Period()-1.000731e-3) > 1e-9 || len(r.Trace.Gaps()) > 0 {
		t.Errorf("%d samples of %.10g s, gaps %v", r.Trace.Len(), r.Trace.Period(), r.Trace.Gaps())
	}
}

func TestSampleIndexWithHoles(t *testing.T) {
	r := readText(t, "sample,rod_position_mm,motor_position_rev\n0,0,0\n1,1,1\n2,2,2\n5,5,5\n6,6,6\n7,7,7\n8,8,8\n9,9,9\n10,10,10\n11,11,11\n12,12,12\n", ReadOptions{Period: 2e-3})
	if r.Trace.Len() != 13 || r.Trace.Period() != 2e-3 || fmt.Sprint(r.Trace.Gaps()) != "[{3 5}]" || !r.Clock.Index {
		t.Errorf("%d samples of %g s, gaps %v", r.Trace.Len(), r.Trace.Period(), r.Trace.Gaps())
	}
}

func TestUnitOfTimeToldFromTheSteps(t *testing.T) {
	for _, c := range []struct{ step, period float64 }{{0.001, 1e-3}, {2, 2e-3}, {500, 0.5e-3}, {1e6, 1e-3}} {
		var b strings.Builder
		b.WriteString("t,motor_position_rev,rod_position_mm\n")
		for i := range 50 {
			fmt.Fprintf(&b, "%g,%d,%d\n", float64(i)*c.step, i*i, i)
		}
		r := readText(t, b.String(), ReadOptions{})
		if math.Abs(r.Trace.Period()/c.period-1) > 1e-9 || r.Guesses[0].Sure > 0.8 {
			t.Errorf("step %g: period %g s (sure %g), want %g s with a doubt", c.step, r.Trace.Period(), r.Guesses[0].Sure, c.period)
		}
	}
}

func TestEmptyCells(t *testing.T) {
	var b strings.Builder
	b.WriteString("time_s,motor_position_rev,rod_position_mm\n")
	for i := range 100 {
		cell := fmt.Sprint(i)
		switch {
		case i == 10, i >= 20 && i < 23:
			cell = ""
		case i >= 50 && i < 54:
			cell = "NaN"
		}
		fmt.Fprintf(&b, "%.3f,%s,%d\n", float64(i)*1e-3, cell, i)
	}
	r := readText(t, b.String(), ReadOptions{})
	if r.Bridged[MotorPosition] != 4 || r.Lost[MotorPosition] != 4 || fmt.Sprint(r.Trace.Gaps()) != "[{50 54}]" {
		t.Errorf("bridged %v, lost %v, gaps %v; want 4, 4 and one gap", r.Bridged, r.Lost, r.Trace.Gaps())
	}
	x, _ := r.Trace.Samples(MotorPosition)
	for i := range x {
		if math.Abs(x[i]-2*math.Pi*float64(i)) > 1e-9 {
			t.Fatalf("sample %d is %g, want %g", i, x[i], 2*math.Pi*float64(i))
		}
	}
}
