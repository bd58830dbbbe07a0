package tui

import (
	"context"
	"math"
	"strings"
	"testing"

	"eha/strokewise/ident/trace"
)

// What is said of one log's columns goes along to the next log's table and back.
func TestTablesOfSeveralLogsShareTheMapping(t *testing.T) {
	s := unmapped("ch1", "ch2")
	var looked []string
	look := s.Look
	s.Look = func(ctx context.Context, req Request, path string, p Progress) (*trace.Sheet, map[trace.Channel]trace.Column, error) {
		looked = append(looked, path)
		return look(ctx, req, path, p)
	}
	a := opened(s, Start{Work: Work{Options: fakeOptions()}, Request: Request{Paths: []string{"/data/survey.csv", "/data/a.csv+/data/b.csv"}}})
	hit(a, "down", "r", ">", ">", ">")
	if got := strings.Join(looked, " "); got != "/data/survey.csv /data/a.csv /data/b.csv /data/survey.csv" {
		t.Fatalf("looked at %s", got)
	}
	m := a.over.(*mapper)
	if u := m.uses()[1]; u.channel != trace.RodPosition || !m.changed {
		t.Errorf("said before: %+v", u)
	}
	if !strings.Contains(a.View(), "File 1 of 3") {
		t.Errorf("no place in\n%s", a.View())
	}
}

// Going through the channels takes a column from another only while it is in hand.
func TestGoingThroughChannelsTakesNothing(t *testing.T) {
	m := newMapping(fakeSheet(), nil, nil)
	m.take(5, trace.CapPressure)
	if u := m.uses(); u[5].channel != trace.CapPressure || u[4].channel != trace.NoChannel {
		t.Fatalf("not taken: %+v", u)
	}
	m.take(5, trace.RodPressure)
	if u := m.uses(); u[5].channel != trace.RodPressure || u[4].channel != trace.CapPressure || u[4].column.Unit != "bar" {
		t.Errorf("not given back: %+v", u)
	}
	m.settle()
	m.take(5, trace.CapPressure)
	if u := m.uses(); u[4].channel != trace.RodPressure || u[4].column.Unit != "bar" {
		t.Errorf("two columns of one kind are not exchanged: %+v", u)
	}
	m.take(5, trace.NoChannel)
	if u := m.uses(); u[5].channel != trace.NoChannel || m.draft[trace.RodPressure].Header != trace.NoColumn {
		t.Errorf("still read: %+v", u)
	}
}

// What is typed is read with its unit, a comma for a point; what cannot be read says
// what can, and leaves the field.
func TestTypedFields(t *testing.T) {
	for _, c := range []struct {
		keys string
		ok   func(c trace.Column) bool
	}{
		{"m tab right right tab 4 0 9 6", func(c trace.Column) bool { return c.Unit == "counts" && c.CountsPerRev == 4096 }},
		{"m tab right right tab 4 0 x", func(c trace.Column) bool { return c.CountsPerRev == 40 }},
		{"m tab right right tab 1 tab tab 6 5 5 3 6", func(c trace.Column) bool { return c.Wrap == 65536 }},
		{"c tab left left tab 0 , 5 SPACE V = 0 b a r ; 9 , 5 V = 2 5 0 b a r", func(c trace.Column) bool {
			return c.Unit == "V" && c.From == [2]float64{0.5, 9.5} && c.To == [2]float64{0, 250e5}
		}},
		{"c tab left left tab 4 = 0 b a r ; 2 0 = 2 5 0", func(c trace.Column) bool { return c.From == c.To }},
		{"c tab left left left tab 2 5 0 SPACE b a r", func(c trace.Column) bool { return c.Unit == "%" && c.FullScale == 250e5 }},
		{"c tab right tab tab - 1 SPACE b a r", func(c trace.Column) bool { return math.Abs(c.Offset+1e5) < 1e-6 }},
		{"c tab right tab tab tab right", func(c trace.Column) bool { return c.Absolute }},
	} {
		a := opened(unmapped("ch1", "ch2"), Start{Work: Work{Options: fakeOptions()}, Request: Request{Paths: []string{"/data/survey.csv"}}})
		hit(a, keysOf(c.keys)...)
		m := a.over.(*mapper)
		if u := m.uses()[0]; !c.ok(u.column) {
			t.Errorf("%s: %s read as %+v; %s", c.keys, u.channel, u.column, m.problem)
		}
	}
	a := opened(unmapped("ch1", "ch2"), Start{Work: Work{Options: fakeOptions()}, Request: Request{Paths: []string{"/data/survey.csv"}}})
	hit(a, keysOf("r tab right down down 2 , 5 m s enter")...)
	if a.over != nil || a.request.Period != 2.5e-3 || a.request.Columns[trace.Time].Period != 2.5e-3 {
		t.Errorf("period %v, %T", a.request.Period, a.over)
	}
}

// A unit that nobody stated is asked for; one that the header states is taken.
func TestNoUnitIsMadeUp(t *testing.T) {
	sheet := sheetOf("a", "b", "c")
	sheet.Columns[1].Unit, sheet.Columns[2].Unit = "bar", "furlong"
	for j, want := range []string{"", "bar", ""} {
		m := newMapping(sheet, nil, nil)
		m.take(j, trace.CapPressure)
		if u := m.uses()[j]; u.column.Unit != want {
			t.Errorf("column %d is read in %q, want %q", j, u.column.Unit, want)
		}
		if _, what := m.lacks(); (what != "") != (want == "") {
			t.Errorf("column %d lacks %q", j, what)
		}
	}
	m := newMapping(sheet, nil, nil)
	m.take(0, trace.Time)
	if _, what := m.lacks(); what != "" {
		t.Errorf("the unit of time, which its steps tell, is asked for: %s", what)
	}
}

// The unit that time was read in is kept with its column.
func TestTimeKeepsItsUnit(t *testing.T) {
	s := unmapped("ch1", "ch2")
	load := s.Load
	s.Load = func(ctx context.Context, req Request, p Progress) (*Logs, error) {
		l, err := load(ctx, req, p)
		if err == nil {
			l.Readings[0].Guesses = []trace.Guess{{Channel: trace.Time, Column: "ch1", Unit: "ms", Stated: true}}
		}
		return l, err
	}
	a := opened(s, Start{Work: Work{Options: fakeOptions()}, Request: Request{Paths: []string{"/data/survey.csv"}}})
	hit(a, keysOf("t down r tab right enter")...)
	if c := a.request.Columns[trace.Time]; c.Header != "ch1" || c.Unit != "ms" {
		t.Errorf("time is read as %+v", c)
	}
}

// Logs are read with what was said last, one reading at a time; an answer to what was
// said before is not shown for it.
func TestLateAnswersOfTheTableAreDropped(t *testing.T) {
	a := opened(unmapped("ch1", "ch2"), Start{Work: Work{Options: fakeOptions()}, Request: Request{Paths: []string{"/data/survey.csv"}}})
	hit(a, "r", "tab")
	_, first := a.Update(keyOf("right"))
	_, second := a.Update(keyOf("right"))
	m := a.over.(*mapper)
	if hit(a, "enter"); second != nil || !m.waits(a) || a.over == nil {
		t.Fatal("read twice at once, or used before it was read")
	}
	hit(a, "tab", "shift+tab")
	settle(a, first)
	if m.tried.Columns[trace.RodPosition].Unit != "in" || m.logs == nil {
		t.Errorf("the answer before is shown: %+v", m.tried.Columns)
	}
	hit(a, "esc")
	if a.work.Logs != nil || a.aside != m {
		t.Error("leaving the table puts logs on the bench, or forgets what was said")
	}
}
