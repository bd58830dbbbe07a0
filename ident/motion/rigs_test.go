package motion

import (
	"math"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
	"unicode/utf16"

	"eha/strokewise/ident/trace"
)

// rig reads a log of ../shared/rigs with just enough parsing for these tests:
// columns by position, so that a fault of the reader cannot hide one of this package.
func rig(t testing.TB, log string, period float64, toSI map[int]float64, channels map[int]trace.Channel, wrap float64) *trace.Trace {
	t.Helper()
	raw, err := os.ReadFile(filepath.Join("..", "..", "..", "shared", "rigs", filepath.FromSlash(log)))
	if err != nil {
		t.Skip("needs ../shared/rigs beside the module: ", err)
	}
	text := string(raw)
	if raw[0] == 0xff && raw[1] == 0xfe {
		units := make([]uint16, len(raw)/2)
		for i := range units {
			units[i] = uint16(raw[2*i]) | uint16(raw[2*i+1])<<8
		}
		text = string(utf16.Decode(units[1:]))
	}
	samples := map[trace.Channel][]float64{}
	for _, line := range strings.Split(text, "\n") {
		line = strings.TrimSpace(line)
		sep := ","
		if strings.Contains(line, ";") {
			line, sep = strings.ReplaceAll(line, ",", "."), ";"
		}
		cells := strings.Split(line, sep)
		if len(cells) < 6 || strings.Trim(cells[0], "-0123456789.") != "" {
			continue
		}
		for i, c := range channels {
			v, err := strconv.ParseFloat(cells[i], 64)
			if err != nil || math.IsNaN(v) {
				s := samples[c]
				v = s[len(s)-1] / toSI[i]
			}
			samples[c] = append(samples[c], v*toSI[i])
		}
	}
	if wrap > 0 {
		theta := samples[trace.MotorPosition]
		turns := 0.0
		last := theta[0]
		for i, v := range theta {
			if v-last > wrap/2 {
				turns--
			} else if v-last < -wrap/2 {
				turns++
			}
			last = v
			theta[i] = v + turns*wrap
		}
	}
	tr, err := trace.New(filepath.Base(log), period, 0, samples, nil)
	if err != nil {
		t.Fatal(err)
	}
	return tr
}

const (
	rpm = 2 * math.Pi / 60
	rev = 2 * math.Pi
)

var usual = map[int]trace.Channel{1: trace.SpeedCommand, 2: trace.MotorPosition, 3: trace.RodPosition, 4: trace.CapPressure, 5: trace.RodPressure}

func metric() map[int]float64 { return map[int]float64{1: rpm, 2: rev, 3: 1e-3, 4: 1e5, 5: 1e5} }

func with(m map[int]trace.Channel, i int, c trace.Channel) map[int]trace.Channel {
	n := map[int]trace.Channel{i: c}
	for k, v := range m {
		n[k] = v
	}
	return n
}

func scaled(m map[int]float64, i int, f float64) map[int]float64 { m[i] = f; return m }

// press, swap and remote return the rigs' logs by name.
func press(t testing.TB, log string) *trace.Trace {
	return rig(t, "press-vertical/"+log, 1e-3, scaled(metric(), 7, 1e-3), positionIn(log, 7), 0)
}

func swap(t testing.TB, log string) *trace.Trace {
	return rig(t, "swap-horizontal/"+log, 1e-3, scaled(metric(), 8, 1e-3), positionIn(log, 8), 0)
}

func remote(t testing.TB, log string) *trace.Trace {
	inch := map[int]float64{1: rpm, 2: rev / 4096, 3: 25.4e-3, 4: 6894.757, 5: 6894.757, 6: 25.4e-3}
	return rig(t, "remote-counts/"+log, 2e-3, inch, positionIn(log, 6), 16*rev)
}

func positionIn(log string, column int) map[int]trace.Channel {
	if log == "survey.csv" {
		return usual
	}
	return with(usual, column, trace.PositionCommand)
}

