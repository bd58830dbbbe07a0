package machine

import (
	"errors"
	"fmt"
	"math"
	"strings"

	"eha/strokewise/ident/quantity"
)

// sense is what a quantity may be.
type sense int

const (
	positive sense = iota
	notNegative
	anySign
)

// field is a key that holds one quantity.
type field struct {
	dimension quantity.Dimension
	sense     sense
	low, high float64 // plausible range (SI) outside which the unit is likely wrong; both zero for none
	at        func(*Machine) *float64
}

// fields lists the keys that hold one quantity. The plausible ranges are wide:
// they catch a wrong unit, not an unusual machine.
var fields = map[string]field{
	"cylinder.bore":           {quantity.Length, positive, 2e-3, 3, func(m *Machine) *float64 { return &m.Cylinder.Bore }},
	"cylinder.rod":            {quantity.Length, positive, 1e-3, 3, func(m *Machine) *float64 { return &m.Cylinder.Rod }},
	"cylinder.stroke":         {quantity.Length, positive, 1e-3, 50, func(m *Machine) *float64 { return &m.Cylinder.Stroke }},
	"pump.displacement":       {quantity.Displacement, positive, 1e-10, 1e-3, func(m *Machine) *float64 { return &m.Pump.Displacement }},
	"pump.min_speed":          {quantity.AngularSpeed, notNegative, 0, 3e3, func(m *Machine) *float64 { return &m.Pump.MinSpeed }},
	"motor.max_speed":         {quantity.AngularSpeed, positive, 0.1, 1e4, func(m *Machine) *float64 { return &m.Motor.MaxSpeed }},
	"motor.peak_torque":       {quantity.Torque, positive, 1e-3, 1e5, func(m *Machine) *float64 { return &m.Motor.PeakTorque }},
	"motor.continuous_torque": {quantity.Torque, positive, 1e-3, 1e5, func(m *Machine) *float64 { return &m.Motor.ContinuousTorque }},
	"motor.torque_constant":   {quantity.TorqueConstant, positive, 1e-4, 1e3, func(m *Machine) *float64 { return &m.Motor.TorqueConstant }},
	"reservoir.preload":       {quantity.Pressure, anySign, -101325, 5e7, func(m *Machine) *float64 { return &m.Reservoir.Preload }},
	"reservoir.volume":        {quantity.Volume, positive, 1e-6, 10, func(m *Machine) *float64 { return &m.Reservoir.Volume }},
	"limits.working_pressure": {quantity.Pressure, positive, 1e4, 2e8, func(m *Machine) *float64 { return &m.Limits.WorkingPressure }},
	"limits.relief":           {quantity.Pressure, positive, 1e4, 2e8, func(m *Machine) *float64 { return &m.Limits.Relief }},
	"limits.speed":            {quantity.Speed, positive, 1e-6, 20, func(m *Machine) *float64 { return &m.Limits.Speed }},
	"limits.stroke_margin":    {quantity.Length, notNegative, 0, 50, func(m *Machine) *float64 { return &m.Limits.StrokeMargin }},
	"limits.force":            {quantity.Force, positive, 0.1, 1e8, func(m *Machine) *float64 { return &m.Limits.Force }},
	"limits.force_pull":       {quantity.Force, positive, 0.1, 1e8, func(m *Machine) *float64 { return &m.Limits.ForcePull }},
	"load.mass":               {quantity.Mass, positive, 1e-3, 1e7, func(m *Machine) *float64 { return &m.Load.Mass }},
	"contact.position":        {quantity.Length, positive, 1e-3, 50, func(m *Machine) *float64 { return &m.Contact.Position }},
	"controller.period":       {quantity.Time, positive, 1e-5, 1, func(m *Machine) *float64 { return &m.Controller.Period }},
	"controller.outer_delay":  {quantity.Time, notNegative, 0, 1, func(m *Machine) *float64 { return &m.Controller.OuterDelay }},
}

// ranges lists the keys that hold a low and a high quantity, with plausible ranges as those of fields.
var ranges = map[string]struct {
	dimension quantity.Dimension
	sense     sense
	low, high float64
	at        func(*Machine) *[2]float64
}{
	"load.mass_range":   {quantity.Mass, positive, 1e-3, 1e7, func(m *Machine) *[2]float64 { return &m.Load.MassRange }},
	"load.force_range":  {quantity.Force, anySign, -1e8, 1e8, func(m *Machine) *[2]float64 { return &m.Load.ForceRange }},
	"contact.stiffness": {quantity.Stiffness, positive, 1, 1e12, func(m *Machine) *[2]float64 { return &m.Contact.Stiffness }},
}

// capabilities lists the keys that hold true or false.
var capabilities = map[string]func(*Machine) *Capability{
	"controller.integral":         func(m *Machine) *Capability { return &m.Controller.Integral },
	"controller.feedforward":      func(m *Machine) *Capability { return &m.Controller.Feedforward },
	"controller.speed_lowpass":    func(m *Machine) *Capability { return &m.Controller.SpeedLowpass },
	"controller.pressure_damping": func(m *Machine) *Capability { return &m.Controller.PressureDamping },
	"controller.force_select":     func(m *Machine) *Capability { return &m.Controller.ForceSelect },
}

// words lists the keys with a form of their own.
var words = map[string]func(*Machine, any) error{
	"name":                  setName,
	"valve.holding":         setHolding,
	"load.angle":            setAngle,
	"contact.presses":       setPresses,
	"controller.scale":      setScale,
	"controller.gains":      setGains,
	"controller.ratio_bits": setRatioBits,
	"controller.resolution": setResolution,
}

