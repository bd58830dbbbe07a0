package trace

import (
	"context"
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"
	"time"

	"golang.org/x/text/encoding/charmap"
	"golang.org/x/text/encoding/unicode"
)

// recording is one short invented recording in trade units, rounded as an export
// rounds, so that every form of it holds the same decimal numbers.
type recording struct {
	timeMS                     []int
	rpm, rev, mm, capB, rodBar []float64
}

func invented(rows int) recording {
	r := recording{}
	round := func(v float64, digits int) float64 {
		scale := math.Pow(10, float64(digits))
		return math.Round(v*scale) / scale
	}
	for i := range rows {
		s := math.Sin(float64(i) * 0.02)
		r.timeMS = append(r.timeMS, 2*i-40) // a pre-trigger part
		r.rpm = append(r.rpm, round(1500*math.Cos(float64(i)*0.02), 1))
		r.rev = append(r.rev, round(40*s+3, 4))
		r.mm = append(r.mm, round(1150+100*s, 3))
		r.capB = append(r.capB, round(60+20*s+float64(i%7)*0.01, 2))
		r.rodBar = append(r.rodBar, round(25-10*s+float64(i%5)*0.01, 2))
	}
	return r
}

var exportHeaders = []string{"Time [ms]", "Speed command [rpm]", "Motor position [rev]", "Rod position [mm]", "Cap pressure [bar]", "Rod pressure [bar]"}

func (r recording) row(i int) []string {
	return []string{fmt.Sprint(r.timeMS[i]), fmt.Sprintf("%.1f", r.rpm[i]), fmt.Sprintf("%.4f", r.rev[i]), fmt.Sprintf("%.3f", r.mm[i]),
		fmt.Sprintf("%.2f", r.capB[i]), fmt.Sprintf("%.2f", r.rodBar[i])}
}

// export writes the recording; cell, where not nil, rewrites each cell of data.
func (r recording) export(delimiter, lineEnd string, headers []string, cell func(column int, text string) string) string {
	var b strings.Builder
	b.WriteString(strings.Join(headers, delimiter) + lineEnd)
	for i := range r.timeMS {
		row := r.row(i)
		if cell != nil {
			for j := range row {
				row[j] = cell(j, row[j])
			}
		}
		b.WriteString(strings.Join(row, delimiter) + lineEnd)
	}
	return b.String()
}

func (r recording) plain() string { return r.export(",", "\n", exportHeaders, nil) }

func comma(_ int, s string) string { return strings.Replace(s, ".", ",", 1) }

// thousands groups the whole digits of a number.
func thousands(s, sep, decimal string) string {
	whole, rest, _ := strings.Cut(s, ".")
	sign := ""
	if strings.HasPrefix(whole, "-") {
		sign, whole = "-", whole[1:]
	}
	if len(whole) > 3 {
		whole = whole[:len(whole)-3] + sep + whole[len(whole)-3:]
	}
	if rest != "" {
		rest = decimal + rest
	}
	return sign + whole + rest
}

func readText(t *testing.T, text string, opt ReadOptions) *Reading {
	t.Helper()
	r, err := Read(context.Background(), strings.NewReader(text), "log.csv", opt)
	if err != nil {
		t.Fatal(err)
	}
	return r
}

// wantSame compares two traces: limit is relative to each channel's largest value,
// zero for equal bits.
func wantSame(t *testing.T, got, want *Trace, limit float64) {
	t.Helper()
	if got.Len() != want.Len() || math.Abs(got.Period()/want.Period()-1) > limit+1e-15 {
		t.Fatalf("%d samples of %g s, want %d of %g s", got.Len(), got.Period(), want.Len(), want.Period())
	}
	if fmt.Sprint(got.Channels()) != fmt.Sprint(want.Channels()) {
		t.Fatalf("channels %v, want %v", got.Channels(), want.Channels())
	}
	for _, c := range want.Channels() {
		a, _ := got.Samples(c)
		b, _ := want.Samples(c)
		for i := range b {
			if diff := math.Abs(a[i] - b[i]); diff > limit*math.Max(1e-3, math.Abs(b[i])) {
				t.Fatalf("%s sample %d: %.12g, want %.12g", c, i, a[i], b[i])
			}
		}
	}
}