// The rigs' surveys hold the moves that their TRUTH.md lists, at the times that
// truth.json lists; those of press-vertical are used here.
func TestSurveyOfARig(t *testing.T) {
	tr := press(t, "survey.csv")
	m := Find(tr)
	for _, k := range []MoveKind{Jog, Hold, SlowStrokes, SpeedSteps, ReversalMove, Multisine, PressHold} {
		if !m.Has(k) {
			t.Errorf("%v not found", k)
		}
	}
	for _, k := range []MoveKind{Pulses, PositionSteps, UsualRun} {
		if m.Has(k) {
			t.Errorf("%v found at %v, there is none", k, m.Spans(k))
		}
	}
	if len(m.Reversals) != 19 { // twenty strokes of 0.7 s, one after the other
		t.Errorf("%d reversals, want 19", len(m.Reversals))
	}
	strokes := m.Spans(SlowStrokes)
	for i, want := range [][2]float64{{11.67, 20.73}, {21.23, 29.74}, {30.24, 39.34}, {39.84, 48.36}} {
		near(t, "slow stroke from", tr.TimeAt(strokes[i].From), want[0], 0.1)
		near(t, "slow stroke to", tr.TimeAt(strokes[i].To), want[1], 0.1)
	}
	hold := m.Spans(PressHold)
	near(t, "pressing from", tr.TimeAt(hold[0].From), 180, 1.5) // the slow press begins at 179.01 without contact
	near(t, "pressing to", tr.TimeAt(hold[len(hold)-1].To), 214.4, 0.3)
	near(t, "stroke per turn (mm/rev)", m.StrokePerTurn*rev*1e3, 2.0, 0.1)
}

// All surveys hold multisines of 20 s; the period, 5 s, was found by hand from
// the speed command.
func TestMultisinesOfTheRigs(t *testing.T) {
	for _, c := range []struct {
		tr   *trace.Trace
		from []float64
	}{
		{press(t, "survey.csv"), []float64{110.978, 134.153, 157.062, 194.403}},
		{swap(t, "survey.csv"), []float64{111.656, 135.279, 158.902}},
		{remote(t, "survey.csv"), []float64{116.66, 140.42, 164.18}},
	} {
		found := PeriodicSpans(c.tr)
		if len(found) != len(c.from) {
			t.Fatalf("%s: %d multisines, want %d: %v", c.tr.Name(), len(found), len(c.from), found)
		}
		for i, p := range found {
			near(t, "period (s)", float64(p.Period)*c.tr.Period(), 5, 0.5*c.tr.Period())
			if p.Periods < 3 { // the first and last quarter of a second are faded
				t.Errorf("multisine at %g s: %d periods", c.from[i], p.Periods)
			}
			if from, to := c.tr.TimeAt(p.Span.From), c.tr.TimeAt(p.Span.To); from < c.from[i]-0.05 || to > c.from[i]+20.05 {
				t.Errorf("multisine at %g to %g s, played at %g s", from, to, c.from[i])
			}
		}
	}
}

// The closed-loop logs hold eight steps and four smooth moves, and no excitation.
func TestClosedLoopLogsOfTheRigs(t *testing.T) {
	for name, tr := range map[string]*trace.Trace{"press": press(t, "asfound.csv"), "swap": swap(t, "asfound.csv"), "remote": remote(t, "asfound.csv")} {
		m := Find(tr)
		if got := len(m.Spans(PositionSteps)); got != 8 {
			t.Errorf("%s: %d position steps, want 8", name, got)
		}
		if got := len(m.Spans(UsualRun)); got != 4 {
			t.Errorf("%s: %d smooth moves, want 4", name, got)
		}
		if len(m.Periodic) != 0 || m.Has(PressHold) {
			t.Errorf("%s: excitation %v or pressing %v found", name, m.Periodic, m.Spans(PressHold))
		}
		limited := 0
		for _, l := range m.Limits {
			if l.Kind == AccelLimit {
				limited++
			}
		}
		// The timid loop of swap meets no limit, the hot ones meet it at every step.
		if name == "swap" && limited != 0 || name != "swap" && limited < 8 {
			t.Errorf("%s: %d stretches at the acceleration limit", name, limited)
		}
	}
}

func TestPressingLogOfARig(t *testing.T) {
	m := Find(press(t, "press.csv"))
	var pressing, all int
	for _, s := range m.Spans(PressHold) {
		pressing += s.Len()
	}
	for _, s := range m.Segments {
		all += s.Span.Len()
	}
	if share := float64(pressing) / float64(all); share < 0.7 || share > 0.9 { // contact from 2.3 to 27.5 of 30 s, by hand
		t.Errorf("pressing for %.2f of the log", share)
	}
}

func near(t testing.TB, what string, got, want, limit float64) {
	t.Helper()
	if math.IsNaN(got) || math.Abs(got-want) > limit {
		t.Errorf("%s: got %g, want %g within %g", what, got, want, limit)
	}
}
