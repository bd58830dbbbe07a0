package tui

import (
	"context"
	"math"
	"strings"
	"testing"

	"eha/strokewise/ident/trace"
)

// closed returns the program with a closed-loop log on the bench.
func closed(t *testing.T, keys ...string) *App {
	t.Helper()
	s := fakeServices()
	s.Load = func(context.Context, Request, Progress) (*Logs, error) { return closedLogs(), nil }
	a := opened(s, Start{Work: Work{Options: fakeOptions()}, Request: Request{Paths: []string{"/data/survey.csv", "/data/usual.csv"}}, Folder: "/data"})
	hit(a, keys...)
	return a
}

// Settings in use that were typed are fitted with, replayed, kept when the logs are
// read again, offered for saving and asked about on leaving.
func TestSettingsInUse(t *testing.T) {
	a := closed(t, "4", "i", "8", "down", "9", "down", "down", "down", "0", ",", "5", "enter")
	set := a.work.Options.AsFound.Position
	if set.Kp.Extend != 8 || set.Kp.Retract != 9 || set.Feedforward != 0.5 || math.Abs(set.Turns.Extend-2463) > 1 {
		t.Errorf("took %+v", set)
	}
	if a.work.Logs.AsFound != a.work.Options.AsFound || a.replay == nil || !strings.HasPrefix(a.scenario, replayMark) {
		t.Error("not fitted with, or not replayed")
	}
	hit(a, "r")
	if a.work.Options.AsFound == nil || a.work.Options.AsFound.Position.Kp.Extend != 8 || a.replay == nil {
		t.Error("reading again loses the settings typed")
	}
	hit(a, "i")
	if got := a.over.(*inUse).form.entries[1].text; got != "9" {
		t.Errorf("asked again with %q filled in", got)
	}
	hit(a, "esc", "q")
	if l, ok := a.over.(*leaver); !ok || !strings.Contains(strings.Join(l.lost, " "), "settings in use") {
		t.Error("leaving does not ask about them")
	}
	hit(a, "s", "down", "enter", "q")
	if l := a.over.(*leaver); strings.Contains(strings.Join(l.lost, " "), "settings in use") {
		t.Errorf("asked about although saved: %q, notice %q", l.lost, a.notice)
	}
}

// Knobs are out of hand while a replay is in view: it does not depend on them.
func TestReplayLeavesTheKnobsAlone(t *testing.T) {
	a := closed(t, "4", "c", "c")
	before := a.work.Options
	hit(a, "left", "right", "down", "d")
	if a.work.Options != before || a.response().board.at != 0 {
		t.Error("a key turned a knob that is not in view")
	}
	hit(a, "c")
	if _, replays := a.replaying(); replays {
		t.Error("c does not go on to the first scenario")
	}
}

// The demo machine's logs say so too where they are read from files.
func TestDemoFilesSaySo(t *testing.T) {
	s := fakeServices()
	s.Load = func(context.Context, Request, Progress) (*Logs, error) {
		l := fakeLogs()
		l.Demo = true
		return l, nil
	}
	a := opened(s, Start{Work: Work{Options: fakeOptions()}, Request: Request{Paths: []string{"/data/survey.csv"}}})
	for _, key := range []string{"1", "2", "3", "4", "5", "s"} {
		hit(a, key)
		if !strings.Contains(a.View(), "DEMO MACHINE") {
			t.Errorf("no mark after %s", key)
		}
	}
}

// A sample period typed reads the logs with it, goes before the command line's and
// is kept with the corrected columns.
func TestSamplePeriod(t *testing.T) {
	s := fakeServices()
	var asked Request
	s.Load = func(_ context.Context, r Request, _ Progress) (*Logs, error) {
		if asked = r; r.Period != 2.5e-3 {
			return nil, &trace.ReadError{File: "usual.csv", Problem: "holds no time", Timeless: true}
		}
		l := fakeLogs()
		l.Readings[0].Clock = trace.Clock{Period: 2.5e-3}
		return l, nil
	}
	a := opened(s, Start{Work: Work{Options: fakeOptions()}, Request: Request{Paths: []string{"/data/usual.csv"}, Period: 0.1}})
	hit(a, "t", "2", ",", "5", " ", "m", "s", "enter")
	if a.work.Logs == nil || asked.Columns[trace.Time].Period != 2.5e-3 {
		t.Fatalf("read with %+v; %v", asked, a.failures)
	}
	hit(a, "q")
	if l, ok := a.over.(*leaver); !ok || !strings.Contains(strings.Join(l.lost, " "), "period") {
		t.Error("leaving does not ask about the period")
	}
	hit(a, "esc", "1", "t")
	if c, ok := a.over.(*clock); !ok || c.form.entries[0].text != "2.5 ms" {
		t.Error("t does not show the period typed")
	}
	a = own(t, "1", "t")
	if a.over == nil && !strings.Contains(a.notice, "own time") {
		t.Errorf("logs with time: %q", a.notice)
	}
}
