package twin

import (
	"bytes"
	"encoding/json"
)

// thinned are the decimals that the demo machine's files keep.
var thinned = map[string]int{"time": 3, "speed_command": 1, "motor_position": 4, "rod_position": 3,
	"cap_pressure": 1, "rod_pressure": 1, "motor_current": 1, "position_command": 3, "force_command": 2}

// DemoFiles returns the demo machine's files by name: logs, machine file,
// settings in use and truth.
func DemoFiles() (map[string][]byte, error) {
	m := Demo()
	files := map[string][]byte{"machine.toml": []byte(MachineFile(m))}
	logs := Logs(m)
	for _, l := range logs {
		l.Thin(thinned)
		var text bytes.Buffer
		if err := l.WriteCSV(&text); err != nil {
			return nil, err
		}
		files[l.Name] = text.Bytes()
	}
	for name, v := range map[string]any{"asfound.json": m.Loops, "truth.json": truthText(m, logs)} {
		text, err := json.MarshalIndent(v, "", "  ")
		if err != nil {
			return nil, err
		}
		files[name] = append(text, '\n')
	}
	return files, nil
}
