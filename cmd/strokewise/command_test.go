package main

import (
	"encoding/json"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
)

func write(t *testing.T, name, text string) string {
	t.Helper()
	path := filepath.Join(t.TempDir(), name)
	if err := os.WriteFile(path, []byte(text), 0o600); err != nil {
		t.Fatal(err)
	}
	return path
}

// Bad input gets one clear line and the exit status that the README states.
func TestBadInputGetsOneLine(t *testing.T) {
	const head = "time_s,motor_position_rev,rod_position_mm\n"
	rows := head + "0.000,0,1\n0.001,0,1\n0.002,0,1\n"
	good := write(t, "good.csv", rows)
	other := write(t, "other.csv", strings.Replace(rows, "rod_position_mm", "stroke", 1))
	for _, c := range []struct {
		name   string
		args   []string
		status int
		want   string
	}{
		{"no such log", []string{"fit", "nowhere.csv"}, exitFile, "nowhere.csv: no such file"},
		{"a folder", []string{"fit", t.TempDir()}, exitFile, "is a folder"},
		{"empty file", []string{"fit", write(t, "empty.csv", "")}, exitFile, "empty"},
		{"one row", []string{"fit", write(t, "one.csv", head+"0,0,0\n")}, exitFile, "at least two"},
		{"text in a number column", []string{"fit", write(t, "text.csv", rows+"0.003,1x,1\n0.004,0,1\n")}, exitFile, "text.csv:5: motor position"},
		{"no time", []string{"fit", write(t, "notime.csv", "motor_position_rev,rod_position_mm\n0,1\n0,1\n0,1\n")}, exitFile, "--log-period"},
		{"unknown key", []string{"check", "-m", write(t, "m.toml", "[cylinder]\nborre = \"50 mm\"\n"), good}, exitFile, `did you mean "cylinder.bore"`},
		{"number without unit", []string{"check", "-m", write(t, "m.toml", "[cylinder]\nbore = 50\n"), good}, exitFile, "m.toml:2"},
		{"settings of another format", []string{"tune", "--as-found", write(t, "s.json", "{}"), good}, exitFile, "s.json: format"},
		{"plant file of another format", []string{"tune", write(t, "p.json", "{}")}, exitFile, "p.json: format"},
		{"unknown flag", []string{"fit", "--jsn", good}, exitUsage, "--jsn"},
		{"no log", []string{"tune"}, exitUsage, "needs at least one log"},
		{"misspelt command", []string{"fti"}, exitUsage, "did you mean fit"},
		{"period without unit", []string{"fit", "--log-period", "2", good}, exitUsage, "such as 2ms"},
		{"unknown units", []string{"fit", "--units", "cubits", good}, exitUsage, "metric or inch"},
		{"what-if without unit", []string{"tune", "--mass", "400", good}, exitUsage, "--mass"},
		// Each of these ended in a panic, in all of the memory or not at all.
		{"what-if of no weight", []string{"tune", "--mass", "1e300 kg", good}, exitUsage, "expected 0.001 kg to"},
		{"what-if of a load beyond all", []string{"tune", "--load", "1e300 kN", good}, exitUsage, "--load"},
		{"what-if of a delay for ever", []string{"tune", "--outer-delay", "1e9 s", good}, exitUsage, "expected 0 s to 1 s"},
		{"what-if of a period too short", []string{"tune", "--controller-period", "1 us", good}, exitUsage, "expected 0.00001 s to 1 s"},
		{"what-if of a hose beyond all", []string{"tune", "--line-volume", "1e300 L", good}, exitUsage, "--line-volume"},
		{"contact stiffer than all", []string{"tune", "--contact-softest", "1 N/m", "--contact-stiffest", "1e300 N/m", good}, exitUsage, "1000000 kN/mm"},
		{"half a contact range", []string{"tune", "--contact-softest", "10 kN/mm", good}, exitUsage, "--contact-stiffest"},
		{"contact range upside down", []string{"tune", "--contact-softest", "10 kN/mm", "--contact-stiffest", "5 kN/mm", good}, exitUsage, "is stiffer than"},
		{"contact without stiffness", []string{"tune", "--contact-position", "210 mm", good}, exitUsage, "--contact-stiffest"},
		{"contact nowhere", []string{"tune", "--contact-softest", "5 kN/mm", "--contact-stiffest", "10 kN/mm", "--contact-position", "0 mm", good}, exitUsage, "--contact-position"},
		{"contact sideways", []string{"tune", "--contact-presses", "left", good}, exitUsage, "extend or retract"},
		{"bad channel", []string{"fit", "--channel", "rod=x", good}, exitUsage, "--channel"},
		{"column mistyped", []string{"check", "--channel", "rod_position=NOSUCH", good}, exitFile, `good.csv: no column "NOSUCH", which --channel states for rod_position; columns: time_s, motor_position_rev, rod_position_mm`},
		{"column mistyped in both logs", []string{"fit", "--channel", "force=NOSUCH[kN]", good, other}, exitFile, `good.csv, other.csv: no column "NOSUCH"`},
		{"time mistyped", []string{"fit", "--channel", "time=NOSUCH[s]", good}, exitFile, "NOSUCH"},
		{"column of the other log", []string{"fit", "--channel", "rod_position=stroke[mm]", good, other}, exitUnsupported, "stopped by the check"},
		{"column absent that the machine file states", []string{"fit", "-m", write(t, "channels.toml", "[channels]\nforce = { column = \"cell\", unit = \"kN\" }\n"), good}, exitUnsupported, "slow_strokes"},
		{"columns without meaning", []string{"check", write(t, "bare.csv", "time_s,ch1\n0,5\n0.1,7\n0.2,6\n")}, exitFile, "--channel 'rod_position=ch1[mm]'"},
		{"time without a name", []string{"check", write(t, "bare.csv", "ch1,ch2\n0,5\n0.1,7\n0.2,6\n")}, exitFile, "--channel 'time=ch1[s]'"},
		{"left out of no log", []string{"check", "--leave-out", "other.csv=1s..2s", good}, exitUsage, "not among the logs"},
		{"left out backwards", []string{"check", "--leave-out", good + "=2s..1s", good}, exitUsage, "12s..14s"},
		{"left out without units", []string{"check", "--leave-out", good + "=1..2", good}, exitUsage, "12s..14s"},
		{"all left out", []string{"check", "--leave-out", good + "=0s..1s", good}, exitFile, "tenth of the log"},
		{"nothing moves", []string{"fit", good}, exitUnsupported, "slow_strokes"},
		{"report without a place", []string{"report", good}, exitUsage, "-o FILE"},
	} {
		t.Run(c.name, func(t *testing.T) {
			status, _, errText := call(t, c.args...)
			if status != c.status {
				t.Errorf("exit %d, want %d: %s", status, c.status, errText)
			}
			if !strings.Contains(errText, c.want) {
				t.Errorf("standard error %q does not hold %q", errText, c.want)
			}
			if n := strings.Count(errText, "\n"); n != 1 {
				t.Errorf("%d lines on standard error, want one: %q", n, errText)
			}
		})
	}
}

