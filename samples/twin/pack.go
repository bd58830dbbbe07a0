package twin

import (
	"bytes"
	"encoding/json"
)

// thinned are the decimals that the demo machine's files keep.
var thinned = map[string]int{"time": 3, "speed_command": 1, "motor_position": 4, "rod_position": 3,
	"cap_pressure": 1, "rod_pressure": 1, "motor_current": 1, "position_command": 3, "force_command": 2}

// demoMachine is the demo machine's file as its owner would write it: nameplate,
// limits and what the controller can hold. It agrees with Demo.
const demoMachine = `# Invented demo machine: no real machine stands behind it.
name = "rib press, Hollowmere boatyard (invented)"

[cylinder]
bore = "80 mm"
rod = "45 mm"
stroke = "320 mm"

[pump]
displacement = "12.4 cm3/rev"
min_speed = "60 rpm"

[motor]
max_speed = "2800 rpm"
peak_torque = "62 Nm"
continuous_torque = "26 Nm"
torque_constant = "1.05 Nm/A"

[reservoir]
preload = "2.2 bar"
volume = "3.5 L"

[limits]
working_pressure = "160 bar"
relief = "200 bar"
speed = "120 mm/s"
stroke_margin = "10 mm"
force = "56 kN"

[load]
mass_range = ["700 kg", "1200 kg"]   # former alone, former with the longest rib
angle = "90 deg"                     # the rod points up

[controller]
period = "1 ms"
scale = "direction"
gains = "direction"
resolution = { kp = "0.1 1/s" }
`

// DemoFiles returns the demo machine's files by name: logs, machine file,
// settings in use and truth.
func DemoFiles() (map[string][]byte, error) {
	m := Demo()
	files := map[string][]byte{"machine.toml": []byte(demoMachine)}
	logs := Logs(m)
	for _, l := range append(logs[:len(logs):len(logs)], DemoAfter()) {
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
