package loop

import (
	"math"

	"eha/strokewise/ident/plant"
)

// Place is where along the stroke, with which load and which chamber carrying it,
// a plant is linearised.
type Place struct {
	Direction  plant.Direction
	Chamber    plant.Chamber // that carries the load
	Position   float64       // m
	Pressure   float64       // Pa gauge, of the chamber that carries
	MassFactor float64
}

// Axis is the plant of the position loop, linearised in steady travel. With n the
// motor speed, p the pressure in the chamber that carries, A its area and A', R area
// and clamping resistance of the low side:
//
//	(m s + b)·v = A p - A' R (A' v - D n),   (C s + L)·p = D n - A v
//	(s² + 2 ζ ω s + ω²)·n = ω² u - κ s p
//
// where κ is the acceleration that pressure takes from the motor.
type Axis struct {
	Displacement float64 // m³/rad
	Area, Low    float64 // m²
	Mass         float64 // kg
	Viscous      float64 // N·s/m
	Compliance   float64 // m³/Pa
	Leakage      float64 // m³/(s·Pa)
	Resistance   float64 // Pa·s/m³
	Omega, Zeta  float64 // the drive, rad/s
	LoadAccel    float64 // κ, rad/s² per Pa
}

// NewAxis linearises the model at a place.
func NewAxis(m *plant.Model, at Place) Axis {
	return Axis{
		Displacement: m.Displacement, Area: m.Area.At(at.Chamber), Low: m.Area.At(at.Chamber.Other()),
		Mass: m.Mass * at.MassFactor, Viscous: m.Viscous,
		Compliance: m.Compliance(at.Chamber, at.Position, at.Pressure),
		Leakage:    m.Leakage, Resistance: m.LowResistance,
		Omega: m.Drive.NaturalFreq, Zeta: m.Drive.Damping, LoadAccel: m.Drive.AccelPerPressure,
	}
}

// Natural returns the undamped frequency (rad/s) of the mass on the oil with the motor held.
func (a *Axis) Natural() float64 { return a.Area / math.Sqrt(a.Compliance*a.Mass) }

// At returns rod speed (m/s per rad/s) and pressure of the chamber that carries
// (Pa per rad/s, positive when it pushes the way the motor turns) over the drive's
// speed command, without any delay.
func (a *Axis) At(omega float64) (speed, pressure complex128) {
	s := complex(0, omega)
	oil := complex(a.Leakage, omega*a.Compliance)
	inertia := complex(a.Viscous+a.Low*a.Low*a.Resistance, omega*a.Mass)
	area, clamp := complex(a.Area, 0), complex(a.Low*a.Resistance, 0)
	speed = complex(a.Displacement, 0) * (area + clamp*oil) * inverse(inertia*oil+area*area)
	pressure = (inertia*speed - clamp*complex(a.Displacement, 0)) * complex(1/a.Area, 0)
	drive := complex(a.Omega*a.Omega-omega*omega, 2*a.Zeta*a.Omega*omega)
	motor := complex(a.Omega*a.Omega, 0) * inverse(drive+complex(a.LoadAccel, 0)*s*pressure)
	return speed * motor, pressure * motor
}
