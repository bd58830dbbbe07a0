package bench

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"math"
	"math/cmplx"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"eha/strokewise/ident/plant"
	"eha/strokewise/ident/quantity"
	"eha/strokewise/ident/trace"
	"eha/strokewise/tui"
	"eha/strokewise/tuning"
	"eha/strokewise/tuning/job"
	"eha/strokewise/tuning/law"
	"eha/strokewise/tuning/record"
)

// demo is the demo machine from its logs to its proposal, made once for all tests.
var demo = sync.OnceValues(func() (*plant.Plant, *tuning.Proposal) {
	ctx, s := context.Background(), Services("test")
	quiet := func(string, float64) {}
	logs, err := s.Load(ctx, tui.Request{Demo: true}, quiet)
	if err != nil {
		panic(err)
	}
	p, err := s.Fit(ctx, logs, quiet)
	if err != nil {
		panic(err)
	}
	t, err := s.Propose(ctx, p, tuning.DefaultOptions())
	if err != nil {
		panic(err)
	}
	return p, t
})

// Every scenario of the demo runs, comes to rest where it should and lies in its own band.
func TestEveryScenarioRuns(t *testing.T) {
	p, proposal := demo()
	j, err := job.OpenDemo(context.Background(), nil)
	if err != nil {
		t.Fatal(err)
	}
	list := tuning.Scenarios(p, proposal)
	if len(list) < 4 {
		t.Fatalf("%d scenarios, want two steps, a move and a kick at least", len(list))
	}
	for _, s := range list {
		r, err := tuning.Respond(context.Background(), p, proposal, j.AsFound, s.ID)
		if err != nil {
			t.Errorf("%s: %v", s.ID, err)
			continue
		}
		n := len(r.Reference)
		if n < 100 || len(r.Proposed.Output) != n || len(r.Proposed.Low) != n || len(r.Proposed.CapPressure) != n {
			t.Errorf("%s: %d reference, %d output, %d band samples", s.ID, n, len(r.Proposed.Output), len(r.Proposed.Low))
			continue
		}
		for i, y := range r.Proposed.Output {
			if y < r.Proposed.Low[i] || y > r.Proposed.High[i] || math.IsNaN(y) {
				t.Errorf("%s: sample %d, %g, outside its band %g to %g", s.ID, i, y, r.Proposed.Low[i], r.Proposed.High[i])
				break
			}
		}
		if !r.Scenario.Force {
			// A millimetre: a tenth of the standard step, far above the window and droop.
			if off := math.Abs(r.Proposed.Output[n-1] - r.Reference[n-1]); off > 1e-3 {
				t.Errorf("%s ends %.2g mm from its demand", s.ID, off*1e3)
			}
		}
		if r.AsFound == nil && !r.Scenario.Force {
			t.Errorf("%s: the as-found settings were not run", s.ID)
		}
		if len(r.Figures) == 0 {
			t.Errorf("%s has no figures", s.ID)
		}
	}
}

// The curve drawn must be the loop whose margins are stated: its distance from
// -1 is not less than the stated peak allows, nor far more.
func TestCurveAgreesWithTheMargins(t *testing.T) {
	p, proposal := demo()
	for _, m := range proposal.Margins {
		if m.Loop != "position" {
			continue
		}
		_, open, err := tuning.OpenLoop(p, proposal, m)
		if err != nil {
			t.Fatal(err)
		}
		peak := 0.0
		for _, l := range open {
			peak = math.Max(peak, 1/cmplx.Abs(1+l))
		}
		// The margin is the worst over the band of outer delays and loads and counts
		// pressure damping at two breaks; the curve is one of those loops.
		if peak > m.Sensitivity*1.05 || peak < m.Sensitivity*0.75 {
			t.Errorf("%s at %.0f mm, mass x %.2g: peak %.2f drawn, %.2f stated", m.Direction, m.Position*1e3, m.MassFactor, peak, m.Sensitivity)
		}
	}
}

// A log without time is read with the period typed on screen; saved to the machine
// file it serves the next start, and what else the file says of time stays.
func TestSamplePeriodIsKept(t *testing.T) {
	dir := t.TempDir()
	var text bytes.Buffer
	text.WriteString("sample,rod_position_mm,motor_position_rev\n")
	for i := range 3000 {
		fmt.Fprintf(&text, "%d,%.4f,%.4f\n", i, 100+50*math.Sin(float64(i)/200), 40*math.Sin(float64(i)/200))
	}
	file, log := filepath.Join(dir, "machine.toml"), filepath.Join(dir, "a.csv")
	for path, data := range map[string][]byte{log: text.Bytes(), file: []byte("[channels]\ntime = { column = \"sample\" }\n")} {
		if err := os.WriteFile(path, data, 0o644); err != nil {
			t.Fatal(err)
		}
	}
	silent := func(string, float64) {}
	req := tui.Request{Paths: []string{log}, MachineFile: file}
	var fault *trace.ReadError
	if _, err := load(context.Background(), req, silent); !errors.As(err, &fault) || !fault.Timeless {
		t.Fatalf("read without a period: %v", err)
	}
	typed := map[trace.Channel]trace.Column{trace.Time: {Period: 4e-3}}
	if err := saveColumns(file, file, typed); err != nil {
		t.Fatal(err)
	}
	kept, err := os.ReadFile(file)
	if err != nil || !bytes.Contains(kept, []byte(`column = "sample"`)) {
		t.Errorf("%v, the file is now %q", err, kept)
	}
	for _, columns := range []map[trace.Channel]trace.Column{nil, typed} {
		req.Columns = columns
		logs, err := load(context.Background(), req, silent)
		if err != nil {
			t.Fatal(err)
		}
		if got := logs.Readings[0].Trace.Period(); math.Abs(got-4e-3) > 1e-12 || !logs.Readings[0].Clock.Index {
			t.Errorf("read every %g s", got)
		}
	}
}

