package trace

import (
	"fmt"
	"math"
	"strings"
	"testing"
)

func TestALogWithoutHeader(t *testing.T) {
	text := "0.000,1.5,30\n0.001,1.6,31\n0.002,1.7,32\n"
	r := readText(t, text, ReadOptions{Columns: map[Channel]Column{
		Time: {Header: "column 1", Unit: "s"}, RodPosition: {Header: "column 2", Unit: "mm"}, CapPressure: {Header: "column 3", Unit: "bar"}}})
	p, _ := r.Trace.Samples(CapPressure)
	if r.Trace.Len() != 3 || r.Layout.HeaderRow != 0 || p[0] != 30e5 {
		t.Errorf("%d samples, header in line %d, pressure %v", r.Trace.Len(), r.Layout.HeaderRow, p)
	}
}

func TestARowCutShortAtTheEnd(t *testing.T) {
	r := readText(t, strings.Join(ten(), "\n")+"\n0.010,10", ReadOptions{})
	if r.Trace.Len() != 10 || r.Layout.Skipped != 1 {
		t.Errorf("%d samples, %d lines skipped; want 10 and 1", r.Trace.Len(), r.Layout.Skipped)
	}
}

func TestAChannelWrittenNowAndThen(t *testing.T) {
	var b strings.Builder
	b.WriteString("time_s,motor_position_rev,oil_temperature_degC\n")
	for i := range 1000 {
		temperature := ""
		if i%100 == 0 {
			temperature = fmt.Sprintf("%.1f", 40+float64(i)*0.01)
		}
		fmt.Fprintf(&b, "%.3f,%d,%s\n", float64(i)*1e-3, i, temperature)
	}
	r := readText(t, b.String(), ReadOptions{})
	x, _ := r.Trace.Samples(OilTemperature)
	if len(r.Trace.Gaps()) != 0 || math.Abs(x[150]-(273.15+41.5)) > 1e-9 {
		t.Errorf("gaps %v, temperature %g K; want none, 314.65 K", r.Trace.Gaps(), x[150])
	}
	if len(r.Held) != 1 || r.Held[0].Channel != OilTemperature || math.Abs(r.Held[0].Period-0.1) > 0.005 {
		t.Errorf("held %v, want the temperature every 0.1 s", r.Held)
	}
}

func TestAnEmptyColumnIsNoChannel(t *testing.T) {
	r := readText(t, "time_s,motor_position_rev,rod_position_mm,cap_pressure_bar\n0,1,2,\n0.001,2,3,\n0.002,3,4,\n", ReadOptions{})
	if r.Trace.Has(CapPressure) || !r.Trace.Has(RodPosition) {
		t.Errorf("channels %v", r.Trace.Channels())
	}
}

func TestAStatedColumnThatIsEmptyIsAbsent(t *testing.T) {
	r := readText(t, "time_s,motor_position_rev,p\n0,1,\n0.001,2,\n0.002,3,\n", ReadOptions{Columns: map[Channel]Column{CapPressure: {Header: "p", Unit: "bar"}}})
	if r.Trace.Has(CapPressure) || !r.Trace.Has(MotorPosition) {
		t.Errorf("channels %v", r.Trace.Channels())
	}
}

// The rows of a file that comes in pieces are those of the file in one piece.
func TestBlocksDoNotShow(t *testing.T) {
	data := longLog(50_000) // several blocks
	r := readText(t, string(data), ReadOptions{})
	want, err := standardRead(data)
	if err != nil {
		t.Fatal(err)
	}
	x, _ := r.Trace.Samples(RodPosition)
	for i := range want[3] {
		if math.Abs(x[i]-want[3][i]*1e-3) > 1e-15 {
			t.Fatalf("row %d: %g, want %g mm", i, x[i], want[3][i])
		}
	}
	if r.Trace.Len() != 50_000 || len(r.SHA256) != 64 || r.Bytes != int64(len(data)) {
		t.Errorf("%d samples, hash %q, %d bytes", r.Trace.Len(), r.SHA256, r.Bytes)
	}
}

