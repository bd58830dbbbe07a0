package bench

import (
	"context"
	"fmt"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"eha/strokewise/ident/machine"
	"eha/strokewise/ident/trace"
	"eha/strokewise/tui"
	"eha/strokewise/tuning/job"
)

// bareLog writes a log whose headers say nothing, with a machine file beside it.
func bareLog(t *testing.T) (req tui.Request) {
	t.Helper()
	dir := t.TempDir()
	var b strings.Builder
	b.WriteString("ch1,ch2,ch3\n")
	for i := range 2000 {
		fmt.Fprintf(&b, "%.3f,%.3f,%.4f\n", float64(i)/1000, 10*float64(i%500), 0.01*float64(i))
	}
	log, machine := filepath.Join(dir, "rec.csv"), filepath.Join(dir, "machine.toml")
	write(t, log, b.String())
	write(t, machine, "# ours\nname = \"press\" # keep\n[channels]\nrod_pressure = { column = \"ch9\", unit = \"bar\" }\n")
	return tui.Request{Paths: []string{log}, MachineFile: machine}
}

func write(t *testing.T, path, text string) {
	t.Helper()
	if err := os.WriteFile(path, []byte(text), 0o644); err != nil {
		t.Fatal(err)
	}
}

// A log that cannot be read is shown as a table; with its columns said it can, and the
// machine file keeps them, everything else in it as another program left it meanwhile.
func TestMappingFromNothingToTheMachineFile(t *testing.T) {
	ctx, quiet := context.Background(), func(string, float64) {}
	s, req := Services("test"), bareLog(t)
	if _, err := s.Load(ctx, req, quiet); err == nil {
		t.Fatal("a log without names is read")
	}
	sheet, stated, err := s.Look(ctx, req, req.Paths[0], quiet)
	if err != nil || len(sheet.Columns) != 3 || stated[trace.RodPressure].Header != "ch9" {
		t.Fatalf("%v: %+v, stated %v", err, sheet, stated)
	}
	req.Columns = map[trace.Channel]trace.Column{trace.Time: {Header: "ch1", Unit: "s"}, trace.RodPosition: {Header: "ch3", Unit: "mm", Sign: -1}}
	logs, err := s.Load(ctx, req, quiet)
	if err != nil || !logs.Readings[0].Trace.Has(trace.RodPosition) {
		t.Fatalf("with the columns said: %v", err)
	}
	write(t, req.MachineFile, "# theirs\nname = \"press 2\"\n[cylinder]\nbore = \"50 mm\"\n")
	if err := s.SaveColumns(req.MachineFile, req.MachineFile, req.Columns); err != nil {
		t.Fatal(err)
	}
	data, err := os.ReadFile(req.MachineFile)
	if err != nil {
		t.Fatal(err)
	}
	for _, want := range []string{"# theirs", "press 2", `bore = "50 mm"`, `rod_position = { column = "ch3", unit = "mm", sign = -1 }`, `time = { column = "ch1", unit = "s" }`} {
		if !strings.Contains(string(data), want) {
			t.Errorf("no %s in\n%s", want, data)
		}
	}
	req.Columns = nil
	if _, err := s.Load(ctx, req, quiet); err != nil {
		t.Errorf("the machine file does not do: %v", err)
	}
}

// A machine file that is there already is added to, though none was opened; a faulty
// one is left alone.
func TestSavingColumnsReplacesNoMachineFile(t *testing.T) {
	s, req := Services("test"), bareLog(t)
	said := map[trace.Channel]trace.Column{trace.RodPosition: {Header: "ch3", Unit: "mm"}}
	if err := s.SaveColumns(req.MachineFile, "", said); err != nil {
		t.Fatal(err)
	}
	if data, _ := os.ReadFile(req.MachineFile); !strings.Contains(string(data), "# keep") || !strings.Contains(string(data), "ch3") {
		t.Errorf("written\n%s", data)
	}
	write(t, req.MachineFile, "name = ")
	if err := s.SaveColumns(req.MachineFile, "", said); err == nil {
		t.Error("a faulty machine file is written over")
	}
	if data, _ := os.ReadFile(req.MachineFile); string(data) != "name = " {
		t.Errorf("a faulty machine file is changed to\n%s", data)
	}
}

// Stretches left out reach the traces; so much that nothing is left is refused.
func TestLeftOutStretches(t *testing.T) {
	ctx, quiet := context.Background(), func(string, float64) {}
	s, req := Services("test"), bareLog(t)
	req.Columns = map[trace.Channel]trace.Column{trace.Time: {Header: "ch1", Unit: "s"}, trace.RodPosition: {Header: "ch3", Unit: "mm"}}
	req.LeftOut = map[string][]trace.Stretch{req.Paths[0]: {{From: 0.5, To: 0.6}}}
	logs, err := s.Load(ctx, req, quiet)
	if err != nil || len(logs.Readings[0].Trace.Gaps()) != 1 {
		t.Fatalf("%v", err)
	}
	req.LeftOut[req.Paths[0]] = []trace.Stretch{{From: 0, To: 1.99}}
	if _, err := s.Load(ctx, req, quiet); err == nil || !strings.Contains(err.Error(), "tenth") {
		t.Errorf("all left out: %v", err)
	}
}

func TestLookNamesTheFile(t *testing.T) {
	s, req := Services("test"), bareLog(t)
	write(t, req.Paths[0], "\xff\xd8\xff\xe0 a picture")
	_, _, err := s.Look(context.Background(), req, req.Paths[0], func(string, float64) {})
	if f, ok := err.(*job.FileError); !ok || f.Path != req.Paths[0] || !strings.Contains(err.Error(), "image") {
		t.Errorf("%v", err)
	}
}

// A new machine file is one to fill in, and reads as it is and filled in.
func TestTemplate(t *testing.T) {
	dir := t.TempDir()
	path := filepath.Join(dir, "machine.toml")
	s := Services("test")
	if err := s.SaveColumns(path, "", map[trace.Channel]trace.Column{trace.RodPosition: {Header: "ch3", Unit: "mm"}}); err != nil {
		t.Fatal(err)
	}
	data, err := os.ReadFile(path)
	if err != nil || !strings.Contains(string(data), "rod_position = ") {
		t.Fatalf("%v: %s", err, data)
	}
	filled := regexp.MustCompile(`(?m)^# (\w+ = ".*")$`).ReplaceAllString(string(data), "$1")
	filled = strings.NewReplacer(`rod = "??`, `rod = "5`, `margin = "??`, `margin = "1`, "??", "10").Replace(filled)
	m, err := machine.Parse([]byte(filled), "machine.toml")
	if err != nil || m.Cylinder.Bore != 10e-3 || m.Cylinder.Stroke != 10e-3 || m.Pump.Displacement == 0 || m.Limits.WorkingPressure != 10e5 {
		t.Errorf("filled in: %v, %+v", err, m)
	}
}
