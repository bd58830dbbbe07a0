package main

import (
	"encoding/json"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// demoFolder returns a folder with the demo machine's files.
func demoFolder(t *testing.T) string {
	t.Helper()
	dir := filepath.Join(t.TempDir(), "demo")
	if status, _, errText := call(t, "demo", dir); status != exitDone {
		t.Fatalf("demo: %s", errText)
	}
	return dir
}

// moves writes every table that its list names, and the sheet that it prints.
func TestMovesWritesWhatItLists(t *testing.T) {
	dir := demoFolder(t)
	machine := filepath.Join(dir, "machine.toml")
	for _, command := range []string{"speed", "position"} {
		out := filepath.Join(t.TempDir(), "moves")
		status, text, errText := call(t, "moves", "-m", machine, "-o", out, "--command", command)
		if status != exitDone {
			t.Fatalf("exit %d: %s", status, errText)
		}
		sheet, err := os.ReadFile(filepath.Join(out, "sheet.txt"))
		if err != nil || string(sheet) != text {
			t.Errorf("sheet.txt is not what was printed (%v)", err)
		}
		list, err := os.ReadFile(filepath.Join(out, "moves.json"))
		if err != nil {
			t.Fatal(err)
		}
		status, printed, _ := call(t, "moves", "-m", machine, "-o", out, "--command", command, "--json")
		if status != exitDone || printed != string(list) {
			t.Errorf("--json, exit %d, does not print moves.json", status)
		}
		var doc struct{ Moves []struct{ File, Name string } }
		if err := json.Unmarshal(list, &doc); err != nil || len(doc.Moves) < 15 {
			t.Fatalf("%d moves listed (%v)", len(doc.Moves), err)
		}
		for _, m := range doc.Moves {
			table, err := os.ReadFile(filepath.Join(out, m.File))
			if err != nil {
				t.Error(err)
				continue
			}
			want := "time_s," + command + "_command_"
			if m.Name == "press_hold" {
				want = "time_s,force_command_kN"
			}
			if !strings.HasPrefix(string(table), want) {
				t.Errorf("%s begins %.40q, want %q", m.File, table, want)
			}
		}
	}
}

// A plan by an earlier fit says so, and knows the demo machine for what it is.
func TestMovesFromPlantFile(t *testing.T) {
	dir := demoFolder(t)
	plantFile := filepath.Join(dir, "plant.json")
	if status, _, errText := call(t, "fit", "-m", filepath.Join(dir, "machine.toml"), filepath.Join(dir, "survey.csv"), filepath.Join(dir, "press.csv"), "--json", "-o", plantFile); status != exitDone {
		t.Fatalf("fit: exit %d: %s", status, errText)
	}
	status, text, errText := call(t, "moves", plantFile, "-o", filepath.Join(dir, "moves"))
	if status != exitDone {
		t.Fatalf("exit %d: %s", status, errText)
	}
	if !strings.Contains(text, "slip as fitted") {
		t.Error("the sheet does not say that slip is as fitted")
	}
}

func TestMovesRefusals(t *testing.T) {
	dir := demoFolder(t)
	machine := filepath.Join(dir, "machine.toml")
	stale := t.TempDir()
	if err := os.WriteFile(filepath.Join(stale, "position_steps_100.csv"), nil, 0o600); err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		name   string
		args   []string
		status int
		want   string
	}{
		{"no folder", []string{"moves", "-m", machine}, exitUsage, "-o DIR"},
		{"other command", []string{"moves", "-m", machine, "-o", stale, "--command", "torque"}, exitUsage, "speed or position"},
		{"no machine", []string{"moves", "-o", stale}, exitUnsupported, "cylinder.bore"},
		{"table of an earlier plan", []string{"moves", "-m", machine, "-o", stale}, exitFile, "position_steps_100.csv of an earlier plan"},
		{"a file for a folder", []string{"moves", "-m", machine, "-o", machine}, exitFile, "cannot be made"},
	} {
		t.Run(c.name, func(t *testing.T) {
			status, _, errText := call(t, c.args...)
			if status != c.status || !strings.Contains(errText, c.want) || strings.Count(errText, "\n") != 1 {
				t.Errorf("exit %d: %q, want %d and one line with %q", status, errText, c.status, c.want)
			}
		})
	}
}
