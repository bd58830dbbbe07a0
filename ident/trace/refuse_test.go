package trace

import (
	"context"
	"errors"
	"fmt"
	"io"
	"math"
	"strings"
	"testing"
	"unicode"
)

// ten is a log of ten good rows in which a test changes something.
func ten() []string {
	lines := []string{"time_s,motor_position_rev,rod_position_mm,note"}
	for i := range 10 {
		lines = append(lines, fmt.Sprintf("%.3f,%.2f,%.2f,7", float64(i)*1e-3, float64(i), 3*float64(i)))
	}
	return lines
}

func with(line int, text string) string {
	lines := ten()
	lines[line-1] = text
	return strings.Join(lines, "\n") + "\n"
}

func TestReadRefusesInOneClearLine(t *testing.T) {
	long := strings.Repeat("x", longestLine+10)
	cases := []struct {
		name, text string
		opt        ReadOptions
		row        int
		want       []string // parts of the message
	}{
		{"empty file", "", ReadOptions{}, 0, []string{"empty"}},
		{"blank lines only", "\n\n \n", ReadOptions{}, 0, []string{"empty"}},
		{"header only", "time_s,rod_position_mm\n", ReadOptions{}, 0, []string{"no rows of numbers"}},
		{"one row", "time_s,rod_position_mm\n0.001,5\n", ReadOptions{}, 0, []string{"1 row of numbers, needed at least two"}},
		{"one column", "rod_position_mm\n1\n2\n3\n", ReadOptions{Period: 1e-3}, 0, []string{"at least two columns"}},
		{"prose", "Dear all,\nplease find the log attached.\nRegards, nobody\n", ReadOptions{}, 0, []string{"no rows of numbers"}},
		{"text in a number column", with(6, `0.004,12.4x,12,7`), ReadOptions{}, 6, []string{"motor position", `"12.4x" is not a number`}},
		{"no time and no period", "rod_position_mm,motor_position_rev\n1,2\n2,3\n3,5\n", ReadOptions{}, 0, []string{"no time", "--log-period"}},
		{"sample index and no period", "sample,rod_position_mm\n1,2\n2,3\n3,5\n", ReadOptions{}, 0, []string{"counts up by one", "--log-period"}},
		{"time that stands still", "time_s,rod_position_mm,motor_position_rev\n1,2,1\n1,3,2\n1,5,2\n", ReadOptions{}, 0, []string{"no time", "--log-period"}},
		{"wrong unit stated", strings.Join(ten(), "\n"), ReadOptions{Columns: map[Channel]Column{RodPosition: {Header: "rod_position", Unit: "bar"}}}, 0, []string{"rod position", "bar is a pressure, needed a length"}},
		{"unknown unit stated", strings.Join(ten(), "\n"), ReadOptions{Columns: map[Channel]Column{RodPosition: {Header: "rod_position", Unit: "smoots"}}}, 0, []string{"unknown unit", "needed a length"}},
		{"no unit anywhere", "t,enc,lt\n0.001,1,2\n0.002,2,3\n0.003,3,4\n", ReadOptions{Columns: map[Channel]Column{RodPosition: {Header: "lt"}}}, 0, []string{"no unit stated for rod position", "--channel 'rod_position=lt[mm]'"}},
		{"counts without counts per rev", "time_s,enc,rod_position_mm\n0.001,1,2\n0.002,2,3\n0.003,3,4\n", ReadOptions{Columns: map[Channel]Column{MotorPosition: {Header: "enc", Unit: "counts"}}}, 0, []string{"counts_per_rev"}},
		{"percent without full scale", "time_s,q,rod_position_mm\n0.001,1,2\n0.002,2,3\n0.003,3,4\n", ReadOptions{Columns: map[Channel]Column{MotorTorque: {Header: "q", Unit: "%"}}}, 0, []string{"full_scale"}},
		{"volts without scaling", "time_s,q,rod_position_mm\n0.001,1,2\n0.002,2,3\n0.003,3,4\n", ReadOptions{Columns: map[Channel]Column{CapPressure: {Header: "q", Unit: "V"}}}, 0, []string{"from = "}},
		{"stated column of text", "time_s,q,rod_position_mm\n0.001,on,2\n0.002,on,3\n0.003,on,4\n", ReadOptions{Columns: map[Channel]Column{CapPressure: {Header: "q", Unit: "bar"}}}, 0, []string{"text", "cap-side pressure"}},
		{"nothing recognised", "time_s,foo,bar_code\n0.001,1,2\n0.002,2,3\n0.003,3,4\n", ReadOptions{}, 0, []string{"no column could be taken", "--channel"}},
		{"zip", "PK\x03\x04 and so on", ReadOptions{}, 0, []string{"zip archive"}},
		{"image", "\x89PNG\r\n\x1a\n\x00\x00", ReadOptions{}, 0, []string{"an image"}},
		{"binary", "abc\x00\x01\x02def\x00,1,2\n", ReadOptions{}, 0, []string{"binary"}},
		{"endless line", "time_s,rod_position_mm\n" + long + long, ReadOptions{}, 0, []string{"longer than"}},
		{"endless line after good ones", strings.Join(ten(), "\n") + "\n" + long + long, ReadOptions{}, 0, []string{"longer than"}},
		{"a field of 1 MB in the first block", with(6, `0.004,`+strings.Repeat("9", longestLine/2)+`x,12,7`), ReadOptions{}, 6, []string{"motor position", "is not a number"}},
		{"100,000 columns", strings.Repeat("a,", 99_999) + "a\n" + strings.Repeat("1,", 99_999) + "1\n" + strings.Repeat("2,", 99_999) + "2\n", ReadOptions{}, 0, []string{"100000 columns"}},
		{"rows cut short throughout", func() string {
			lines := ten()
			for i := range 300 {
				lines = append(lines, fmt.Sprintf("%.3f,%d", 0.01+float64(i)*1e-3, i))
				lines = append(lines, fmt.Sprintf("%.3f,%d,%d,7", 0.01+float64(i)*1e-3, i, i))
			}
			return strings.Join(lines, "\n")
		}(), ReadOptions{}, 12, []string{"2 cells, needed 4"}},
		{"a column for two channels", strings.Join(ten(), "\n"), ReadOptions{Columns: map[Channel]Column{RodPosition: {Header: "note", Unit: "mm"}, PositionCommand: {Header: "note", Unit: "mm"}}}, 0, []string{"another channel"}},
		{"the time column for a channel", strings.Join(ten(), "\n"), ReadOptions{Columns: map[Channel]Column{RodPosition: {Header: "time", Unit: "mm"}}}, 0, []string{"another channel"}},
		{"too large by its size", strings.Join(ten(), "\n"), ReadOptions{Size: 3_000_000_000}, 0, []string{"3000.0 MB", "rows of 4 columns", "more than fits"}},
		{"too large for the memory set aside", strings.Join(ten(), "\n") + strings.Repeat("\n0.5,1,2,3", 4000), ReadOptions{MaxValues: 5000}, 0, []string{"more than fits"}},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			_, err := Read(context.Background(), strings.NewReader(c.text), "press_03.csv", c.opt)
			var fault *ReadError
			if !errors.As(err, &fault) {
				t.Fatalf("error %v is no *ReadError", err)
			}
			text := err.Error()
			for _, part := range append(c.want, "trace: press_03.csv") {
				if !strings.Contains(text, part) {
					t.Errorf("message %q lacks %q", text, part)
				}
			}
			if c.row != 0 && fault.Row != c.row {
				t.Errorf("row %d, want %d (%s)", fault.Row, c.row, text)
			}
			if strings.ContainsAny(text, "\n\r\x1b") || len(text) > 700 {
				t.Errorf("not one line of readable length: %.200q", text)
			}
		})
	}
}