// The demo's closed loop is repeated by its model under the settings in use, which
// survive being saved, and not under half their gain.
func TestDemoReplayIsBelieved(t *testing.T) {
	p, _ := demo()
	j, err := job.OpenDemo(context.Background(), nil)
	if err != nil {
		t.Fatal(err)
	}
	path := filepath.Join(t.TempDir(), "asfound.json")
	if err := saveInUse(path, j.AsFound); err != nil {
		t.Fatal(err)
	}
	data, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	found, err := record.DecodeLoops(data, "asfound.json")
	if err != nil {
		t.Fatal(err)
	}
	for _, share := range []float64{1, 0.5} {
		set := *found.Position
		set.Kp.Extend, set.Kp.Retract = share*set.Kp.Extend, share*set.Kp.Retract
		for _, r := range j.Readings {
			if !r.Trace.Has(trace.PositionCommand) || r.Trace.Has(trace.ForceCommand) {
				continue
			}
			overlays, err := tuning.Replay(p, law.Loops{Position: &set, Force: found.Force}, r.Trace)
			if err != nil {
				t.Fatal(err)
			}
			b := tuning.Believe(r.Trace, overlays)
			if believed := strings.HasPrefix(b.String(), "Believe the sim"); believed != (share == 1) {
				t.Errorf("%s, gains x %g: %s (%+v)", r.Trace.Name(), share, b, b)
			}
		}
	}
}

func TestCancelledWorkEnds(t *testing.T) {
	p, proposal := demo()
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	start := time.Now()
	if _, err := tuning.Respond(ctx, p, proposal, nil, tuning.Scenarios(p, proposal)[0].ID); err == nil {
		t.Error("a cancelled simulation gave an answer")
	}
	if _, err := load(ctx, tui.Request{Demo: true}, func(string, float64) {}); err == nil {
		t.Error("a cancelled load gave an answer")
	}
	if took := time.Since(start); took > 20*time.Second {
		t.Errorf("cancelled work went on for %v", took)
	}
}

func TestFolderNamesWhatCanBeOpened(t *testing.T) {
	dir := t.TempDir()
	write := func(name, text string) {
		if err := os.WriteFile(filepath.Join(dir, name), []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	write("b.csv", "t,x\n")
	write("a.CSV", "t,x\n")
	write("machine.toml", "")
	write("plant.json", `{ "format": "strokewise.plant/1" }`)
	write("found.json", `{"format":"strokewise.loops/1"}`)
	write("other.json", `{}`)
	write("notes.md", "")
	write(".hidden.csv", "")
	if err := os.Mkdir(filepath.Join(dir, "sub"), 0o755); err != nil {
		t.Fatal(err)
	}
	files, err := folder(dir)
	if err != nil {
		t.Fatal(err)
	}
	want := []struct {
		name string
		kind tui.FileKind
	}{{"a.CSV", tui.LogFile}, {"b.csv", tui.LogFile}, {"machine.toml", tui.MachineFile}, {"found.json", tui.SettingsFile}, {"plant.json", tui.PlantFile}, {"sub", tui.FolderFile}}
	if len(files) != len(want) {
		t.Fatalf("%d files, want %d: %+v", len(files), len(want), files)
	}
	for i, w := range want {
		if files[i].Name != w.name || files[i].Kind != w.kind {
			t.Errorf("file %d is %s (%d), want %s (%d)", i, files[i].Name, files[i].Kind, w.name, w.kind)
		}
	}
	if _, err := folder(filepath.Join(dir, "none")); err == nil {
		t.Error("a folder that is not there gives no error")
	}
}

// What is saved can be read again and holds the same settings.
func TestSavedFilesReadBack(t *testing.T) {
	p, proposal := demo()
	dir := t.TempDir()
	loops, fitted := filepath.Join(dir, "loops.json"), filepath.Join(dir, "plant.json")
	if err := saveProposal(loops, p, proposal); err != nil {
		t.Fatal(err)
	}
	if err := savePlant(fitted, p); err != nil {
		t.Fatal(err)
	}
	data, err := os.ReadFile(loops)
	if err != nil {
		t.Fatal(err)
	}
	back, err := record.DecodeLoops(data, "loops.json")
	if err != nil {
		t.Fatal(err)
	}
	if got, want := back.Position.Kp.Extend, proposal.Loops.Position.Kp.Extend; math.Abs(got/want-1) > 1e-6 {
		t.Errorf("gain %g read back, %g saved", got, want)
	}
	logs, err := load(context.Background(), tui.Request{Paths: []string{fitted}}, func(string, float64) {})
	if err != nil || logs.Plant == nil {
		t.Fatalf("the saved plant does not load: %v", err)
	}
	page := filepath.Join(dir, "record.html")
	work := &tui.Work{Plant: p, Proposal: proposal, Options: tuning.DefaultOptions()}
	if err := saveRecord(context.Background(), page, work, quantity.Metric, "test"); err != nil {
		t.Fatal(err)
	}
	if text, err := os.ReadFile(page); err != nil || !bytes.Contains(text, []byte("DEMO MACHINE")) {
		t.Errorf("the demo's record does not say so (%v)", err)
	}
	machine := filepath.Join(dir, "machine.toml")
	columns := map[trace.Channel]trace.Column{trace.RodPosition: {Header: "LT", Unit: "mm", Sign: -1}}
	if err := saveColumns(machine, "", columns); err != nil {
		t.Fatal(err)
	}
	text, err := os.ReadFile(machine)
	if err != nil || len(text) == 0 {
		t.Errorf("machine file: %v, %d bytes", err, len(text))
	}
}
