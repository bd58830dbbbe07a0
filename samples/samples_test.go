package samples

import (
	"bytes"
	"crypto/sha256"
	"encoding/json"
	"fmt"
	"io"
	"math"
	"runtime"
	"strconv"
	"strings"
	"testing"

	"eha/strokewise/ident/machine"
	"eha/strokewise/samples/twin"
)

// TestRegenerated checks that the embedded files are what the generator makes
// now. Where the processor rounds otherwise than the one they were made on (fused
// multiply-add), a stick-slip motion can differ in its details, so there the
// logs are compared as curves.
func TestRegenerated(t *testing.T) {
	files, err := twin.DemoFiles()
	if err != nil {
		t.Fatal(err)
	}
	for name, want := range files {
		if _, err := data.ReadFile("data/" + name + ".gz"); err != nil {
			t.Errorf("%s is not embedded; run go generate ./samples", name)
			continue
		}
		got := unpack(name + ".gz")
		if bytes.Equal(got, want) {
			continue
		}
		if runtime.GOARCH == "amd64" || !strings.HasSuffix(name, ".csv") {
			t.Errorf("%s differs from what the generator makes; run go generate ./samples", name)
			continue
		}
		compareCurves(t, name, got, want)
	}
}

// compareCurves allows a tenth of each channel's variation, root mean square:
// noise and stick-slip differ, what the demo shows does not.
func compareCurves(t *testing.T, name string, got, want []byte) {
	g, w := columns(t, got), columns(t, want)
	for c := range w {
		n := min(len(g[c]), len(w[c]))
		if math.Abs(float64(len(g[c])-len(w[c]))) > 0.01*float64(n) {
			t.Errorf("%s: %d rows, the generator makes %d", name, len(g[c]), len(w[c]))
			return
		}
		var mean, variation, off float64
		for _, v := range w[c][:n] {
			mean += v / float64(n)
		}
		for i := range n {
			variation += (w[c][i] - mean) * (w[c][i] - mean)
			off += (w[c][i] - g[c][i]) * (w[c][i] - g[c][i])
		}
		if off > 0.1*0.1*variation {
			t.Errorf("%s: column %d differs by %g of its variation", name, c, math.Sqrt(off/variation))
		}
	}
}

func columns(t *testing.T, text []byte) [][]float64 {
	var out [][]float64
	for i, line := range strings.Split(strings.TrimSpace(string(text)), "\n") {
		fields := strings.Split(line, ",")
		if i == 0 {
			out = make([][]float64, len(fields))
			continue
		}
		for c, f := range fields {
			v, err := strconv.ParseFloat(f, 64)
			if err != nil {
				t.Fatalf("row %d: %v", i, err)
			}
			out[c] = append(out[c], v)
		}
	}
	return out
}

func TestSize(t *testing.T) {
	entries, err := data.ReadDir("data")
	if err != nil {
		t.Fatal(err)
	}
	total := int64(0)
	for _, e := range entries {
		info, err := e.Info()
		if err != nil {
			t.Fatal(err)
		}
		total += info.Size()
	}
	if total >= 4<<20 {
		t.Errorf("embedded files take %d bytes, want under 4 MB", total)
	}
}

func TestContent(t *testing.T) {
	logs := Logs()
	if len(logs) != 3 {
		t.Fatalf("%d logs, want survey, as found and pressing", len(logs))
	}
	for _, l := range logs {
		head := make([]byte, 6)
		if _, err := io.ReadFull(l.Open(), head); err != nil || string(head) != "time_s" {
			t.Errorf("%s begins with %q, %v; want time_s", l.Name, head, err)
		}
	}
	var loops twin.Loops
	if err := json.Unmarshal(AsFound(), &loops); err != nil || loops.Position == nil || loops.Force == nil {
		t.Errorf("as-found settings: %v, %+v; want both loops", err, loops)
	}
	if !bytes.Contains(MachineFile(), []byte("invented")) || !strings.Contains(Scenario, "Invented") {
		t.Error("the demo machine does not say that it is invented")
	}
}

// TestMachineFile checks that the file is one the program reads and that it
// describes the machine that was simulated.
func TestMachineFile(t *testing.T) {
	m, err := machine.Parse(MachineFile(), "machine.toml")
	if err != nil {
		t.Fatal(err)
	}
	d := twin.Demo()
	for _, c := range []struct {
		name      string
		got, want float64
	}{
		{"bore", m.Cylinder.Bore, d.Bore}, {"rod", m.Cylinder.Rod, d.RodDiameter}, {"stroke", m.Cylinder.Stroke, d.Stroke},
		{"displacement", m.Pump.Displacement, d.Displacement}, {"speed", m.Motor.MaxSpeed, d.MaxSpeed},
		{"peak torque", m.Motor.PeakTorque, d.PeakTorque}, {"relief", m.Limits.Relief, d.Relief},
		{"force", m.Limits.Force, d.ForceLimit()}, {"period", m.Controller.Period, d.ControlPeriod},
		{"preload", m.Reservoir.Preload, d.Preload}, {"torque constant", m.Motor.TorqueConstant, d.TorqueConstant},
	} {
		if math.Abs(c.got/c.want-1) > 1e-9 {
			t.Errorf("%s: the file says %g, the simulator has %g", c.name, c.got, c.want)
		}
	}
}

// The sums must be those of the embedded logs.
func TestIsLog(t *testing.T) {
	for _, l := range Logs() {
		text, err := io.ReadAll(l.Open())
		if err != nil {
			t.Fatal(err)
		}
		if sum := fmt.Sprintf("%x", sha256.Sum256(text)); !IsLog(sum) {
			t.Errorf("%s is not known as a demo log; run go generate ./samples", l.Name)
		}
	}
	if IsLog("") || IsLog("00") {
		t.Error("anything passes as a demo log")
	}
}
