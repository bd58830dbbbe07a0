package tui

import (
	"context"
	"errors"
	"strings"
	"testing"

	"eha/strokewise/ident/quality"
	"eha/strokewise/ident/trace"
	"eha/strokewise/tuning/job"
)

// mapped is a program on whose logs the rod position was turned round.
func mapped(t *testing.T, keys ...string) *App {
	t.Helper()
	a := own(t, keysOf("1 down down m tab tab right enter")...)
	if !a.mappingUnsaved() {
		t.Fatalf("nothing said: %+v", a.request)
	}
	hit(a, keys...)
	return a
}

// A finding that the columns alone can clear is cleared by one key, on the whole of
// what is known of the column, and the key after takes it back.
func TestOneKeyCorrects(t *testing.T) {
	for _, c := range []struct {
		cure quality.Cure
		want map[trace.Channel]trace.Column
	}{
		{quality.Cure{Kind: quality.TurnSign, Channel: trace.RodPosition}, map[trace.Channel]trace.Column{trace.RodPosition: {Header: "LT", Unit: "mm", Sign: -1}}},
		{quality.Cure{Kind: quality.Exchange, Channel: trace.CapPressure, With: trace.RodPressure}, nil}, // the rod side's column is not known
		{quality.Cure{Kind: quality.Exchange, Channel: trace.CapPressure, With: trace.RodPosition}, map[trace.Channel]trace.Column{
			trace.CapPressure: {Header: "LT", Unit: "bar"}, trace.RodPosition: {Header: "pA", Unit: "mm"}}},
		{quality.Cure{Kind: quality.Rescale, Channel: trace.RodPosition, Factor: 25.4}, nil}, // nothing is 25.4 times as small as a mm
		{quality.Cure{Kind: quality.Rescale, Channel: trace.RodPosition, Factor: 1 / 25.4}, map[trace.Channel]trace.Column{trace.RodPosition: {Header: "LT", Unit: "in"}}},
		{quality.Cure{Kind: quality.Rescale, Channel: trace.CapPressure, Factor: 14.5038}, map[trace.Channel]trace.Column{trace.CapPressure: {Header: "pA", Unit: "psi"}}},
		{quality.Cure{Kind: quality.Reference, Channel: trace.CapPressure}, nil}, // it is read as gauge
		{quality.Cure{}, nil},
	} {
		s := fakeServices()
		s.Load = func(context.Context, Request, Progress) (*Logs, error) {
			l := stoppedLogs()
			l.Report.Findings[0].Cure = c.cure
			return l, nil
		}
		a := opened(s, Start{Work: Work{Options: fakeOptions()}, Request: Request{Paths: []string{"/data/survey.csv"}}})
		hit(a, "c")
		for channel, want := range c.want {
			if got := a.request.Columns[channel]; got != want {
				t.Errorf("%+v: %s read as %+v, want %+v", c.cure, channel, got, want)
			}
		}
		if _, asks := a.over.(*mapper); len(c.want) != len(a.request.Columns) || asks != (c.want == nil) {
			t.Errorf("%+v: said %v, table %v", c.cure, a.request.Columns, asks)
		}
		if c.want != nil && !strings.Contains(a.notice, "u undoes") {
			t.Errorf("%+v: notice %q", c.cure, a.notice)
		}
		if hit(a, "esc", "u"); a.mappingUnsaved() {
			t.Errorf("%+v: not undone: %v", c.cure, a.request.Columns)
		}
	}
}

// Counts per turn follow the factor.
func TestRescaledCounts(t *testing.T) {
	c, ok := rescale(quality.Cure{Kind: quality.Rescale, Channel: trace.MotorPosition, Factor: 4}, trace.Column{Header: "enc", Unit: "counts", CountsPerRev: 1024})
	if !ok || c.columns[trace.MotorPosition].CountsPerRev != 4096 {
		t.Errorf("%v: %+v", ok, c)
	}
}

