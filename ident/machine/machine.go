// Package machine holds what is known of a machine before any log is read: its
// nameplate, its limits, its load, its controller and how its logs' columns are
// to be understood. It reads and writes the machine file (TOML).
package machine

import "eha/strokewise/ident/trace"

// Machine is the content of a machine file, in SI units. A zero means that the
// file does not state the quantity, except where a field says otherwise.
type Machine struct {
	Name       string
	Cylinder   Cylinder
	Pump       Pump
	Motor      Motor
	Reservoir  Reservoir
	Valve      Valve
	Limits     Limits
	Load       Load
	Contact    Contact
	Controller Controller
	// Channels maps channels to the columns of the logs, where the header row
	// does not speak for itself.
	Channels map[trace.Channel]trace.Column
}

// Cylinder is the single-rod cylinder: bore, rod diameter and stroke (m).
type Cylinder struct{ Bore, Rod, Stroke float64 }

// Pump holds the geometric displacement (m³/rad) and the lowest speed for
// continuous running under pressure (rad/s).
type Pump struct{ Displacement, MinSpeed float64 }

// Motor holds the largest speed (rad/s), peak and continuous torque (N·m) and
// the torque constant (N·m/A).
type Motor struct{ MaxSpeed, PeakTorque, ContinuousTorque, TorqueConstant float64 }

// Reservoir holds preload pressure (Pa, gauge) and volume (m³).
type Reservoir struct{ Preload, Volume float64 }

// Valve says whether a load-holding valve traps pressure at rest.
type Valve struct{ Holding bool }

// Limits are what must not be exceeded: highest chamber pressure of the design
// and relief setting (Pa, gauge), rod speed (m/s), distance to keep from both
// ends (m), pushing and pulling force (N; Pull equals Push where the file gives one).
type Limits struct {
	WorkingPressure, Relief, Speed, StrokeMargin float64
	Force, ForcePull                             float64
}

// Load is what the rod carries.
type Load struct {
	Mass      float64    // kg
	MassRange [2]float64 // kg, zero where not stated
	Angle     *float64   // rad, rod-out direction above horizontal; nil where not stated
	// ForceRange is the process load along the axis (N), positive pushing the rod out.
	ForceRange [2]float64
}

// Contact is what the rod presses on, where no log shows it or it is not always the
// same: where the rod touches (m), and the softest and the stiffest of it (N/m).
type Contact struct {
	Position  float64
	Retract   bool // pressed on while retracting, not while extending
	Stiffness [2]float64
}

// Known reports whether place and stiffness are stated.
func (c Contact) Known() bool { return c.Position > 0 && c.Stiffness[1] > 0 }

// Scale says what the controller can hold as relation of turns to stroke.
type Scale int

// The scales. ScaleUnknown means that the file does not say.
const (
	ScaleUnknown Scale = iota
	ScaleSingle
	ScaleDirection
	ScaleChamber
	ScaleTable
)

var scaleNames = [...]string{"", "single", "direction", "chamber", "table"}

// String returns the scale as the machine file spells it, "" where unknown.
func (s Scale) String() string { return scaleNames[s] }

// Capability is a yes or no that may be left out of the machine file.
type Capability int

// The values of Capability.
const (
	Unstated Capability = iota
	No
	Yes
)

// Or returns whether the capability is there, taking byDefault where the file does not say.
func (c Capability) Or(byDefault bool) bool {
	if c == Unstated {
		return byDefault
	}
	return c == Yes
}

// Controller is the controller that the settings are for.
type Controller struct {
	Period     float64 // s, outer-loop period
	OuterDelay float64 // s, measurement to speed command
	Scale      Scale
	OneGain    bool // one pair of gains instead of one per direction
	// What else the controller can do.
	Integral, Feedforward, SpeedLowpass, PressureDamping, ForceSelect Capability
	RatioBits                                                         int
	// Resolution gives the smallest step of a setting, by the setting's JSON
	// name less its unit ("kp"), in that setting's JSON unit.
	Resolution map[string]float64
}
