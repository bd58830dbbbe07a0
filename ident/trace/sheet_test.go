package trace

import (
	"context"
	"errors"
	"fmt"
	"math"
	"strings"
	"testing"
)

func lookAt(t *testing.T, text string, opt ReadOptions) *Sheet {
	t.Helper()
	s, err := Look(context.Background(), strings.NewReader(text), "made up", opt)
	if err != nil {
		t.Fatal(err)
	}
	return s
}

// A log that cannot be read is still a table: names, first values, range and curve.
func TestLookAtAnUnreadableLog(t *testing.T) {
	var b strings.Builder
	b.WriteString("ch1;p [bar];note;gap\n")
	for i := range 1000 {
		gap := ""
		if i >= 500 {
			gap = fmt.Sprint(i)
		}
		fmt.Fprintf(&b, "%d,5;%g;on;%s\n", i, float64(i%10), gap)
	}
	if _, err := Read(context.Background(), strings.NewReader(b.String()), "made up", ReadOptions{}); err == nil {
		t.Fatal("read without time")
	}
	s := lookAt(t, b.String(), ReadOptions{})
	if s.Rows != 1000 || len(s.Columns) != 4 {
		t.Fatalf("%d rows, %d columns", s.Rows, len(s.Columns))
	}
	c := s.Columns[0]
	if c.Name != "ch1" || !c.Numbers || c.Low != 0.5 || c.High != 999.5 || c.First[1] != 1.5 {
		t.Errorf("first column %v to %v from %v", c.Low, c.High, c.First)
	}
	if len(c.Curve) != 2*sheetParts || c.Curve[0] != 0.5 || c.Curve[1] != 4.5 || c.Curve[399] != 999.5 {
		t.Errorf("its curve begins %v and ends %v", c.Curve[:2], c.Curve[398:])
	}
	if p := s.Columns[1]; p.Name != "p" || p.Unit != "bar" || p.High != 9 {
		t.Errorf("pressure %+v", p)
	}
	if s.Columns[2].Numbers {
		t.Error("text counts as numbers")
	}
	if gap := s.Columns[3]; gap.Low != 500 || !math.IsNaN(gap.Curve[0]) || gap.First[0] != 500 {
		t.Errorf("half empty column %+v", gap)
	}
}

// Each column's name means that column alone, whatever stands in the header.
func TestSheetNamesAreTheirOwn(t *testing.T) {
	long := strings.Repeat("x", 100)
	head := []string{"Pos", "pos", "[mm]", "", long + "1", long + "2", "p\x1b[31m", "時間"}
	row := strings.Repeat("1,", len(head)-1) + "2\n"
	text := strings.Join(head, ",") + "\n" + row + row + row
	s := lookAt(t, text, ReadOptions{})
	for j, c := range s.Columns {
		if got := s.Find(c.Name); got != j {
			t.Errorf("%q finds column %d, want %d", c.Name, got, j)
		}
		for i := range s.Columns[:j] {
			if s.Columns[i].Name == c.Name {
				t.Errorf("columns %d and %d share the name %q", i, j, c.Name)
			}
		}
		r, err := Read(context.Background(), strings.NewReader(text), "made up", ReadOptions{Period: 1e-3,
			Columns: map[Channel]Column{RodPosition: {Header: c.Name, Unit: "mm"}, MotorCurrent: {Header: s.Columns[(j+1)%len(head)].Name, Unit: "A"}}})
		if err != nil {
			t.Errorf("%q: %v", c.Name, err)
			continue
		}
		for _, g := range r.Guesses {
			if g.Channel == RodPosition && g.Index != j {
				t.Errorf("%q is read from column %d, want %d", c.Name, g.Index, j)
			}
		}
	}
	if s.Find("no such") >= 0 || s.Find("") >= 0 {
		t.Error("finds what is not there")
	}
}

// A number at the end of a name is no unit, and columns without a header are counted.
func TestNumberedNames(t *testing.T) {
	for text, want := range map[string]string{"channel 1,channel 2\n": "channel 1 channel 2", "ch_1,ch-1\n": "ch_1 ch-1", "gain [1],x / 1\n": "gain x", "": "column 1 column 2"} {
		s := lookAt(t, text+"1,2\n2,3\n3,4\n", ReadOptions{})
		if got := s.Columns[0].Name + " " + s.Columns[1].Name; got != want {
			t.Errorf("%q: columns %q, want %q", text, got, want)
		}
	}
}

