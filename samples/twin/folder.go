package twin

import (
	"encoding/json"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strings"
)

// MachineFile returns the machine file (TOML) of what its maker would state:
// the nameplate, not the truth.
func MachineFile(m *Machine) string {
	var b strings.Builder
	line := func(format string, args ...any) { fmt.Fprintf(&b, format+"\n", args...) }
	line("name = %q", m.Name)
	line("[cylinder]\nbore = \"%g mm\"\nrod = \"%g mm\"\nstroke = \"%g mm\"", roundTo(m.Bore*1e3, 6), roundTo(m.RodDiameter*1e3, 6), roundTo(m.Stroke*1e3, 6))
	line("[pump]\ndisplacement = \"%.1f cm3/rev\"", m.Displacement*2*math.Pi*1e6)
	line("[motor]\nmax_speed = \"%.0f rpm\"\npeak_torque = \"%.1f Nm\"\ntorque_constant = \"%.3f Nm/A\"", m.MaxSpeed*toRPM, m.PeakTorque, m.TorqueConstant)
	line("[reservoir]\npreload = \"%.1f bar\"", m.Preload*1e-5)
	line("[limits]\nworking_pressure = \"160 bar\"\nrelief = \"200 bar\"\nstroke_margin = \"%.0f mm\"", 0.03*m.Stroke*1e3)
	if m.Contact != nil {
		line("force = \"%.0f kN\"", m.ForceLimit()*1e-3)
	}
	line("[load]\nangle = \"%.0f deg\"", m.Angle*180/math.Pi)
	line("[controller]\nperiod = \"%g ms\"\nscale = \"direction\"", m.ControlPeriod*1e3)
	return b.String()
}

type truthFile struct {
	Format   string            `json:"format"`
	What     string            `json:"what"`
	Name     string            `json:"name"`
	Kind     string            `json:"kind"`
	Seed     uint64            `json:"seed"`
	Carrier  map[string]string `json:"carrying_chamber"`
	Control  float64           `json:"controller_period_s"`
	LogEvery float64           `json:"log_period_s"`
	Params   map[string]True   `json:"parameters"`
	Logs     []truthLog        `json:"logs"`
}

type truthLog struct {
	File     string  `json:"file"`
	Duration float64 `json:"duration_s"`
	Events   []Event `json:"events"`
	Loops    *Loops  `json:"loops_used,omitempty"`
}

// Logs returns every log that the machine yields: survey and as-found run, and a
// pressing run where there is a contact.
func Logs(m *Machine) []*Log {
	logs := []*Log{Survey(m), AsFound(m, m.Loops)}
	if press := Press(m, m.Loops); press != nil {
		logs = append(logs, press)
	}
	return logs
}

// WriteFolder writes the machine's logs, machine file, the loop settings in use
// (asfound.json) and truth.json into dir, which it makes where it is absent.
func WriteFolder(m *Machine, dir string) error {
	if err := os.MkdirAll(dir, 0o755); err != nil {
		return err
	}
	logs := Logs(m)
	for _, l := range logs {
		if err := writeCSV(l, filepath.Join(dir, l.Name)); err != nil {
			return err
		}
	}
	if err := os.WriteFile(filepath.Join(dir, "machine.toml"), []byte(MachineFile(m)), 0o644); err != nil {
		return err
	}
	if err := writeJSON(filepath.Join(dir, "asfound.json"), m.Loops); err != nil {
		return err
	}
	return writeJSON(filepath.Join(dir, "truth.json"), truthText(m, logs))
}

func truthText(m *Machine, logs []*Log) truthFile {
	truth := TruthOf(m)
	file := truthFile{Format: "truth.visible/1", What: "an invented machine, simulated in more detail than the model that is fitted",
		Name: m.Name, Kind: m.Kind.String(), Seed: m.Seed, Carrier: truth.Carrier, Control: m.ControlPeriod, LogEvery: m.LogPeriod, Params: truth.Params}
	for _, l := range logs {
		file.Logs = append(file.Logs, truthLog{l.Name, float64(l.Rows()) * l.Period, l.Events, l.Loops})
	}
	return file
}

func writeJSON(path string, v any) error {
	text, err := json.MarshalIndent(v, "", "  ")
	if err != nil {
		return err
	}
	return os.WriteFile(path, append(text, '\n'), 0o644)
}

func writeCSV(l *Log, path string) error {
	f, err := os.Create(path)
	if err != nil {
		return err
	}
	if err := l.WriteCSV(f); err != nil {
		f.Close()
		return err
	}
	return f.Close()
}
