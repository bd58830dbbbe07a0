package plant

import (
	"fmt"
	"math"
)

// Param names a parameter of the plant.
type Param int

// The parameters. Their meaning stands in the table of the package's Info
// function and, at length, in DEVELOPERS.md.
const (
	StrokePerTurnExtend Param = iota
	StrokePerTurnRetract
	StrokePerTurnCap
	StrokePerTurnRod
	Slip
	LostMotion
	CoulombFriction
	BreakawayForce
	ViscousFriction
	MovingMass
	AxialLoad
	LineLoss
	OuterDelay
	AccelerationLimit
	BulkModulus
	BulkModulusCap
	BulkModulusRod
	ComplianceCap
	ComplianceRod
	HydraulicFrequency
	HydraulicDamping
	DriveBandwidth
	DriveDamping
	DeadTime
	ContactStiffness
	PressingStiffness
	TransducerDelay
	PressureLag
	StribeckSpeed
	numParams
)

// Info describes a parameter to the outside: its name and unit in the JSON
// results, the factor from SI to that unit, the number of half-width over value
// above which a found value is only weak, and what it means in a few words.
type Info struct {
	Name, Unit string
	Factor     float64 // unit value = SI value times Factor
	WeakAbove  float64
	Meaning    string
}

const (
	perTurn = 2 * math.Pi * 1e3        // m/rad -> mm/rev
	turns   = 1 / (2 * math.Pi)        // rad -> rev
	toBar   = 1e-5                     // Pa -> bar
	toHz    = 1 / (2 * math.Pi)        // rad/s -> Hz
	toCm3   = 1e6 / 1e-5               // m³/Pa -> cm³/bar
	toSlip  = 1 / (2 * math.Pi) / 1e-5 // rad/s/Pa -> rev/s/bar
)

var infos = [numParams]Info{
	StrokePerTurnExtend:  {"stroke_per_turn_extend", "mm/rev", perTurn, 0.01, "rod travel per motor turn while extending, slip and compression taken out"},
	StrokePerTurnRetract: {"stroke_per_turn_retract", "mm/rev", perTurn, 0.01, "rod travel per motor turn while retracting, slip and compression taken out"},
	StrokePerTurnCap:     {"stroke_per_turn_cap", "mm/rev", perTurn, 0.01, "rod travel per motor turn while the cap side holds the load"},
	StrokePerTurnRod:     {"stroke_per_turn_rod", "mm/rev", perTurn, 0.01, "rod travel per motor turn while the rod side holds the load"},
	Slip:                 {"slip", "rev/s/bar", toSlip, 0.20, "motor speed lost per bar across the pump"},
	LostMotion:           {"lost_motion", "rev", turns, 0.40, "motor turns between the rod stopping one way and starting the other"},
	CoulombFriction:      {"coulomb_friction", "kN", 1e-3, 0.20, "speed-independent sliding friction of the rod"},
	BreakawayForce:       {"breakaway_force", "kN", 1e-3, 0.40, "friction to be overcome from rest"},
	ViscousFriction:      {"viscous_friction", "kN s/m", 1e-3, 0.40, "friction slope with speed"},
	MovingMass:           {"moving_mass", "kg", 1, 0.20, "mass felt at the rod"},
	AxialLoad:            {"axial_load", "kN", 1e-3, 0.40, "constant force along the axis, positive when it pushes the rod out"},
	LineLoss:             {"line_loss", "bar", toBar, 0.40, "pressure lost between port and chamber at full speed, growing with speed squared"},
	OuterDelay:           {"outer_delay", "ms", 1e3, 0.40, "measurement to speed command in the outer loop"},
	AccelerationLimit:    {"acceleration_limit", "rev/s2", turns, 0.40, "ramp or torque limit of the drive, where one was met"},
	BulkModulus:          {"bulk_modulus", "GPa", 1e-9, 0.40, "effective modulus of oil, air and walls at working pressure"},
	BulkModulusCap:       {"bulk_modulus_cap", "GPa", 1e-9, 0.40, "effective modulus of the cap side at its own working pressure"},
	BulkModulusRod:       {"bulk_modulus_rod", "GPa", 1e-9, 0.40, "effective modulus of the rod side at its own working pressure"},
	ComplianceCap:        {"compliance_cap", "cm3/bar", toCm3, 0.40, "dV/dp of the cap side with line and walls, mid-stroke, at the pressure of slow travel"},
	ComplianceRod:        {"compliance_rod", "cm3/bar", toCm3, 0.40, "dV/dp of the rod side with line and walls, mid-stroke, at the pressure of slow travel"},
	HydraulicFrequency:   {"hydraulic_frequency", "Hz", toHz, 0.10, "undamped natural frequency, lowest over the stroke"},
	HydraulicDamping:     {"hydraulic_damping", "1", 1, 0.40, "damping ratio at the hydraulic frequency"},
	DriveBandwidth:       {"drive_bandwidth", "Hz", toHz, 0.10, "undamped natural frequency from speed command to motor speed"},
	DriveDamping:         {"drive_damping", "1", 1, 0.10, "damping ratio from speed command to motor speed"},
	DeadTime:             {"dead_time", "ms", 1e3, 0.40, "pure delay from speed command to motor speed, as logged"},
	ContactStiffness:     {"contact_stiffness", "kN/mm", 1e-6, 0.20, "stiffness of what the rod presses on, transducer against force"},
	PressingStiffness:    {"pressing_stiffness", "kN/rev", 1e-3 * 2 * math.Pi, 0.40, "hydraulic force gained per motor turn while pressing, slip taken out"},
	TransducerDelay:      {"transducer_delay", "ms", 1e3, 0.40, "delay of the rod position behind the encoder"},
	PressureLag:          {"pressure_lag", "ms", 1e3, 0.40, "lag of the pressure sensors behind the encoder"},
	StribeckSpeed:        {"stribeck_speed", "mm/s", 1e3, 0.40, "speed below which friction rises towards breakaway"},
}

// Info returns the parameter's description.
func (p Param) Info() Info { return infos[p] }

// String returns the parameter's name in the JSON results.
func (p Param) String() string { return infos[p].Name }

// Params returns all parameters in their fixed order.
func Params() []Param {
	all := make([]Param, numParams)
	for i := range all {
		all[i] = Param(i)
	}
	return all
}

// ParseParam returns the parameter of that name and whether there is one.
func ParseParam(name string) (Param, bool) {
	for i, in := range infos {
		if in.Name == name {
			return Param(i), true
		}
	}
	return 0, false
}

// Found returns the estimate value in [low, high] (SI) with the status that the
// interval's width earns: Identified, or Weak where the half-width exceeds the
// parameter's share of the value. Of all parameters only the axial load can be
// negative; the others' intervals end at zero.
func (p Param) Found(value, low, high float64, from string) Estimate {
	if p != AxialLoad && value >= 0 {
		low = math.Max(low, 0)
	}
	e := Estimate{Value: value, Low: low, High: high, Status: Identified, From: from}
	if e.HalfWidth() > infos[p].WeakAbove*math.Abs(value) {
		e.Status = Weak
	}
	return e
}

// MarshalText gives the parameter's name.
func (p Param) MarshalText() ([]byte, error) { return []byte(p.String()), nil }

// UnmarshalText accepts a parameter's name and returns an error for any other text.
func (p *Param) UnmarshalText(text []byte) error {
	parsed, ok := ParseParam(string(text))
	if !ok {
		return fmt.Errorf("plant: unknown parameter %.40q", text)
	}
	*p = parsed
	return nil
}
