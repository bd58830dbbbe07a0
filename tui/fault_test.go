package tui

import (
	"context"
	"errors"
	"strings"
	"testing"

	"eha/strokewise/ident/plant"
	"eha/strokewise/ident/quality"
	"eha/strokewise/ident/trace"
	"eha/strokewise/tuning"
)

// Whatever stands in a log's header or name, nothing that could steer the
// terminal reaches it.
func TestHostileTextIsMadeHarmless(t *testing.T) {
	evil := "\x1b]0;owned\x07\x1b[2J\r\n\u202egnp\u200b\x9b31m\x00"
	s := fakeServices()
	s.Load = func(context.Context, Request, Progress) (*Logs, error) {
		l := stoppedLogs()
		l.Machine.Name = evil
		for i := range l.Report.Findings {
			f := &l.Report.Findings[i]
			f.Text, f.Do, f.ID = evil, evil, evil
		}
		r := l.Readings[0]
		for i := range r.Guesses {
			r.Guesses[i].Column, r.Guesses[i].Unit, r.Guesses[i].Why, r.Guesses[i].Others = evil, evil, evil, []string{evil}
		}
		r.Layout.Headers = []string{evil, evil}
		l.Report.Identifiable[plant.Slip] = quality.Identifiable{Move: evil, Why: evil}
		return l, nil
	}
	s.Folder = func(string) ([]File, error) {
		return []File{{Name: evil, Path: evil, Kind: LogFile}}, nil
	}
	a := opened(s, Start{Work: Work{Options: fakeOptions()}, Request: Request{Paths: []string{evil}}, Folder: evil})
	for _, keys := range []string{"1", "tab", "tab", "tab", "down", "down", "down", "down", "m", "right", "esc", "o", "esc", "s", "esc", "2", "3", "4", "?"} {
		hit(a, keys)
		checkFrame(t, a.View(), 80, 24)
		if strings.ContainsAny(a.View(), "\u202e\u200b") {
			t.Errorf("after %s a direction mark or invisible character is shown", keys)
		}
	}
	a = opened(failing(errors.New(evil)), Start{Request: Request{Paths: []string{"x"}}})
	checkFrame(t, a.View(), 80, 24)
}

func failing(err error) Services {
	s := fakeServices()
	s.Load = func(context.Context, Request, Progress) (*Logs, error) { return nil, err }
	return s
}

// Files that cannot be read are named with what to do, the bench stays, and its
// machine is not taken for theirs.
func TestFailedLoadLeavesTheBench(t *testing.T) {
	s := fakeServices()
	good := s.Load
	bad := false
	s.Load = func(ctx context.Context, r Request, p Progress) (*Logs, error) {
		if bad {
			return nil, &trace.ReadError{File: "bad.csv", Row: 3, Column: "x", Problem: "\"12x4\" is not a number", Advice: "correct the row"}
		}
		return good(ctx, r, p)
	}
	a := opened(s, Start{Work: demoWork(), Folder: "/data"})
	bad = true
	hit(a, "enter")
	hit(a, "down", "enter")
	view := a.View()
	for _, want := range []string{"could not be read", "bad.csv:3", "correct the row", "DEMO MACHINE", "not yours"} {
		if !strings.Contains(view, want) {
			t.Errorf("no %q in\n%s", want, view)
		}
	}
	bad = false
	hit(a, "r")
	if a.over != nil || a.work.Demo {
		t.Error("r does not read the corrected file")
	}
}

// A cancelled fit leaves nothing behind, and its late answer is dropped.
func TestCancel(t *testing.T) {
	a := New(context.Background(), fakeServices(), Start{Work: Work{Options: fakeOptions()}, Request: Request{Paths: []string{"/data/survey.csv"}}})
	a.Init()
	id := a.task.id
	a.Update(keyOf("esc"))
	if a.task != nil || !strings.Contains(a.notice, "cancelled") {
		t.Fatal("esc does not cancel")
	}
	a.Update(taskDone{id, loadedMsg{logs: fakeLogs()}})
	if a.work.Logs != nil {
		t.Error("a cancelled load still put logs on the bench")
	}
}

// A panic below becomes a message; the work on the bench stays.
func TestPanicBelowIsSurvived(t *testing.T) {
	a := own(t, "3")
	a.services.Propose = func(context.Context, *plant.Plant, tuning.Options) (*tuning.Proposal, error) {
		panic("index out of range")
	}
	hit(a, "left")
	if err := a.failures[stepPropose]; err == nil || !strings.Contains(err.Error(), "fault in the program") {
		t.Errorf("failure %v, want a fault in the program", err)
	}
	if a.work.Proposal == nil {
		t.Error("the proposal before is lost")
	}
	a.services.Load = func(context.Context, Request, Progress) (*Logs, error) { panic("boom") }
	hit(a, "r")
	if _, told := a.over.(*fault); !told || a.work.Plant == nil {
		t.Error("a panic while reading is not reported, or takes the plant with it")
	}
}