// Guesses are made of an unreadable log too, and with a faulty statement.
func TestSheetGuesses(t *testing.T) {
	text := "Rod position [mm],Cap pressure [bar]\n1,2\n2,3\n3,4\n"
	for _, columns := range []map[Channel]Column{nil, {RodPosition: {Header: "Rod position", Unit: "bar"}}} {
		s := lookAt(t, text, ReadOptions{Columns: columns})
		if len(s.Guesses) != 2 || s.Guesses[0].Channel != RodPosition && s.Guesses[1].Channel != RodPosition {
			t.Errorf("with %v stated: guessed %+v", columns, s.Guesses)
		}
	}
}

// A column that counts the rows is asked about as such.
func TestSheetAsksForTheCount(t *testing.T) {
	s := lookAt(t, "sample,ch2\n0,5\n1,7\n2,6\n3,9\n", ReadOptions{})
	if len(s.Guesses) != 1 || s.Guesses[0].Channel != Time || s.Guesses[0].Unit != "counts" {
		t.Errorf("guessed %+v", s.Guesses)
	}
}

// A column that advances evenly is asked about as time where none is named so.
func TestSheetAsksForTime(t *testing.T) {
	s := lookAt(t, "ch1,ch2\n0,5\n0.1,7\n0.2,6\n0.3,9\n", ReadOptions{})
	if len(s.Guesses) != 1 || s.Guesses[0].Channel != Time || s.Guesses[0].Index != 0 || !s.Guesses[0].Asked {
		t.Errorf("guessed %+v", s.Guesses)
	}
}

func TestLookRefusesWhatIsNoTable(t *testing.T) {
	for _, text := range []string{"", "no numbers\nat all\n", "\xff\xd8\xff\xe0picture"} {
		var fault *ReadError
		if _, err := Look(context.Background(), strings.NewReader(text), "made up", ReadOptions{}); !errors.As(err, &fault) || fault.File != "made up" {
			t.Errorf("%q: %v", text, err)
		}
	}
}

// A channel stated to have no column is not read from one of its own name.
func TestNoColumn(t *testing.T) {
	text := "time_s,rod_position_mm,cap_pressure_bar\n0,1,2\n0.001,2,3\n0.002,3,4\n"
	r, err := Read(context.Background(), strings.NewReader(text), "made up", ReadOptions{Columns: map[Channel]Column{CapPressure: {Header: NoColumn}}})
	if err != nil || r.Trace.Has(CapPressure) || !r.Trace.Has(RodPosition) {
		t.Errorf("%v, channels %v", err, r.Trace.Channels())
	}
	_, err = Read(context.Background(), strings.NewReader(text), "made up", ReadOptions{Columns: map[Channel]Column{Time: {Header: NoColumn}}})
	var fault *ReadError
	if !errors.As(err, &fault) || !fault.Timeless {
		t.Errorf("without time: %v", err)
	}
}

// The one line of an unreadable log says how to state a column of its own.
func TestUnreadableLogsNameTheWay(t *testing.T) {
	for text, want := range map[string]string{
		"ch1,ch2\n0,5\n0.1,7\n0.2,6\n":              "--channel 'time=ch1[s]'",
		"time_s,ch7\n0,5\n0.1,7\n0.2,6\n":           "--channel 'rod_position=ch7[mm]'",
		"time_s,x y [furlong]\n0,5\n0.1,7\n0.2,6\n": "--channel 'rod_position=x y[mm]'",
	} {
		if _, err := Read(context.Background(), strings.NewReader(text), "made up", ReadOptions{}); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%q: %v, want %s", text, err, want)
		}
	}
}

// What is left out becomes a gap, whole samples at both ends; the rest stays.
func TestLeaveOut(t *testing.T) {
	var b strings.Builder
	b.WriteString("time_s,rod_position_mm\n")
	for i := range 1000 {
		fmt.Fprintf(&b, "%.3f,%d\n", float64(i)/1000, i%7)
	}
	r, err := Read(context.Background(), strings.NewReader(b.String()), "made up", ReadOptions{})
	if err != nil {
		t.Fatal(err)
	}
	for _, s := range []Stretch{{0.1, 0.2}, {-5, 0.0101}, {0.99, 70}, {5, 6}, {0.3, 0.3}} {
		if err := r.LeaveOut(s); err != nil {
			t.Errorf("%v: %v", s, err)
		}
	}
	want := []Span{{0, 11}, {100, 201}, {300, 301}, {990, 1000}}
	if got := fmt.Sprint(r.Trace.Gaps()); got != fmt.Sprint(want) {
		t.Errorf("gaps %v, want %v", got, want)
	}
	if err := r.LeaveOut(Stretch{0.05, 0.98}); err == nil {
		t.Error("nearly all of the log is left out")
	}
	if len(r.LeftOut) != 4 {
		t.Errorf("left out %v", r.LeftOut)
	}
}