func refused(t *testing.T, text string) *ReadError {
	t.Helper()
	_, err := Read(context.Background(), strings.NewReader(text), "log.csv", ReadOptions{})
	var fault *ReadError
	if !errors.As(err, &fault) {
		t.Fatalf("error %v is no *ReadError", err)
	}
	return fault
}

// Names that are not as many as the cells of a row would be given to the wrong columns.
func TestNamesThatDoNotFitTheRows(t *testing.T) {
	for text, part := range map[string]string{
		"time_s,rod_position_mm,motor_position_rev\n0,000,1,5,2,5\n0,001,1,6,2,6\n0,002,1,7,2,7\n":                                      "decimal comma",
		"time_s,Pressure, cap side [bar],Pressure, rod side [bar]\n0,1,2\n1,2,3\n2,3,5\n":                                               "names 5 columns, but the rows below hold 3 cells",
		"time,Pressure, cap side,rod position\ns,bar,mm\n0,1,2\n1,2,3\n2,3,5\n":                                                         "names 4 columns",
		"device,axis,4\ntime_s,rod_position_mm,motor_position_rev,p_cap_bar\n0,000,1,5,2,5,2,7\n0,001,1,6,2,6,2,7\n0,002,1,7,2,7,2,7\n": "decimal comma",
	} {
		if err := refused(t, text); !strings.Contains(err.Error(), part) || err.Row == 0 || err.Advice == "" {
			t.Errorf("error %v, want one with %q, its line and what to do", err, part)
		}
	}
}

