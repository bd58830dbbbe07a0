package machine

import (
	"errors"
	"fmt"
	"math"
	"sort"

	"eha/strokewise/ident/quantity"
)

// resolutions lists the settings whose smallest step may be stated, with the
// unit that the JSON result gives the setting in.
var resolutions = map[string]string{
	"kp": "1/s", "ki": "1/s2", "velocity_feedforward": "1",
	"turns_per_mm": "rev/mm", "pressure_damping": "rev/s/bar", "pressure_highpass": "Hz", "speed_lowpass": "Hz",
	"speed_limit": "rpm", "window": "mm", "window_time": "s",
	"force_kp": "rev/s/kN", "force_ki": "rev/s2/kN", "rate_feedforward": "rev/kN", "force_lowpass": "Hz",
}

// setResolution reads controller.resolution. A step stays in the JSON unit of its setting.
func setResolution(m *Machine, value any) error {
	table, ok := value.(map[string]any)
	if !ok {
		return fmt.Errorf("%s: needs a table such as { kp = \"0.1 1/s\" }", describe(value))
	}
	m.Controller.Resolution = map[string]float64{}
	for _, name := range sortedKeys(table) {
		unit, ok := resolutions[name]
		if !ok {
			return &keyError{name, errors.New("no such setting" + suggest(name, sortedKeys(resolutions)))}
		}
		u, _ := quantity.Lookup(unit)
		var si float64
		var err error
		if plain, isNumber := asNumber(table[name]); isNumber && u.Dimension == quantity.Number {
			si = plain
		} else if si, err = readQuantity(table[name], u.Dimension, positive); err != nil {
			return &keyError{name, err}
		}
		if !(si > 0) {
			return &keyError{name, errors.New("must be greater than zero")}
		}
		m.Controller.Resolution[name] = u.From(si)
	}
	return nil
}

func sortedKeys[V any](table map[string]V) []string {
	keys := make([]string, 0, len(table))
	for k := range table {
		keys = append(keys, k)
	}
	sort.Strings(keys)
	return keys
}

// asNumber returns a plain finite number of the file.
func asNumber(value any) (float64, bool) {
	switch v := value.(type) {
	case int64:
		return float64(v), true
	case float64:
		return v, !math.IsNaN(v) && !math.IsInf(v, 0)
	}
	return 0, false
}