func encode(t *testing.T, s string, enc interface{ String(string) (string, error) }) string {
	t.Helper()
	out, err := enc.String(s)
	if err != nil {
		t.Fatal(err)
	}
	return out
}

// rotated puts the first cell of each line last.
func rotated(lines []string) []string {
	for i, line := range lines {
		if first, rest, ok := strings.Cut(line, ","); ok {
			lines[i] = rest + "," + first
		}
	}
	return lines
}

// interleaved puts the first cell of each line before each of the others.
func interleaved(lines []string) []string {
	for i, line := range lines {
		cells := strings.Split(line, ",")
		var out []string
		for _, c := range cells[1:] {
			out = append(out, cells[0], c)
		}
		lines[i] = strings.Join(out, ",")
	}
	return lines
}

func newestOnTop(text string) string {
	lines := strings.Split(strings.TrimSpace(text), "\n")
	slices.Reverse(lines[1:])
	return strings.Join(lines, "\n") + "\n"
}

func TestTheSameLogInAllFormsGivesTheSameTrace(t *testing.T) {
	r := invented(400)
	want := readText(t, r.plain(), ReadOptions{}).Trace
	le := unicode.UTF16(unicode.LittleEndian, unicode.IgnoreBOM)
	be := unicode.UTF16(unicode.BigEndian, unicode.IgnoreBOM)
	named := []string{"time_ms", "speed_command_rpm", "motor_position_rev", "rod_position_mm", "cap_pressure_bar", "rod_pressure_bar"}
	round := []string{"time (ms)", "Speed command (1/min)", "Motor position (rev)", "Rod position (mm)", "Cap pressure (bar)", "Rod pressure (bar)"}
	degrees := []string{"Temps [ms]", "Consigne vitesse [tr/min]", "Position moteur [rev]", "Position tige [mm]", "Pression fond [bar]", "Pression tige [bar]"}
	german := []string{"Zeit / ms", "Solldrehzahl / U/min", "Motorlage / U", "Kolbenstange Position / mm", "Druck Kolbenseite / bar", "Druck Stangenseite / bar"}
	separate := "t;n command;motor pos;rod pos;cap pressure;rod pressure\nms;rpm;rev;mm;bar;bar\n"
	body := func(s string) string { _, rest, _ := strings.Cut(s, "\n"); return rest }
	stamp := func(layout string) func(int, string) string {
		return func(j int, s string) string {
			if j != 0 {
				return s
			}
			var ms int
			fmt.Sscan(s, &ms)
			return time.Date(2026, 3, 9, 23, 59, 59, 900e6, time.UTC).Add(time.Duration(ms) * time.Millisecond).Format(layout)
		}
	}
	stampHeaders := append([]string{"Timestamp"}, exportHeaders[1:]...)

	cases := []struct {
		name, text string
		opt        ReadOptions
		limit      float64 // 0 where the numbers are the same; 1e-12 where a unit is converted back
	}{
		{"semicolon, decimal comma", r.export(";", "\n", exportHeaders, comma), ReadOptions{}, 0},
		{"tab", r.export("\t", "\n", exportHeaders, nil), ReadOptions{}, 0},
		{"tab, decimal comma", r.export("\t", "\n", exportHeaders, comma), ReadOptions{}, 0},
		{"bar", r.export("|", "\n", exportHeaders, nil), ReadOptions{}, 0},
		{"semicolon, decimal point", r.export(";", "\n", exportHeaders, nil), ReadOptions{}, 0},
		{"CRLF", r.export(",", "\r\n", exportHeaders, nil), ReadOptions{}, 0},
		{"CR alone", r.export(",", "\r", exportHeaders, nil), ReadOptions{}, 0},
		{"no last line end", strings.TrimSuffix(r.plain(), "\n"), ReadOptions{}, 0},
		{"UTF-8 with BOM", "\ufeff" + r.plain(), ReadOptions{}, 0},
		{"UTF-16LE with BOM", encode(t, "\ufeff"+r.plain(), le.NewEncoder()), ReadOptions{}, 0},
		{"UTF-16LE without BOM", encode(t, r.plain(), le.NewEncoder()), ReadOptions{}, 0},
		{"UTF-16BE with BOM", encode(t, "\ufeff"+r.export(";", "\r\n", exportHeaders, comma), be.NewEncoder()), ReadOptions{}, 0},
		{"UTF-16BE without BOM", encode(t, r.plain(), be.NewEncoder()), ReadOptions{}, 0},
		{"Windows-1252", encode(t, "Prüfstand Süd\n"+r.plain(), charmap.Windows1252.NewEncoder()), ReadOptions{}, 0},
		{"Windows-1252, thousands by no-break space", encode(t, "Prüfstand Süd\n"+r.export(";", "\r\n", exportHeaders, func(_ int, s string) string { return thousands(s, "\u00a0", ",") }), charmap.Windows1252.NewEncoder()), ReadOptions{}, 0},
		{"every cell quoted", r.export(",", "\n", exportHeaders, func(_ int, s string) string { return `"` + s + `"` }), ReadOptions{}, 0},
		{"quoted, decimal comma between commas", r.export(",", "\n", exportHeaders, func(j int, s string) string { return `"` + comma(j, s) + `"` }), ReadOptions{}, 0},
		{"quoted headers", r.export(",", "\n", []string{`"Time [ms]"`, `"Speed command [rpm]"`, `"Motor position [rev]"`, `"Rod position [mm]"`, `"Cap pressure [bar]"`, `"Rod pressure [bar]"`}, nil), ReadOptions{}, 0},
		{"spaces around cells", r.export(" ; ", "\n", exportHeaders, nil), ReadOptions{}, 0},
		{"plus signs and exponents", r.export(",", "\n", exportHeaders, func(j int, s string) string {
			if strings.HasPrefix(s, "-") {
				return s + "E+00"
			}
			return "+" + s + "e0"
		}), ReadOptions{}, 0},
		{"delimiter at line ends", r.export(",", ",\n", exportHeaders, nil), ReadOptions{}, 0},
		{"thousands by point, decimal comma", r.export(";", "\n", exportHeaders, func(_ int, s string) string { return thousands(s, ".", ",") }), ReadOptions{}, 0},
		{"thousands by comma, quoted", r.export(",", "\n", exportHeaders, func(_ int, s string) string { return `"` + thousands(s, ",", ".") + `"` }), ReadOptions{}, 0},
		{"thousands by apostrophe", r.export(";", "\n", exportHeaders, func(_ int, s string) string { return thousands(s, "'", ".") }), ReadOptions{}, 0},
		{"thousands by no-break space", r.export(";", "\n", exportHeaders, func(_ int, s string) string { return thousands(s, "\u00a0", ",") }), ReadOptions{}, 0},
		{"preamble", "Recording;7\nAxis;lift, left\nStarted;09.03.2026 10:11:12\n\n" + r.export(";", "\n", exportHeaders, comma), ReadOptions{}, 0},
		{"preamble with numbers", "1,2\n3,4\nRate 500\n" + r.plain(), ReadOptions{}, 0},
		{"trailer", r.plain() + "End of recording\nSamples,400\n", ReadOptions{}, 0},
		{"summary rows", r.plain() + "Mean,1,2,3,4,5\nMax,9,9,9,9,9\n", ReadOptions{}, 0},
		{"preamble rows as wide as the data", "1,,,,,\nRecorder,3,0,0,0,0\nGain,1,1,1,1,1\n1,2,3,4,5,6\n" + r.plain(), ReadOptions{}, 0},
		{"columns counted above their names", "1,2,3,4,5,6\n" + r.plain(), ReadOptions{}, 0},
		{"list of channels", "1,Time,ms\n2,Speed command,rpm\n3,Motor position,rev\n" + r.plain(), ReadOptions{}, 0},
		{"key and value lines", "Device=axis 4\nRate=500\nComment=\n" + r.plain(), ReadOptions{}, 0},
		{"remarks", "# a recorder\n# rate 500\n" + r.plain() + "# end\n", ReadOptions{}, 0},
		{"names behind a remark's sign", "# " + r.plain(), ReadOptions{}, 0},
		{"sections", "[Header]\nDevice=4\n[Data]\n" + r.plain(), ReadOptions{}, 0},
		{"the delimiter stated", "sep=;\n" + r.export(";", "\n", exportHeaders, comma), ReadOptions{}, 0},
		{"a long preamble", strings.Repeat("Parameter 7,3.25,unit 7\n", 300) + r.plain(), ReadOptions{}, 0},
		{"units above the names", "ms;rpm;rev;mm;bar;bar\nt;n command;motor pos;rod pos;cap pressure;rod pressure\n" + strings.ReplaceAll(body(r.plain()), ",", ";"), ReadOptions{}, 0},
		{"units row with a unit nobody knows", "t,n command,motor pos,rod pos,cap pressure,rod pressure,mood\nms,rpm,rev,mm,bar,bar,smiles\n" +
			strings.ReplaceAll(body(r.plain()), "\n", ",1\n"), ReadOptions{}, 0},
		{"quoted names with commas and spaces", strings.Replace(r.plain(), strings.Join(exportHeaders, ","),
			`"Time [ms]", "Speed command [rpm]", "Motor position [rev]", "Rod position [mm]", "Pressure, cap side [bar]", "Pressure, rod side [bar]"`, 1), ReadOptions{}, 0},
		{"fixed width", r.export(";", "\n", exportHeaders, func(_ int, s string) string { return fmt.Sprintf("%14s", s) }), ReadOptions{}, 0},
		{"spaces at line ends", r.export(";", "   \n", exportHeaders, nil), ReadOptions{}, 0},
		{"thousands by thin space", r.export(";", "\n", exportHeaders, func(_ int, s string) string { return thousands(s, "\u2009", ",") }), ReadOptions{}, 0},
		{"time last", strings.Join(rotated(strings.Split(r.plain(), "\n")), "\n"), ReadOptions{}, 0},
		{"time before each channel", strings.Join(interleaved(strings.Split(r.plain(), "\n")), "\n"), ReadOptions{}, 0},
		{"newest row first", newestOnTop(r.plain()), ReadOptions{}, 0},
		{"blank lines", strings.ReplaceAll(r.plain(), "\n", "\n\n"), ReadOptions{}, 0},
		{"units row", separate + strings.ReplaceAll(body(r.plain()), ",", ";"), ReadOptions{}, 0},
		{"units row in brackets", strings.Replace(separate, "ms;rpm;rev;mm;bar;bar", "[ms];[rpm];[rev];[mm];[bar];[bar]", 1) + strings.ReplaceAll(body(r.plain()), ",", ";"), ReadOptions{}, 0},
		{"units at the end of names", r.export(",", "\n", named, nil), ReadOptions{}, 0},
		{"units in round brackets", r.export(",", "\n", round, nil), ReadOptions{}, 1e-12},
		{"French", r.export(";", "\n", degrees, comma), ReadOptions{}, 1e-12},
		{"German", r.export(";", "\n", german, comma), ReadOptions{}, 1e-12},
		{"header met again", strings.Replace(r.plain(), "\n60,", "\n"+strings.Join(exportHeaders, ",")+"\n60,", 1), ReadOptions{}, 0},
		{"sample index and period", r.export(",", "\n", append([]string{"Sample"}, exportHeaders[1:]...), func(j int, s string) string {
			if j == 0 {
				var ms int
				fmt.Sscan(s, &ms)
				return fmt.Sprint(ms / 2)
			}
			return s
		}), ReadOptions{Period: 0.002}, 0},
		{"no time but period", func() string {
			lines := strings.Split(strings.TrimSpace(r.plain()), "\n")
			for i := range lines {
				_, lines[i], _ = strings.Cut(lines[i], ",")
			}
			return strings.Join(lines, "\n")
		}(), ReadOptions{Period: 0.002}, 0},
		{"RFC 3339 stamps", r.export(",", "\n", stampHeaders, stamp("2006-01-02T15:04:05.000Z07:00")), ReadOptions{}, 1e-9},
		{"date and clock time", r.export(";", "\n", stampHeaders, stamp("02.01.2006 15:04:05.000")), ReadOptions{}, 1e-9},
		{"date and clock time of twelve hours", r.export(",", "\n", stampHeaders, stamp("01/02/2006 03:04:05.000 PM")), ReadOptions{}, 1e-9},
		{"clock time over midnight", r.export(",", "\n", stampHeaders, stamp("15:04:05.000")), ReadOptions{}, 1e-9},
		{"clock time with decimal comma", r.export(";", "\n", stampHeaders, func(j int, s string) string {
			return strings.Replace(stamp("2006-01-02 15:04:05.000")(j, s), ".", ",", 1)
		}), ReadOptions{}, 1e-9},
		{"date in a column of its own", r.export(",", "\n", append([]string{"Date,Clock"}, exportHeaders[1:]...), stamp("2006-01-02,15:04:05.000")), ReadOptions{}, 1e-9},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			got := readText(t, c.text, c.opt)
			wantSame(t, got.Trace, want, c.limit)
			if got.Clock.Has && !strings.Contains(c.name, "clock") && !strings.Contains(c.name, "stamps") && !strings.Contains(c.name, "own") &&
				math.Abs(got.Trace.TimeAt(0)+0.04) > 1e-9 {
				t.Errorf("begins at %g s, want -0.04 s of pre-trigger", got.Trace.TimeAt(0))
			}
		})
	}
}