// Neither opening other logs nor leaving loses what was said without asking.
func TestNothingSaidIsLostUnasked(t *testing.T) {
	a := mapped(t, "o", "down", "enter")
	l, asked := a.over.(*leaver)
	if !asked || !strings.Contains(strings.Join(l.lost, " "), "columns") {
		t.Fatalf("not asked before opening: %T", a.over)
	}
	if hit(a, "esc"); !a.mappingUnsaved() {
		t.Error("staying loses what was said")
	}
	hit(a, "o", "down", "enter", "y")
	if a.mappingUnsaved() || a.over != nil || a.work.Logs == nil {
		t.Error("going on does not open")
	}
	a = mapped(t, "q")
	if l := a.over.(*leaver); !strings.Contains(strings.Join(l.lost, " "), "columns") {
		t.Errorf("leaving tells of %q", l.lost)
	}
	a = own(t, "1", "tab", "e", "q")
	if view := a.View(); !strings.Contains(view, "--leave-out '/data/survey.csv=20.000s..21.000s'") {
		t.Errorf("leaving does not say how to leave out again:\n%s", view)
	}
}

// Saved to the machine file, what was said need not be asked about and is read from there.
func TestSavedMappingIsTheMachineFiles(t *testing.T) {
	a := mapped(t, "s", "up", "up", "up", "up", "down", "down", "enter")
	if a.mappingUnsaved() || a.request.MachineFile != "/data/machine.toml" {
		t.Errorf("unsaved %v, machine file %q, notice %q", a.mappingUnsaved(), a.request.MachineFile, a.notice)
	}
	if hit(a, "1", "u"); a.task != nil || !strings.Contains(a.notice, "Nothing was corrected") {
		t.Errorf("undo beyond the machine file: %q", a.notice)
	}
}

// A save that fails says why and offers to save again under the name typed; nothing
// counts as saved.
func TestFailedSaveIsOfferedAgain(t *testing.T) {
	a := mapped(t)
	a.services.SaveColumns = func(string, string, map[trace.Channel]trace.Column) error {
		return errors.New("job: no room on the disk")
	}
	hit(a, "s", "down", "down", "x", "enter")
	s, again := a.over.(*saver)
	if !again || !strings.Contains(a.View(), "no room on the disk") || !strings.HasSuffix(s.items[s.at].path, "tomlx") || !a.mappingUnsaved() {
		t.Fatalf("%T, unsaved %v:\n%s", a.over, a.mappingUnsaved(), a.View())
	}
}

// Knobs keep their places when the same logs are read again.
func TestKnobsOutliveACorrection(t *testing.T) {
	a := own(t, "3", "right", "1", "tab", "e")
	if a.work.Options.GainShare < 0.84 {
		t.Errorf("gain share %v after a correction", a.work.Options.GainShare)
	}
}

// One log of several that cannot be read is put aside with one key.
func TestOneBrokenLogOfSeveral(t *testing.T) {
	s := fakeServices()
	var read []string
	s.Load = func(_ context.Context, req Request, _ Progress) (*Logs, error) {
		if read = req.Paths; len(read) > 1 {
			return nil, &job.FileError{Path: "/data/b.csv", Err: &trace.ReadError{File: "b.csv", Problem: "this is an image, needed a CSV text"}}
		}
		return fakeLogs(), nil
	}
	s.Look = func(context.Context, Request, string, Progress) (*trace.Sheet, map[trace.Channel]trace.Column, error) {
		return nil, nil, errors.New("no table")
	}
	for _, paths := range [][]string{{"/data/survey.csv", "/data/b.csv"}, {"/data/b.csv+/data/c.csv", "/data/survey.csv"}} {
		a := opened(s, Start{Work: Work{Options: fakeOptions()}, Request: Request{Paths: paths}})
		if !strings.Contains(a.View(), "this is an image") {
			t.Fatalf("not told:\n%s", a.View())
		}
		hit(a, "x")
		if a.work.Logs == nil || len(read) != 1 || read[0] != "/data/survey.csv" || len(a.request.Paths) != 1 {
			t.Errorf("%v: read %v, on the bench %v", paths, read, a.request.Paths)
		}
	}
}

// A sample period that was typed wrong is corrected with one key too.
func TestOneKeyCorrectsThePeriod(t *testing.T) {
	s := fakeServices()
	s.Load = func(context.Context, Request, Progress) (*Logs, error) {
		l := stoppedLogs()
		l.Report.Findings[0].Cure = quality.Cure{Kind: quality.Retime, Channel: trace.Time, Factor: 2.002}
		return l, nil
	}
	a := opened(s, Start{Work: Work{Options: fakeOptions()}, Request: Request{Paths: []string{"/data/survey.csv"}, Period: 2e-3}})
	hit(a, "c")
	if p := a.request.Columns[trace.Time].Period; p != 0.999e-3 || a.request.Period != p {
		t.Errorf("period %v s, asked with %v s", p, a.request.Period)
	}
}