// The demo's files go through every command; JSON stands alone on standard
// output, what is written with -o is what would have been printed, and a saved
// plant stands in place of logs.
func TestDemoThroughEveryCommand(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "demo")
	if status, out, errText := call(t, "demo", dir); status != exitDone || !strings.Contains(strings.ToLower(out), "invented") {
		t.Fatalf("demo: exit %d: %s%s", status, out, errText)
	}
	if status, _, errText := call(t, "demo", dir); status != exitFile || !strings.Contains(errText, "is not replaced") {
		t.Errorf("demo onto itself: exit %d: %s", status, errText)
	}
	in := func(name string) string { return filepath.Join(dir, name) }
	logs := []string{"-m", in("machine.toml"), in("survey.csv"), in("press.csv")}
	for _, command := range []string{"check", "fit", "tune"} {
		status, out, errText := call(t, append([]string{command, "--json"}, logs...)...)
		if status != exitDone {
			t.Fatalf("%s: exit %d: %s", command, status, errText)
		}
		var document map[string]any
		if err := json.Unmarshal([]byte(out), &document); err != nil {
			t.Errorf("%s --json: %v", command, err)
		}
		if format, _ := document["format"].(string); !strings.HasPrefix(format, "strokewise.") {
			t.Errorf("%s --json: format %q", command, format)
		}
	}
	plant := in("plant.json")
	if status, out, errText := call(t, append([]string{"fit", "--json", "-o", plant}, logs...)...); status != exitDone || out != "" {
		t.Fatalf("fit -o: exit %d, %d bytes on standard output: %s", status, len(out), errText)
	}
	_, fromLogs, _ := call(t, append([]string{"tune", "--json"}, logs...)...)
	status, fromPlant, errText := call(t, "tune", "--json", plant)
	if status != exitDone {
		t.Fatalf("tune PLANT: exit %d: %s", status, errText)
	}
	// The plant file keeps the model in full, so the settings must be the same.
	settings := regexp.MustCompile(`"k[pi]_[a-z_0-9A-Z]*": [0-9.e+-]*`)
	if a, b := settings.FindAllString(fromLogs, 6), settings.FindAllString(fromPlant, 6); strings.Join(a, ",") != strings.Join(b, ",") || len(a) < 6 {
		t.Errorf("settings from logs %v, from the saved plant %v", a, b)
	}
	page := in("record.html")
	if status, _, errText := call(t, append([]string{"report", "-o", page}, logs...)...); status != exitDone {
		t.Fatalf("report: exit %d: %s", status, errText)
	}
	for _, path := range []string{page, in("record.json")} {
		if info, err := os.Stat(path); err != nil || info.Size() < 10000 {
			t.Errorf("%s: %v", path, err)
		}
	}
}

// Without a terminal and without logs the demo machine's settings are printed, marked as such.
func TestAloneWithoutTerminal(t *testing.T) {
	status, out, errText := call(t)
	if status != exitDone || !strings.Contains(out, "DEMO MACHINE") || !strings.Contains(out, "kp") {
		t.Errorf("exit %d: %.200s %s", status, out, errText)
	}
}
