package trace

import (
	"fmt"
	"math"
	"math/rand/v2"
	"strings"
	"testing"
)

// sparseLog writes a log of n rows whose oil temperature and rod pressure are
// filled in only where filled says so, made from plain sines and noise.
func sparseLog(n int, filled func(i int) bool) string {
	r := rand.New(rand.NewPCG(7, 8))
	var b strings.Builder
	b.WriteString("time_s,speed_command_rpm,motor_position_rev,rod_position_mm,rod_pressure_bar,oil_temperature_C\n")
	for i := range n {
		t := float64(i) * 1e-3
		fmt.Fprintf(&b, "%.3f,%.1f,%.5f,%.3f,", t, 300*math.Sin(t), 5*math.Sin(t), 60+20*math.Sin(t))
		p, c := 12+4*math.Sin(0.7*t)+0.2*r.NormFloat64(), 35+t/20+0.05*r.NormFloat64()
		if filled(i) {
			fmt.Fprintf(&b, "%.3f,%.1f\n", p, c)
		} else {
			b.WriteString(",\n")
		}
	}
	return b.String()
}

// TestSparseChannelIsHeld reads channels whose cells are left empty between their
// updates: they are held at their own rate, and nothing else is found on them.
func TestSparseChannelIsHeld(t *testing.T) {
	const n = 20001
	irregular := map[int]bool{}
	for r, i := rand.New(rand.NewPCG(1, 2)), 0; i < n; i += 8 + r.IntN(5) {
		irregular[i] = true
	}
	for name, c := range map[string]struct {
		filled func(i int) bool
		every  float64
	}{
		"every second":          {func(i int) bool { return i%2 == 0 }, 2e-3},
		"every tenth":           {func(i int) bool { return i%10 == 0 }, 10e-3},
		"every tenth, offset":   {func(i int) bool { return i%10 == 7 }, 10e-3},
		"every thousandth":      {func(i int) bool { return i%1000 == 0 }, 1},
		"about every tenth":     {func(i int) bool { return irregular[i] }, 10e-3},
		"every tenth to a hole": {func(i int) bool { return i%10 == 0 && (i < 8000 || i > 9000) }, 10e-3},
	} {
		t.Run(name, func(t *testing.T) {
			r := readText(t, sparseLog(n, c.filled), ReadOptions{})
			if len(r.Spikes) > 0 || len(r.Bridged) > 0 {
				t.Errorf("invented: %d spikes, first %+v, bridged %v", len(r.Spikes), r.Spikes[:min(1, len(r.Spikes))], r.Bridged)
			}
			if len(r.Held) != 2 {
				t.Fatalf("held %+v, want rod pressure and oil temperature", r.Held)
			}
			for _, h := range r.Held {
				if math.Abs(h.Period-c.every) > 0.02*c.every {
					t.Errorf("%s is updated every %.4g s, want %.4g s", h.Channel, h.Period, c.every)
				}
			}
			hole := 0
			for _, g := range r.Trace.Gaps() {
				hole += g.Len()
			}
			if want := name == "every tenth to a hole"; (hole > 900) != want || (r.Lost[RodPressure] > 900) != want {
				t.Errorf("%d samples in gaps, %d lost of the rod pressure", hole, r.Lost[RodPressure])
			}
		})
	}
}

// TestSparseSpike plants a spike in one update of a channel filled in every tenth row.
func TestSparseSpike(t *testing.T) {
	text := sparseLog(20000, func(i int) bool { return i%10 == 0 })
	rows := strings.Split(text, "\n")
	cells := strings.Split(rows[10001], ",")
	cells[4] = "180.000"
	rows[10001] = strings.Join(cells, ",")
	r := readText(t, strings.Join(rows, "\n"), ReadOptions{})
	if len(r.Spikes) != 1 || r.Spikes[0].Channel != RodPressure || math.Abs(r.Spikes[0].Time-10) > 1e-6 {
		t.Errorf("spikes %+v, want one of the rod pressure at 10 s", r.Spikes)
	}
}

// TestOneValue reads a log whose temperature and pressure stand in its first row only.
func TestOneValue(t *testing.T) {
	r := readText(t, sparseLog(2000, func(i int) bool { return i == 0 }), ReadOptions{})
	if gaps := r.Trace.Gaps(); len(gaps) > 0 || !r.Trace.Has(OilTemperature) {
		t.Errorf("gaps %v, temperature there: %v", gaps, r.Trace.Has(OilTemperature))
	}
}