// set puts one entry into the machine.
func (m *Machine) set(e entry) error {
	key := e.key()
	if e.path[0] == "channels" && len(e.path) == 2 {
		return m.setChannel(e.path[1], e.value)
	}
	if f, ok := fields[key]; ok {
		v, err := f.read(e.value)
		*f.at(m) = v
		return err
	}
	if r, ok := ranges[key]; ok {
		pair, err := readPair(e.value, field{dimension: r.dimension, sense: r.sense, low: r.low, high: r.high})
		*r.at(m) = pair
		return err
	}
	if at, ok := capabilities[key]; ok {
		yes, err := readBool(e.value)
		*at(m) = No
		if yes {
			*at(m) = Yes
		}
		return err
	}
	if set, ok := words[key]; ok {
		return set(m, e.value)
	}
	return unknownKey(e)
}

func unknownKey(e entry) error {
	if table, ok := e.value.(map[string]any); ok && len(table) == 0 && knownTable(e.key()) {
		return nil
	}
	if knownTable(e.key()) {
		return errors.New("is a table of its own: write [" + e.key() + "] and its keys below")
	}
	return errors.New("unknown key" + suggest(e.key(), knownKeys()))
}

// read turns a value of the file into SI and checks it.
func (f field) read(value any) (float64, error) {
	v, err := readQuantity(value, f.dimension, f.sense)
	if err == nil && f.low < f.high && (v < f.low || v > f.high) {
		err = fmt.Errorf("%v is not plausible: outside %s to %s; check the unit", value,
			quantity.Format(f.low, f.dimension, quantity.Metric), quantity.Format(f.high, f.dimension, quantity.Metric))
	}
	return v, err
}

func readQuantity(value any, d quantity.Dimension, s sense) (float64, error) {
	text, ok := value.(string)
	if !ok {
		unit := quantity.Display(d, quantity.Metric).Symbol
		return 0, fmt.Errorf("%s is not a quantity: write it as a text with its unit, such as \"%s %s\"", describe(value), example(value), unit)
	}
	v, err := quantity.Parse(text, d)
	switch {
	case err != nil:
		return 0, err
	case s == positive && v <= 0:
		return 0, fmt.Errorf("%q: must be greater than zero", text)
	case s == notNegative && v < 0:
		return 0, fmt.Errorf("%q: must not be negative", text)
	}
	return v, nil
}

func readPair(value any, f field) (pair [2]float64, err error) {
	list, ok := value.([]any)
	if !ok || len(list) != 2 {
		unit := quantity.Display(f.dimension, quantity.Metric).Symbol
		return pair, fmt.Errorf("needs a list of low and high, such as [\"1 %s\", \"2 %s\"]", unit, unit)
	}
	for i := range pair {
		if pair[i], err = f.read(list[i]); err != nil {
			return pair, err
		}
	}
	if pair[0] > pair[1] {
		return pair, fmt.Errorf("the low end %v is above the high end %v", list[0], list[1])
	}
	return pair, nil
}

func readBool(value any) (bool, error) {
	b, ok := value.(bool)
	if !ok {
		return false, fmt.Errorf("%s: needs true or false", describe(value))
	}
	return b, nil
}

func readWord(value any, choices ...string) (int, error) {
	text, ok := value.(string)
	if ok {
		for i, c := range choices {
			if c == text {
				return i, nil
			}
		}
	}
	return 0, fmt.Errorf("%s: needs one of %q", describe(value), choices)
}

// describe names a value in a message.
func describe(value any) string {
	switch v := value.(type) {
	case map[string]any:
		return "a table"
	case []any:
		return "a list"
	case string:
		return fmt.Sprintf("%.60q", v)
	default:
		return fmt.Sprint(v)
	}
}

// example gives a number to show in advice: the user's own where it is one.
func example(value any) string {
	switch v := value.(type) {
	case int64:
		return fmt.Sprint(v)
	case float64:
		if !math.IsNaN(v) && !math.IsInf(v, 0) {
			return fmt.Sprint(v)
		}
	}
	return "1"
}

func setName(m *Machine, value any) error {
	text, ok := value.(string)
	if !ok {
		return fmt.Errorf("%s: needs a text", describe(value))
	}
	m.Name = printable(strings.TrimSpace(text))
	return nil
}

func setHolding(m *Machine, value any) (err error) {
	m.Valve.Holding, err = readBool(value)
	return err
}

// steepest (rad) is upright, with room for rounding.
const steepest = math.Pi/2 + 1e-9

func setAngle(m *Machine, value any) error {
	v, err := readQuantity(value, quantity.Angle, anySign)
	if err != nil {
		return err
	}
	if math.Abs(v) > steepest {
		return fmt.Errorf("%v: needs -90 deg (rod out points down) to 90 deg (up)", value)
	}
	m.Load.Angle = &v
	return nil
}

func setPresses(m *Machine, value any) error {
	i, err := readWord(value, "extend", "retract")
	m.Contact.Retract = i == 1
	return err
}

func setScale(m *Machine, value any) error {
	i, err := readWord(value, scaleNames[1:]...)
	if err == nil {
		m.Controller.Scale = Scale(i + 1)
	}
	return err
}

func setGains(m *Machine, value any) error {
	i, err := readWord(value, "direction", "one")
	m.Controller.OneGain = i == 1
	return err
}

// A ratio of integers of fewer bits is no use, and one of more does not fit into the program's.
const leastBits, mostBits = 4, 62

func setRatioBits(m *Machine, value any) error {
	bits, ok := value.(int64)
	if !ok || bits < leastBits || bits > mostBits {
		return fmt.Errorf("%s: needs a whole number of bits from %d to %d", describe(value), leastBits, mostBits)
	}
	m.Controller.RatioBits = int(bits)
	return nil
}
