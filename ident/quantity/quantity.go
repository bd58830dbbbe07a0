// Package quantity reads and prints physical quantities: "50 mm" becomes 0.05,
// and 0.05 is shown as "50 mm" or "1.969 in".
//
// The units are a closed table with exact factors, so a misspelt or unexpected
// unit is an error, never a guess. Angles count turns as 2π rad, pressures are
// gauge, temperatures become kelvin.
package quantity

import "math"

// Dimension says what kind of quantity a unit measures. Two units convert into
// each other only if they share it.
type Dimension int

// The dimensions, with their SI unit. Those that share an SI unit but never mean
// the same on a machine (a rate and a frequency) are kept apart.
const (
	Number         Dimension = iota // 1
	Percent                         // 1; 100 % is 1
	Length                          // m
	Time                            // s
	Angle                           // rad
	Speed                           // m/s
	Acceleration                    // m/s²
	AngularSpeed                    // rad/s
	AngularAccel                    // rad/s²
	Mass                            // kg
	Force                           // N
	Pressure                        // Pa, gauge
	Torque                          // N·m
	Current                         // A
	Voltage                         // V
	Temperature                     // K
	Volume                          // m³
	Flow                            // m³/s
	Displacement                    // m³/rad
	TorqueConstant                  // N·m/A
	Frequency                       // Hz, shown and stated as cycles per second
	Rate                            // 1/s
	RatePerTime                     // 1/s²
	Counts                          // 1, increments of an encoder or converter
	TravelPerTurn                   // m/rad
	TurnsPerTravel                  // rad/m
	Slip                            // rad/(s·Pa)
	Viscous                         // N·s/m
	Stiffness                       // N/m
	ForcePerTurn                    // N/rad
	TurnsPerForce                   // rad/N
	ForceGain                       // rad/(s·N)
	ForceGainRate                   // rad/(s²·N)
	Compliance                      // m³/Pa
	Energy                          // J
)

var dimensionNames = [...]string{
	Number: "number", Percent: "percentage", Length: "length", Time: "time", Angle: "angle", Speed: "speed",
	Acceleration: "acceleration", AngularSpeed: "rotary speed", AngularAccel: "rotary acceleration", Mass: "mass",
	Force: "force", Pressure: "pressure", Torque: "torque", Current: "current", Voltage: "voltage",
	Temperature: "temperature", Volume: "volume", Flow: "flow", Displacement: "volume per turn",
	TorqueConstant: "torque constant", Frequency: "frequency", Rate: "rate", RatePerTime: "rate per time",
	Counts: "counts", TravelPerTurn: "travel per turn", TurnsPerTravel: "turns per travel", Slip: "slip",
	Viscous: "viscous friction", Stiffness: "stiffness", ForcePerTurn: "force per turn", TurnsPerForce: "turns per force",
	ForceGain: "force loop gain", ForceGainRate: "force loop integral gain", Compliance: "compliance", Energy: "energy",
}

// String returns the dimension in words, such as "rotary speed".
func (d Dimension) String() string {
	if d < 0 || int(d) >= len(dimensionNames) {
		return "unknown dimension"
	}
	return dimensionNames[d]
}

// Unit is one unit of measurement. The zero value is no unit.
type Unit struct {
	Symbol    string // as we print it, such as "mm/rev"
	Dimension Dimension
	Factor    float64 // SI value of a step of one unit
	Zero      float64 // SI value at a reading of zero: 273.15 for degC, -101325 for absolute pressures
}

// SI returns v units as an SI value.
func (u Unit) SI(v float64) float64 { return v*u.Factor + u.Zero }

// From returns the SI value si in this unit.
func (u Unit) From(si float64) float64 { return (si - u.Zero) / u.Factor }

// Absolute reports whether the unit counts pressure from vacuum, as bara does.
func (u Unit) Absolute() bool { return u.Dimension == Pressure && u.Zero != 0 }

// In returns the SI value si in the unit of that text. It panics if there is no
// such unit: the text comes from the code, not from a user.
func In(si float64, unit string) float64 {
	u, ok := Lookup(unit)
	if !ok {
		panic("quantity: no such unit: " + unit)
	}
	return u.From(si)
}

// StandardAtmosphere (Pa) is what an absolute pressure reads at gauge zero.
// Defined value of the standard atmosphere.
const StandardAtmosphere = 101325.0

const turn = 2 * math.Pi