// A log without any header is told which of its columns could be time.
func TestNoTimeNamesAColumnThatCouldBeIt(t *testing.T) {
	if err := refused(t, "0.000,1.5,30\n0.001,1.6,31\n0.002,1.7,32\n"); !strings.Contains(err.Advice, "'time=column 1[s]'") {
		t.Errorf("error %v", err)
	}
}

// A word without a digit is a recorder's own way to say that there is no value.
func TestWordsForNoValueAreRejectedAndCounted(t *testing.T) {
	for _, word := range []string{"#NV", "k.A.", "n.a.", ".", "~", "--.-", "no data", "NaN(ind)", "ERR", "off"} {
		r := readText(t, with(6, "0.004,"+word+",12,7"), ReadOptions{})
		if r.Rejects != 1 || len(r.Rejected) != 1 || r.Rejected[0].Row != 6 || r.Bridged[MotorPosition] != 1 {
			t.Errorf("%s: %d rejects %v, bridged %v", word, r.Rejects, r.Rejected, r.Bridged)
		}
	}
	for _, word := range []string{"", " ", "NaN", "nan", "-", "--", "---", "n/a", "N/A", "#N/A", "NULL", "null", "None"} {
		r := readText(t, with(6, "0.004,"+word+",12,7"), ReadOptions{})
		if r.Rejects != 0 || r.Bridged[MotorPosition] != 1 {
			t.Errorf("%q: %d rejects, bridged %v; want it empty", word, r.Rejects, r.Bridged)
		}
	}
	if err := refused(t, with(6, "later,5,12,7")); err.Row != 6 {
		t.Errorf("a word for a time in the middle: %v", err)
	}
}

func TestTextInAnUnusedColumnDoesNotMatter(t *testing.T) {
	r := readText(t, with(6, "0.004,4,12,broken"), ReadOptions{})
	if r.Trace.Len() != 10 {
		t.Errorf("%d samples, want 10", r.Trace.Len())
	}
}

func TestOddNumbersAreRejectedAndCounted(t *testing.T) {
	for _, odd := range []string{"1_000", "0x1p3", "inf", "-Inf", "1e308", "1e999", "1.#INF", "#DIV/0!", "****"} {
		r := readText(t, with(6, "0.004,"+odd+",12,7"), ReadOptions{})
		if r.Rejects != 1 || len(r.Rejected) != 1 || r.Rejected[0].Row != 6 || r.Rejected[0].Text != odd {
			t.Errorf("%s: %d rejects %v, want that cell of line 6", odd, r.Rejects, r.Rejected)
		}
		if x, _ := r.Trace.Samples(MotorPosition); math.Abs(x[4]-4*2*math.Pi) > 1e-12 || r.Bridged[MotorPosition] != 1 {
			t.Errorf("%s: bridged with %g, count %d; want 4 turns, 1", odd, x[4], r.Bridged[MotorPosition])
		}
	}
}