func TestAHeldSensorIsReadAtItsOwnRate(t *testing.T) {
	var b strings.Builder
	b.WriteString("time_s,speed_command_rpm,motor_position_rev,cap_pressure_bar\n")
	wave := func(i int) float64 { return 50 + 20*math.Sin(float64(i)*0.02) }
	for i := range 3000 {
		held := i / 8 * 8
		fmt.Fprintf(&b, "%.3f,%.4f,%.4f,%.4f\n", float64(i)*1e-3, wave(held), wave(i), wave(held))
	}
	r := readText(t, b.String(), ReadOptions{})
	if len(r.Held) != 2 || r.Held[0].Channel != SpeedCommand || r.Held[1].Channel != CapPressure || math.Abs(r.Held[1].Period-8e-3) > 1e-9 {
		t.Fatalf("held %v, want speed command and cap pressure every 8 ms", r.Held)
	}
	p, _ := r.Trace.Samples(CapPressure)
	n, _ := r.Trace.Samples(SpeedCommand)
	for i := range 2992 {
		// A line over 8 samples of this wave would be off by 20·(0.02·8)²/8 = 0.064, a curve is
		// only near its ends, where it runs straight.
		limit := 0.002
		if i < 40 || i > 2950 {
			limit = 0.07
		}
		if math.Abs(p[i]/1e5-wave(i)) > limit {
			t.Fatalf("pressure %d is %g bar, want %g", i, p[i]/1e5, wave(i))
		}
		if want := wave(i / 8 * 8); math.Abs(n[i]*30/math.Pi-want) > 1e-4 {
			t.Fatalf("command %d is %g rpm, want %g as held", i, n[i]*30/math.Pi, want)
		}
	}
}

// A name in quotes may run over several lines, as cells of a spreadsheet do.
func TestNamesOverSeveralLines(t *testing.T) {
	text := strings.Join(ten(), "\n") + "\n"
	r := readText(t, strings.Replace(text, "rod_position_mm,note", "\"Rod position\n[mm]\",\"note\nof\nday\"", 1), ReadOptions{})
	x, ok := r.Trace.Samples(RodPosition)
	if !ok || math.Abs(x[9]-0.027) > 1e-12 || r.Layout.HeaderRow != 4 || r.Layout.FirstRow != 5 {
		t.Errorf("rod %v, header in line %d, data from %d; want 27 mm at the end, lines 4 and 5", x, r.Layout.HeaderRow, r.Layout.FirstRow)
	}
}

func TestLineEndsOfEveryKind(t *testing.T) {
	for _, end := range []string{"\n", "\r\n", "\r", "\n\r", "\r\r\n"} {
		r := readText(t, strings.Join(ten(), end)+end, ReadOptions{})
		if x, _ := r.Trace.Samples(RodPosition); r.Trace.Len() != 10 || math.Abs(x[9]-0.027) > 1e-12 {
			t.Errorf("%q: %d samples, rod ends at %v", end, r.Trace.Len(), x)
		}
	}
	lines := ten()
	mixed := strings.Join(lines[:4], "\n") + "\n" + strings.Join(lines[4:], "\r\n") + "\r\n"
	if r := readText(t, mixed, ReadOptions{}); r.Trace.Len() != 10 {
		t.Errorf("mixed: %d samples, want 10", r.Trace.Len())
	}
}

// A clock that is set in the middle of a recording leaps by years.
func TestTimeThatLeapsIsRefused(t *testing.T) {
	var b strings.Builder
	b.WriteString("time_s,motor_position_rev\n")
	for i := range 2000 {
		s := float64(i) * 1e-3
		if i >= 1000 {
			s += 1e9
		}
		fmt.Fprintf(&b, "%.3f,%d\n", s, i)
	}
	if err := refused(t, b.String()); !strings.Contains(err.Problem, "time leaps") || err.Advice == "" {
		t.Errorf("error %v", err)
	}
}

// A column that bears a channel's own name but holds no numbers is asked about.
func TestAChannelsNameOverText(t *testing.T) {
	lines := ten()
	for i := range lines[1:] {
		lines[i+1] = strings.TrimSuffix(lines[i+1], "7") + "١٢٣"
	}
	r := readText(t, strings.Replace(strings.Join(lines, "\n"), "note", "cap_pressure_bar", 1), ReadOptions{})
	for _, g := range r.Guesses {
		if g.Channel == CapPressure && g.Asked && strings.Contains(g.Why, "holds text") {
			return
		}
	}
	t.Errorf("guesses %+v, want the cap pressure asked about", r.Guesses)
}
