package job

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"runtime/debug"
	"strings"
	"testing"

	"eha/strokewise/samples"
	"eha/strokewise/tuning"
)

// wholeWay goes from files to a proposal. It fails the test on a panic, on a fault
// of a file that is no *FileError, and on settings with a margin below its target.
func wholeWay(t *testing.T, name string, machineFile, log []byte) (proposed bool) {
	t.Helper()
	dir := t.TempDir()
	source := Source{Machine: filepath.Join(dir, "m.toml"), Logs: []string{filepath.Join(dir, "l.csv")}, Period: 1e-3}
	if err := errors.Join(os.WriteFile(source.Machine, machineFile, 0o600), os.WriteFile(source.Logs[0], log, 0o600)); err != nil {
		t.Fatal(err)
	}
	defer func() {
		if fault := recover(); fault != nil {
			t.Errorf("%s: panic: %v\n%s\nmachine:\n%s\nlog:\n%.600s", name, fault, debug.Stack(), machineFile, log)
		}
	}()
	ctx := context.Background()
	j, err := Open(ctx, source, nil)
	if err != nil {
		var file *FileError
		if !errors.As(err, &file) || strings.Contains(err.Error(), "\n") {
			t.Errorf("%s: %q is no *FileError in one line", name, err)
		}
		return false
	}
	j.Check()
	p, err := j.Fit(ctx, nil)
	if p == nil || err != nil {
		return false
	}
	opt := tuning.DefaultOptions()
	out, err := j.Propose(ctx, p, opt)
	if err != nil || out.Loops.Position == nil {
		return false
	}
	for _, m := range out.Margins {
		if !m.Stable || math.IsNaN(m.Sensitivity) || m.Loop == "position" && (m.GainMargin < opt.Targets.GainMargin || m.PhaseMargin < opt.Targets.PhaseMargin) {
			t.Errorf("%s: proposed with %+v", name, m)
		}
	}
	for _, v := range []float64{out.Loops.Position.Kp.Extend, out.Loops.Position.Kp.Retract, out.Loops.Position.Ki.Extend, out.Loops.Position.Ki.Retract} {
		if !(v >= 0) || math.IsInf(v, 0) {
			t.Errorf("%s: proposed a gain of %g", name, v)
		}
	}
	return true
}

var columns = []string{"time_s", "speed_command_rpm", "motor_position_rev", "rod_position_mm", "cap_pressure_bar", "rod_pressure_bar",
	"motor_current_A", "position_command_mm", "force_kN", "comment"}

// garbage is a table of which anything may be wrong.
func garbage(rng *rand.Rand) []byte {
	var b bytes.Buffer
	n := 2 + rng.IntN(len(columns)-1)
	order := rng.Perm(len(columns))[:n]
	delimiter := []string{",", ";", "\t", "|"}[rng.IntN(4)]
	for i, c := range order {
		if i > 0 {
			b.WriteString(delimiter)
		}
		b.WriteString(columns[c])
	}
	b.WriteString("\n")
	kinds := make([]int, n)
	for i := range kinds {
		kinds[i] = rng.IntN(7)
	}
	rows := []int{0, 1, 2, 3, 50, 3000, 20000}[rng.IntN(7)]
	for r := range rows {
		for i, c := range order {
			if i > 0 {
				b.WriteString(delimiter)
			}
			if columns[c] == "time_s" && rng.IntN(2000) > 0 {
				fmt.Fprintf(&b, "%.4f", 1e-3*float64(r))
				continue
			}
			b.WriteString(cell(rng, kinds[i], r))
		}
		b.WriteString("\n")
	}
	if rng.IntN(4) == 0 { // cut anywhere
		b.Truncate(rng.IntN(b.Len() + 1))
	}
	return b.Bytes()
}

func cell(rng *rand.Rand, kind, row int) string {
	odd := []string{"", "NaN", "inf", "-", "x", "1e300", "-1e-300", "0x1p3", "1,5", "\"", "1e15", "#N/A"}
	if rng.IntN(500) == 0 {
		return odd[rng.IntN(len(odd))]
	}
	switch kind {
	case 0:
		return "0"
	case 1:
		return fmt.Sprintf("%g", rng.NormFloat64())
	case 2:
		return fmt.Sprintf("%.3f", 100*math.Sin(float64(row)/300))
	case 3:
		return fmt.Sprintf("%.4g", math.Exp(50*rng.NormFloat64()))
	case 4:
		return fmt.Sprintf("%d", row/700%5*20)
	case 5:
		return fmt.Sprintf("%d", row)
	}
	return fmt.Sprintf("%.2f", math.Abs(float64(row%4000)-2000)/10)
}

