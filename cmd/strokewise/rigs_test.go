package main

import (
	"bytes"
	"context"
	"encoding/json"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// rigs holds logs of simulated machines that nobody here modelled, with their
// truth; they lie beside the project, not in it.
const rigs = "../../../shared/rigs"

func needRig(t *testing.T, name string) string {
	t.Helper()
	dir := filepath.Join(rigs, name)
	if _, err := os.Stat(dir); err != nil {
		t.Skipf("%s is not here", dir)
	}
	return dir
}

// call runs one command line as a user would and returns what it printed.
func call(t *testing.T, args ...string) (status int, stdout, stderr string) {
	t.Helper()
	var out, err bytes.Buffer
	status = run(context.Background(), args, streams{strings.NewReader(""), &out, &err})
	return status, out.String(), err.String()
}

type truthFile struct {
	Parameters map[string]struct {
		Value float64
		Range [2]float64
	}
}

func readTruth(t *testing.T, dir string) truthFile {
	t.Helper()
	data, err := os.ReadFile(filepath.Join(dir, "truth.json"))
	if err != nil {
		t.Fatal(err)
	}
	var truth truthFile
	if err := json.Unmarshal(data, &truth); err != nil {
		t.Fatal(err)
	}
	return truth
}

type fitted1 struct {
	Format     string
	Parameters map[string]struct {
		Value, Low, High *float64
		Status           string
	}
}

// TestFitOnRigs holds each identified parameter within the bounds asked of the
// program (relative error against the nearest defensible reading of the truth),
// and within three of its own half-widths.
func TestFitOnRigs(t *testing.T) {
	bounds := map[string]float64{
		"stroke_per_turn_extend": 0.005, "stroke_per_turn_retract": 0.005, "stroke_per_turn_cap": 0.005, "stroke_per_turn_rod": 0.005,
		"drive_bandwidth": 0.10, "hydraulic_frequency": 0.08, "coulomb_friction": 0.15, "slip": 0.15, "moving_mass": 0.15,
	}
	for _, c := range []struct {
		rig  string
		logs []string
		more []string
	}{
		{"press-vertical", []string{"survey.csv", "press.csv"}, nil},
		{"press-vertical", []string{"survey.csv"}, nil},
		{"swap-horizontal", []string{"survey.csv"}, nil},
		{"remote-counts", []string{"survey.csv"}, []string{"--log-period", "2ms"}},
	} {
		t.Run(c.rig+" "+strings.Join(c.logs, " "), func(t *testing.T) {
			dir := needRig(t, c.rig)
			args := append([]string{"fit", "--json", "-m", filepath.Join(dir, "machine.toml")}, c.more...)
			for _, l := range c.logs {
				args = append(args, filepath.Join(dir, l))
			}
			status, out, errText := call(t, args...)
			if status != exitDone {
				t.Fatalf("exit %d: %s", status, errText)
			}
			var got fitted1
			if err := json.Unmarshal([]byte(out), &got); err != nil {
				t.Fatal(err)
			}
			for name, truth := range readTruth(t, dir).Parameters {
				e, ok := got.Parameters[name]
				if !ok {
					t.Errorf("%s is not in the result", name)
					continue
				}
				if e.Value == nil {
					if _, asked := bounds[name]; asked {
						t.Errorf("%s is %s", name, e.Status)
					}
					continue
				}
				near := math.Min(math.Max(*e.Value, truth.Range[0]), truth.Range[1])
				off := math.Abs(*e.Value - near)
				t.Logf("%-24s %10.5g [%10.5g, %10.5g] %-10s truth %10.5g, off %5.2f %%", name, *e.Value, *e.Low, *e.High, e.Status, truth.Value, 100*off/math.Abs(truth.Value))
				if bound, asked := bounds[name]; asked && e.Status == "identified" && off > bound*math.Abs(truth.Value) {
					t.Errorf("%s = %g, truth %g: off by %.1f %%, bound %.1f %%", name, *e.Value, truth.Value, 100*off/truth.Value, 100*bound)
				}
				if e.Status == "identified" && off > 3*(*e.High-*e.Low)/2 {
					t.Errorf("%s = %g in [%g, %g]: more than three half-widths from %v", name, *e.Value, *e.Low, *e.High, truth.Range)
				}
			}
		})
	}
}
