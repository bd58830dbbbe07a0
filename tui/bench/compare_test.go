package bench

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"os"
	"path/filepath"
	"testing"

	"eha/strokewise/ident/plant"
	"eha/strokewise/ident/quantity"
	"eha/strokewise/samples/twin"
	"eha/strokewise/tui"
	"eha/strokewise/tuning"
	"eha/strokewise/tuning/compare"
	"eha/strokewise/tuning/job"
)

// logOf writes a closed-loop log of the machine and returns its path.
func logOf(t *testing.T, dir, name string, m *twin.Machine, change func(*twin.Log)) string {
	t.Helper()
	l := twin.AsFound(m, m.Loops)
	if change != nil {
		change(l)
	}
	var b bytes.Buffer
	if err := l.WriteCSV(&b); err != nil {
		t.Fatal(err)
	}
	path := filepath.Join(dir, name)
	if err := os.WriteFile(path, b.Bytes(), 0o600); err != nil {
		t.Fatal(err)
	}
	return path
}

func slipOf(r *compare.Report) compare.Change {
	for _, c := range r.Plant {
		if c.Param == plant.Slip {
			return c
		}
	}
	return compare.Change{}
}

// A bench with a worn pump beside its earlier logs: slip is seen to have grown one way
// round and to have fallen the other, and behaviour is compared too.
func TestCompareSets(t *testing.T) {
	dir := t.TempDir()
	m := twin.Random(twin.Resisting, 5151)
	worn := *m
	worn.LeakInternal *= 2
	worn.LeakCase *= 2
	worn.Session = 1
	silent := func(string, float64) {}
	logs, err := load(context.Background(), tui.Request{Paths: []string{logOf(t, dir, "after.csv", &worn, nil)}}, silent)
	if err != nil {
		t.Fatal(err)
	}
	p, err := fit(context.Background(), logs, silent)
	if err != nil {
		t.Fatal(err)
	}
	c, err := compareSets(context.Background(), tui.Request{Paths: []string{logOf(t, dir, "before.csv", m, nil)}}, logs, p, silent)
	if err != nil {
		t.Fatal(err)
	}
	then, now := slipOf(c.OtherBefore), slipOf(c.OtherAfter)
	if !then.Changed || !(then.Ratio > 1.7 && then.Ratio < 2.3) || !now.Changed || !(now.Ratio < 0.6) {
		t.Errorf("slip with the other set before: %+v, after: %+v", then, now)
	}
	if len(c.OtherBefore.Moves) == 0 || len(c.OtherBefore.Moves) != len(c.OtherAfter.Moves) {
		t.Errorf("%d and %d moves", len(c.OtherBefore.Moves), len(c.OtherAfter.Moves))
	}
	for _, before := range []bool{false, true} {
		c.BenchBefore = before
		for _, name := range []string{"compare.txt", "compare.json"} {
			path := filepath.Join(dir, name)
			if err := saveComparison(path, p, c, quantity.Metric); err != nil {
				t.Fatal(err)
			}
			data, err := os.ReadFile(path)
			if err != nil || !bytes.Contains(data, []byte("slip")) {
				t.Errorf("%s: %v, %d bytes", name, err, len(data))
			}
			if name == "compare.json" && json.Valid(data) == false {
				t.Error("no JSON")
			}
			if name == "compare.txt" && bytes.Contains(data, []byte("before  after.csv")) != before {
				t.Errorf("bench before %v, saved as\n%.300s", before, data)
			}
		}
	}
	// The record made on the screens holds the comparison in view.
	proposal, err := tuning.Propose(context.Background(), p, tuning.DefaultOptions())
	if err != nil {
		t.Fatal(err)
	}
	page := filepath.Join(dir, "record.html")
	if err := saveRecord(context.Background(), page, &tui.Work{Logs: logs, Plant: p, Proposal: proposal, Comparison: c}, quantity.Metric, "test"); err != nil {
		t.Fatal(err)
	}
	if data, err := os.ReadFile(page); err != nil || !bytes.Contains(data, []byte("Before and after")) {
		t.Errorf("the record holds no comparison (%v)", err)
	}
	alone, err := compareSets(context.Background(), tui.Request{Paths: []string{filepath.Join(dir, "before.csv")}}, nil, p, silent)
	if err != nil || len(alone.OtherBefore.Moves) != 0 || !slipOf(alone.OtherBefore).Changed {
		t.Errorf("a plant alone on the bench: %v, %+v", err, alone)
	}

	turned := logOf(t, dir, "turned.csv", m, func(l *twin.Log) {
		for i := range l.Columns {
			if l.Columns[i].Channel == "rod_position" {
				l.Columns[i].Factor = -l.Columns[i].Factor
			}
		}
	})
	var stop *job.StopError
	if _, err := compareSets(context.Background(), tui.Request{Paths: []string{turned}}, logs, p, silent); !errors.As(err, &stop) {
		t.Errorf("logs wired the wrong way round: %v, want a *job.StopError", err)
	}
}

// The demo as found beside the demo as left: steps rise and settle sooner, and of
// the machine, which is the same, no change is said.
func TestDemoAsLeft(t *testing.T) {
	l := twin.DemoAfter()
	var text bytes.Buffer
	if err := l.WriteCSV(&text); err != nil {
		t.Fatal(err)
	}
	path := filepath.Join(t.TempDir(), l.Name)
	if err := os.WriteFile(path, text.Bytes(), 0o600); err != nil {
		t.Fatal(err)
	}
	silent := func(string, float64) {}
	logs, err := load(context.Background(), tui.Request{Demo: true}, silent)
	if err != nil {
		t.Fatal(err)
	}
	p, _ := demo()
	c, err := compareSets(context.Background(), tui.Request{Paths: []string{path}}, logs, p, silent)
	if err != nil {
		t.Fatal(err)
	}
	sooner := 0
	for _, m := range c.OtherAfter.Moves {
		for _, d := range m.Figures {
			if d.Verdict == compare.Better && (d.Figure == compare.Rise || d.Figure == compare.Settling) {
				sooner++
			}
		}
	}
	if sooner < 4 {
		t.Errorf("%d figures say that steps go sooner", sooner)
	}
	for _, change := range c.OtherAfter.Plant {
		if change.Changed {
			t.Errorf("%s is said to have changed, x %g", change.Param, change.Ratio)
		}
	}
}