// No text of the file may reach a screen with anything that steers it.
func TestControlCharactersAreNeutralised(t *testing.T) {
	evil := "\x1b[2J\x1b]0;owned\x07\u202egnp\u0085\u200b\u00ad"
	text := "Note " + evil + "\nDone\n\"" + evil + " time [s]\",\"motor " + evil + " position [rev]\",rod_position_mm,x" + evil + "\n0,1,2,3\n1,2,oops" + evil + ",4\n2,3,4,5\n"
	_, err := Read(context.Background(), strings.NewReader(text), "a"+evil+".csv", ReadOptions{})
	if err == nil {
		t.Fatal("text in a number column was taken")
	}
	wantClean(t, "the error", err.Error())
	r := readText(t, strings.Replace(text, "oops"+evil, "inf", 1), ReadOptions{Period: 1})
	wantClean(t, "the reading", fmt.Sprintf("%+v %+v %+v %+v %+v", r.Layout, r.Guesses, r.Unused, r.Rejected, r.Trace.Name()))
}

func wantClean(t *testing.T, what, text string) {
	t.Helper()
	for _, r := range text {
		if unicode.IsControl(r) || unicode.Is(unicode.Cf, r) || r == 0x2028 || r == 0x2029 {
			t.Errorf("%s holds %U: %.200q", what, r, text)
			return
		}
	}
}

type failing struct{ after io.Reader }

var errDisk = errors.New("disk gone")

func (f failing) Read(p []byte) (int, error) {
	n, err := f.after.Read(p)
	if err == io.EOF {
		err = errDisk
	}
	return n, err
}

func TestReaderErrorsComeThrough(t *testing.T) {
	_, err := Read(context.Background(), failing{strings.NewReader(strings.Join(ten(), "\n"))}, "log.csv", ReadOptions{})
	if !errors.Is(err, errDisk) {
		t.Errorf("error %v, want the reader's own", err)
	}
}

func TestCancel(t *testing.T) {
	ctx, cancel := context.WithCancel(context.Background())
	data := longLog(60_000)
	calls := 0
	_, err := Read(ctx, strings.NewReader(string(data)), "log.csv", ReadOptions{Progress: func(n int64) {
		if calls++; calls == 2 {
			cancel()
		}
	}})
	if !errors.Is(err, context.Canceled) {
		t.Errorf("error %v, want context.Canceled", err)
	}
}

func TestProgressReachesTheSize(t *testing.T) {
	data := longLog(40_000)
	var last int64
	_, err := Read(context.Background(), strings.NewReader(string(data)), "log.csv", ReadOptions{Progress: func(n int64) {
		if n < last {
			t.Errorf("progress went back from %d to %d", last, n)
		}
		last = n
	}})
	if err != nil || last != int64(len(data)) {
		t.Errorf("progress ended at %d of %d, %v", last, len(data), err)
	}
}

// A column that bears a channel's own name with a unit that does not exist is
// refused with what was needed, not left out; "rod_position_raw" is no unit.
func TestUnknownUnitIsRefused(t *testing.T) {
	rows := "\n0,1,1\n0.001,2,1\n0.002,3,1\n"
	for header, want := range map[string]string{
		"time_s,motor_position_rev,Rod position [furlong]": `unknown unit "furlong", needed a length`,
		"time_s,motor_position_rev,rod_position_furlong":   `unknown unit "furlong", needed a length`,
	} {
		_, err := Read(context.Background(), strings.NewReader(header+rows), "x.csv", ReadOptions{})
		if err == nil || !strings.Contains(err.Error(), want) || !strings.Contains(err.Error(), "--channel") {
			t.Errorf("%s: %v, want an error with %q and what to do", header, err, want)
		}
	}
	if _, err := Read(context.Background(), strings.NewReader("time_s,motor_position_rev,rod_position_mm,rod_position_raw"+strings.ReplaceAll(rows, "\n", ",7\n")[2:]), "x.csv", ReadOptions{}); err != nil {
		t.Errorf("a second column beside the right one is refused: %v", err)
	}
}