// TestSparseCommandIsHeld: a command keeps its value up to the next one.
func TestSparseCommandIsHeld(t *testing.T) {
	var b strings.Builder
	b.WriteString("time_s,speed_command_rpm,motor_position_rev\n")
	for i := range 4000 {
		if i%4 == 0 {
			fmt.Fprintf(&b, "%.3f,%d,%.4f\n", float64(i)*1e-3, i, float64(i)/100)
		} else {
			fmt.Fprintf(&b, "%.3f,,%.4f\n", float64(i)*1e-3, float64(i)/100)
		}
	}
	r := readText(t, b.String(), ReadOptions{})
	x, _ := r.Trace.Samples(SpeedCommand)
	if x[403] != x[400] || x[404] == x[403] {
		t.Errorf("command %v, want it held over four samples", x[400:406])
	}
}

// An encoder that starts again after a turn does so between two values five rows apart as well.
func TestSparseEncoderStartsAgain(t *testing.T) {
	var b strings.Builder
	b.WriteString("time_s,speed_command_rpm,motor_position_rev\n")
	for i := range 10000 {
		s := float64(i) * 1e-3
		fmt.Fprintf(&b, "%.3f,%.1f,", s, 600*math.Cos(s))
		if turns := 10 * math.Sin(s); i%5 == 0 {
			fmt.Fprintf(&b, "%.5f", turns-math.Floor(turns))
		}
		b.WriteString("\n")
	}
	r := readText(t, b.String(), ReadOptions{})
	x, _ := r.Trace.Samples(MotorPosition)
	low, high := usualRange(x)
	if turns := (high - low) / (2 * math.Pi); r.Wrap.Modulus != 1 || math.Abs(turns-20) > 0.2 || len(r.Spikes) > 0 {
		t.Errorf("wrap %+v, %.2f turns, want 20; spikes %v", r.Wrap, turns, r.Spikes)
	}
}

// A recorder that repeats a pressure for 8 to 12 ms, as its bus lets it, is found out, and the
// staircase's lag of half a tread is taken off. A rounded slow signal is none.
func TestIrregularlyHeldChannelIsFound(t *testing.T) {
	wave := func(i int) float64 { return 50 + 20*math.Sin(float64(i)*0.02) + 4*math.Sin(float64(i)*0.047) }
	for name, c := range map[string]struct {
		least, most int
		digits      int
		held        bool
	}{"8 to 12 ms": {8, 12, 3, true}, "2 to 9 ms": {2, 9, 3, true}, "each time": {1, 1, 3, false}, "each time, rounded to 5 bar": {1, 1, -1, false}} {
		rng := rand.New(rand.NewPCG(5, 6))
		var b strings.Builder
		b.WriteString("time_s,speed_command_rpm,motor_position_rev,cap_pressure_bar\n")
		next, value := 0, 0.0
		for i := range 12_000 {
			if i == next {
				value = wave(i)
				next += c.least + rng.IntN(c.most-c.least+1)
			}
			if c.digits < 0 {
				value = 5 * math.Round(wave(i)/5)
			}
			fmt.Fprintf(&b, "%.3f,%.2f,%.5f,%.3f\n", float64(i)*1e-3, wave(i), wave(i), value)
		}
		r := readText(t, b.String(), ReadOptions{})
		mean := float64(c.least+c.most) / 2 * 1e-3
		if held := len(r.Held) == 1 && r.Held[0].Channel == CapPressure; held != c.held || held && math.Abs(r.Held[0].Period-mean) > 0.3*mean {
			t.Fatalf("%s: held %v, want %v every %g s", name, r.Held, c.held, mean)
		}
		if !c.held {
			continue
		}
		p, _ := r.Trace.Samples(CapPressure)
		for i := 50; i < 11_900; i++ {
			if math.Abs(p[i]/1e5-wave(i)) > 0.05 { // the staircase itself is off by 6
				t.Fatalf("%s: pressure %d is %g bar, want %g", name, i, p[i]/1e5, wave(i))
			}
		}
	}
}
