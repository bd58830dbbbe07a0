package main

import (
	"bytes"
	"encoding/json"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"eha/strokewise/samples/twin"
)

// asFound writes a short closed-loop log of an invented machine in some session.
func asFound(t *testing.T, dir, name string, m *twin.Machine, session uint64) string {
	t.Helper()
	again := *m
	again.Session = session
	var b bytes.Buffer
	if err := twin.AsFound(&again, m.Loops).WriteCSV(&b); err != nil {
		t.Fatal(err)
	}
	path := filepath.Join(dir, name)
	if err := os.WriteFile(path, b.Bytes(), 0o600); err != nil {
		t.Fatal(err)
	}
	return path
}

type comparison struct {
	Format string
	Moves  []struct {
		Before, After int
		Figures       map[string]struct{ Verdict string }
	}
	Plant map[string]struct {
		Changed bool
		Ratio   *float64
	}
	Notes []string
}

func comparisonOf(t *testing.T, text string) (c comparison) {
	t.Helper()
	if err := json.Unmarshal([]byte(text), &c); err != nil {
		t.Fatalf("%v: %.200s", err, text)
	}
	return c
}

// A machine whose pump wears is logged twice; the comparison says so, and of plant
// files the same without the moves.
func TestCompareTheSameMachineTwice(t *testing.T) {
	dir := t.TempDir()
	m := twin.Random(twin.Resisting, 5150)
	worn := *m
	worn.LeakInternal *= 2
	worn.LeakCase *= 2
	file := filepath.Join(dir, "machine.toml")
	if err := os.WriteFile(file, []byte(twin.MachineFile(m)), 0o600); err != nil {
		t.Fatal(err)
	}
	before, after := asFound(t, dir, "before.csv", m, 1), asFound(t, dir, "after.csv", &worn, 2)
	status, out, errText := call(t, "compare", "-m", file, "--before", before, "--after", after, "--json")
	if status != exitDone {
		t.Fatalf("exit %d: %s", status, errText)
	}
	c := comparisonOf(t, out)
	if c.Format != "strokewise.compare/1" || len(c.Moves) == 0 || !c.Plant["slip"].Changed || c.Plant["stroke_per_turn_cap"].Changed {
		t.Errorf("%d moves, slip %+v", len(c.Moves), c.Plant["slip"])
	}
	var plants []string
	for _, log := range []string{before, after} {
		path := strings.TrimSuffix(log, ".csv") + ".json"
		if status, _, errText := call(t, "fit", "-m", file, "--json", "-o", path, log); status != exitDone {
			t.Fatalf("fit: exit %d: %s", status, errText)
		}
		plants = append(plants, path)
	}
	status, out, errText = call(t, "compare", "--before", plants[0], "--after", plants[1], "--json")
	fromPlants := comparisonOf(t, out)
	if status != exitDone || len(fromPlants.Moves) != 0 || !fromPlants.Plant["slip"].Changed || !strings.Contains(strings.Join(fromPlants.Notes, " "), "plant file") {
		t.Errorf("from plant files: exit %d, notes %q %s", status, fromPlants.Notes, errText)
	}
	status, text, _ := call(t, "compare", "-m", file, "--before", before, "--after", after, "--units", "inch")
	if status != exitDone || !strings.Contains(text, "worn pump") || !strings.Contains(text, " in ") {
		t.Errorf("text: exit %d:\n%.600s", status, text)
	}
}

func TestCompareRefuses(t *testing.T) {
	const head = "time_s,motor_position_rev,rod_position_mm\n"
	still := write(t, "still.csv", head+"0.000,0,1\n0.001,0,1\n0.002,0,1\n")
	for _, c := range []struct {
		name   string
		args   []string
		status int
		want   string
	}{
		{"one side", []string{"--before", still}, exitUsage, "needs --before LOG and --after LOG"},
		{"a log without a side", []string{"--before", still, "--after", still, "more.csv"}, exitUsage, "behind --before or --after"},
		{"standard input twice", []string{"--before", "-", "--after", "-"}, exitUsage, "standard input"},
		{"no such file", []string{"--before", still, "--after", "nowhere.csv"}, exitFile, "nowhere.csv: no such file"},
		{"nothing moves", []string{"--before", still, "--after", still}, exitUnsupported, "before: stopped by the check"},
	} {
		t.Run(c.name, func(t *testing.T) {
			status, _, errText := call(t, append([]string{"compare"}, c.args...)...)
			if status != c.status || !strings.Contains(errText, c.want) || strings.Count(errText, "\n") != 1 {
				t.Errorf("exit %d, want %d; standard error %q, want one line with %q", status, c.status, errText, c.want)
			}
		})
	}
}

// Logs that the check stops are not compared: exit 4 with the side and the finding.
func TestCompareStopsWithTheCheck(t *testing.T) {
	dir := t.TempDir()
	m := twin.Random(twin.Resisting, 5150)
	good, bad := asFound(t, dir, "good.csv", m, 1), turned(t, dir, "bad.csv", m)
	status, out, errText := call(t, "compare", "--before", good, "--after", bad, "--json")
	c := comparisonOf(t, out)
	if status != exitUnsupported || !strings.Contains(errText, "after: stopped by the check") || len(c.Plant)+len(c.Moves) != 0 || len(c.Notes) != 1 {
		t.Errorf("exit %d: %s; notes %q", status, errText, c.Notes)
	}
	// The result of a fit holds the findings in full, so the last word is short.
	status, out, errText = call(t, "fit", bad)
	if status != exitUnsupported || !strings.Contains(errText, "wrong sign") || len(errText) > 200 || !strings.Contains(out, "has the wrong sign") {
		t.Errorf("fit: exit %d: %s", status, errText)
	}
}

// turned writes a log whose transducer is wired the wrong way round.
func turned(t *testing.T, dir, name string, m *twin.Machine) string {
	t.Helper()
	l := twin.AsFound(m, m.Loops)
	for i := range l.Columns {
		if c := &l.Columns[i]; c.Channel == "rod_position" {
			c.Factor = -c.Factor
		}
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