// Units of the same recording, converted by hand with the defined factors.
func TestTheSameLogInOtherUnitsGivesTheSameTrace(t *testing.T) {
	r := invented(300)
	want := readText(t, r.plain(), ReadOptions{}).Trace
	const inch, psi = 25.4, 0.06894757293168
	factors := []struct {
		headers []string
		scale   []float64
	}{
		{[]string{"Time [s]", "Speed command [1/min]", "Motor position [deg]", "Rod position [in]", "Cap pressure [psi]", "Rod pressure [psi]"},
			[]float64{1e-3, 1, 360, 1 / inch, 1 / psi, 1 / psi}},
		{[]string{"Time [us]", "Speed command [rev/s]", "Motor position [rad]", "Rod position [m]", "Cap pressure [MPa]", "Rod pressure [kPa]"},
			[]float64{1e3, 1. / 60, 2 * math.Pi, 1e-3, 0.1, 100}},
		{[]string{"Time [µs]", "Speed command [rad/s]", "Motor position [°]", "Rod position [µm]", "Cap pressure [Pa]", "Rod pressure [kgf/cm²]"},
			[]float64{1e3, 2 * math.Pi / 60, 360, 1e3, 1e5, 1 / 0.980665}},
		{[]string{"Time [ns]", "Speed command [deg/s]", "Motor position [turns]", "Rod position [inch]", "Cap pressure [N/mm2]", "Rod pressure [bar]"},
			[]float64{1e6, 6, 1, 1 / inch, 0.1, 1}},
	}
	for _, f := range factors {
		t.Run(strings.Join(f.headers[1:4], ","), func(t *testing.T) {
			text := r.export(",", "\n", f.headers, func(j int, s string) string {
				var v float64
				fmt.Sscan(s, &v)
				return fmt.Sprintf("%.15g", v*f.scale[j])
			})
			// Fifteen digits written, and the division back: a few units of the fifteenth.
			wantSame(t, readText(t, text, ReadOptions{}).Trace, want, 1e-12)
		})
	}
}