// machineText is a machine file with quantities from the absurdly small to the absurdly large.
func machineText(rng *rand.Rand) []byte {
	size := func(unit string) string {
		return fmt.Sprintf("%q", fmt.Sprintf("%.4g %s", math.Exp(6*rng.NormFloat64()), unit))
	}
	var b bytes.Buffer
	for _, line := range []struct{ text, unit string }{
		{"[cylinder]\nbore", "mm"}, {"rod", "mm"}, {"stroke", "mm"}, {"[pump]\ndisplacement", "cm3/rev"}, {"[motor]\nmax_speed", "rpm"},
		{"peak_torque", "Nm"}, {"[limits]\nworking_pressure", "bar"}, {"stroke_margin", "mm"}, {"force", "kN"}, {"[load]\nmass", "kg"}, {"[controller]\nperiod", "ms"},
	} {
		head, key, isHead := strings.Cut(line.text, "\n")
		if !isHead {
			key = head
		} else {
			b.WriteString(head + "\n")
		}
		if rng.IntN(3) > 0 {
			b.WriteString(key + " = " + size(line.unit) + "\n")
		}
	}
	return b.Bytes()
}

// Whatever stands in the files, there is an answer or an error, and no settings
// with bad margins.
func TestGarbageNeverPanics(t *testing.T) {
	count := uint64(150)
	if testing.Short() {
		count = 30
	}
	for seed := range count {
		rng := rand.New(rand.NewPCG(seed, 55))
		text := samples.MachineFile()
		if seed%2 == 0 {
			text = machineText(rng)
		}
		wholeWay(t, fmt.Sprintf("seed %d", seed), text, garbage(rng))
	}
}

// Logs of a real machine with something wrong in them lead to a proposal often
// enough to judge that its margins hold then.
func TestSpoiltLogsNeverGiveUnstableSettings(t *testing.T) {
	count := uint64(8)
	if testing.Short() {
		count = 3
	}
	proposed := 0
	for seed := range count {
		rng := rand.New(rand.NewPCG(seed, 56))
		text := samples.MachineFile()
		if seed%3 == 2 {
			text = machineText(rng)
		}
		if wholeWay(t, fmt.Sprintf("seed %d", seed), text, spoil(t, rng)) {
			proposed++
		}
	}
	t.Logf("%d of %d spoilt logs gave a position loop", proposed, count)
	if proposed == 0 {
		t.Error("no spoilt log led to a proposal: nothing was judged")
	}
}

// spoil takes a part of a demo log and does something to one or two columns.
func spoil(t *testing.T, rng *rand.Rand) []byte {
	t.Helper()
	l := samples.Logs()[1+rng.IntN(2)]
	data, err := io.ReadAll(l.Open())
	if err != nil {
		t.Fatal(err)
	}
	lines := strings.Split(strings.TrimSpace(string(data)), "\n")
	body := lines[1:]
	from := rng.IntN(len(body) / 4)
	body = body[from : from+len(body)/4+rng.IntN(len(body)/2)]
	n := strings.Count(lines[0], ",") + 1
	for range 1 + rng.IntN(2) {
		col, way, at := 1+rng.IntN(n-1), rng.IntN(6), rng.IntN(len(body))
		held := strings.Split(body[at], ",")[col]
		for i, line := range body {
			cells := strings.Split(line, ",")
			var v float64
			if _, err := fmt.Sscan(cells[col], &v); err != nil {
				continue
			}
			switch way {
			case 0: // scaled
				v *= 3
			case 1: // noisy
				v += 0.05 * math.Abs(v) * rng.NormFloat64()
			case 2: // held from some moment on
				if i > at {
					cells[col] = held
				}
			case 3: // drifting
				v += float64(i) * 1e-4
			case 4: // coarse
				v = math.Round(v)
			case 5: // with spikes
				if rng.IntN(300) == 0 {
					v += 1000
				}
			}
			if way != 2 {
				cells[col] = fmt.Sprintf("%.6f", v)
			}
			body[i] = strings.Join(cells, ",")
		}
	}
	return []byte(lines[0] + "\n" + strings.Join(body, "\n") + "\n")
}
