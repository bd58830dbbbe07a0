package sim

import (
	"math"

	"eha/strokewise/ident/plant"
	"eha/strokewise/tuning/law"
)

// machine is the state of actuator and load. One state stands for the oil: the
// hydraulic force F, carried by the cap side above F0 = (A_cap - A_rod)·p_low and
// by the rod side below, with A the area of the side that carries:
//
//	F' = A/C·(D n - L q - A v),  q = (F - F0)/A
//	m v' = F - A'·R·(A' v - D n) + load - friction - b v - contact
type machine struct {
	m       *plant.Model
	h       float64
	mass    float64
	perMass float64 // h/mass
	load    float64 // N, without extra
	extra   float64 // N
	center  float64 // F0
	bristle *bristle

	x, v, force float64
	drive       drive
	command     delay // rad/s, to the drive
	reading     delay // m, to the controller
	sensed      plant.PerChamber[float64]
	sensorShare float64
	senses      bool // the law looks at pressures
	contactGone bool
	// contactShift is how far (m) what the rod presses on stands behind its usual place.
	contactShift float64

	side                     [2]side
	relief                   float64
	peakSpeed                float64
	peakPressure, lowestLow  float64
	limited, relieved, ended int // steps
}

// side holds what one chamber needs per step, with the air's share of the
// compliance carried along a straight line from where it was last computed. What
// stays the same is divided once: divisions wait for each other in every step.
type side struct {
	chamber                     plant.Chamber
	area, low                   float64 // m², its own and the other's
	perArea, perModulus, perAir float64 // 1/m², 1/Pa, 1/Pa; the last where air was computed
	clamp                       float64 // Pa·s/m, low side's resistance times its area
	viscous                     float64 // N·s/m, with the low side's share
	slowing                     float64 // of the speed in a step, by viscous
	oil                         plant.Oil
	air                         float64 // m³/Pa per m³
}

func newSide(m *plant.Model, c plant.Chamber, mass, h float64) side {
	s := side{chamber: c, area: m.Area.At(c), low: m.Area.At(c.Other()), oil: m.Oil.At(c), perAir: math.Inf(1)}
	s.perArea, s.perModulus = 1/s.area, 1/s.oil.Modulus
	s.clamp = s.low * m.LowResistance
	s.viscous = m.Viscous + s.clamp*s.low
	s.slowing = 1 / (1 + h*s.viscous/mass)
	return s
}

func newMachine(e Experiment, h float64) *machine {
	model := e.Model
	m := &machine{
		m: model, h: h, mass: model.Mass * e.MassFactor, perMass: h / (model.Mass * e.MassFactor), load: model.LoadAt(e.MassFactor),
		center: (model.Area.Cap - model.Area.Rod) * model.LowPressure,
		x:      e.Start, drive: newDrive(model.Drive, h), relief: e.Relief, lowestLow: math.Inf(1),
	}
	m.force = -m.load - m.contact()
	m.command = newDelay((model.OuterDelay+model.Drive.DeadTime)/h, 0)
	m.reading = newDelay(model.TransducerDelay/h, m.x)
	for _, c := range []plant.Chamber{plant.Cap, plant.Rod} {
		m.side[c] = newSide(model, c, m.mass, h)
	}
	m.sensorShare = 1
	if model.PressureLag > 0 {
		m.sensorShare = -math.Expm1(-h / model.PressureLag)
	}
	m.sensed.Cap, m.sensed.Rod = m.pressures()
	if e.Bristle {
		m.bristle = newBristle(model, m.mass)
	}
	return m
}

// carrier returns the chamber that carries the hydraulic force.
func (m *machine) carrier() plant.Chamber {
	if m.force > m.center {
		return plant.Cap
	}
	return plant.Rod
}

// pressures returns the pressures of both chambers (Pa gauge).
func (m *machine) pressures() (capPressure, rodPressure float64) {
	c := m.carrier()
	high := m.m.LowPressure + math.Abs(m.force-m.center)*m.side[c].perArea
	if c == plant.Cap {
		return high, m.lowPressure(c)
	}
	return m.lowPressure(c), high
}

// lowPressure returns the pressure (Pa) of the side that does not carry.
func (m *machine) lowPressure(carrier plant.Chamber) float64 {
	flow := m.side[carrier].low*m.v - m.m.Displacement*m.drive.speed
	if carrier == plant.Rod {
		flow = -flow
	}
	return m.m.LowPressure + m.m.LowResistance*flow
}

// contact returns the force (N) of what the rod presses on.
func (m *machine) contact() float64 {
	c := m.m.Contact
	if c == nil || m.contactGone {
		return 0
	}
	depth := (m.x-c.Position)*c.Presses.Sign() - m.contactShift
	return -c.Presses.Sign() * c.Stiffness * max(depth, 0)
}

// read returns what the controller measures now.
func (m *machine) read(s Sensors) law.Measured {
	read := law.Measured{Position: m.reading.out(), CapPressure: m.sensed.Cap, RodPressure: m.sensed.Rod}
	read.Position = s.read(read.Position, s.PositionStep, s.PositionNoise)
	read.CapPressure = s.read(read.CapPressure, s.PressureStep, s.PressureNoise)
	read.RodPressure = s.read(read.RodPressure, s.PressureStep, s.PressureNoise)
	return read
}

func (s Sensors) read(value, step, noise float64) float64 {
	if noise > 0 && s.Rand != nil {
		value += noise * s.Rand.NormFloat64()
	}
	if step > 0 {
		value = step * math.Round(value/step)
	}
	return value
}

// advance moves on by one step with the controller's speed command (rad/s): drive,
// speed of the rod (implicit in friction), position, force with the new speed.
func (m *machine) advance(command float64) {
	m.command.push(command)
	c := m.carrier()
	s := &m.side[c]
	across := (m.force - m.center) * s.perArea
	if m.drive.advance(m.command.out(), m.m.Drive.AccelPerPressure*across) {
		m.limited++
	}
	m.moveRod(s)
	m.moveOil(s)
	m.reading.push(m.x)
	m.watch(c, across)
}

func (m *machine) moveRod(s *side) {
	pull := m.force + s.clamp*m.m.Displacement*m.drive.speed + m.load + m.extra + m.contact()
	if m.bristle != nil {
		m.v = m.bristle.advance(m.v, pull, s.viscous, m.mass, m.h)
	} else {
		lost := m.perMass * s.slowing
		v := m.v*s.slowing + lost*pull
		if v > 0 {
			m.v = max(v-lost*m.m.Coulomb.Extend, 0)
		} else {
			m.v = min(v+lost*m.m.Coulomb.Retract, 0)
		}
	}
	m.x += m.h * m.v
	if m.x < 0 || m.x > m.m.Stroke {
		m.x, m.v = min(max(m.x, 0), m.m.Stroke), 0
		m.ended++
	}
}

func (m *machine) moveOil(s *side) {
	above := m.force - m.center
	compliance := s.compliance(m.x, m.m, m.m.LowPressure+math.Abs(above)*s.perArea)
	flow := m.m.Displacement*m.drive.speed - s.area*m.v
	m.force = m.center + (compliance*above+m.h*s.area*flow)/(compliance+m.h*m.m.Leakage)
	if m.relief > 0 {
		most := (m.relief - m.m.LowPressure) * m.side[plant.Cap].area
		least := -(m.relief - m.m.LowPressure) * m.side[plant.Rod].area
		if m.force > m.center+most || m.force < m.center+least {
			m.force = min(max(m.force, m.center+least), m.center+most)
			m.relieved++
		}
	}
}

// compliance returns dV/dp (m³/Pa) with the piston at x at pressure p (Pa gauge).
func (s *side) compliance(x float64, m *plant.Model, p float64) float64 {
	swept := m.Swept(s.chamber, x)
	still := s.oil.Fixed + swept*s.perModulus
	if s.oil.Air == 0 {
		return still
	}
	abs := max(p+plant.AtmosphericPressure, 0.1*plant.AtmosphericPressure)
	away := 1 - abs*s.perAir
	if !(math.Abs(away) < 0.05) {
		s.perAir, away = 1/abs, 0
		s.air = math.Pow(plant.AtmosphericPressure/abs, 1/plant.PolytropicIndex) / (plant.PolytropicIndex * abs)
	}
	return still + s.oil.Air*(s.oil.AirVolume+swept)*s.air*(1+(1+1/plant.PolytropicIndex)*away)
}

// watch keeps the extremes and the pressure sensors.
func (m *machine) watch(c plant.Chamber, across float64) {
	m.peakSpeed = max(m.peakSpeed, math.Abs(m.drive.speed))
	m.peakPressure = max(m.peakPressure, m.m.LowPressure+math.Abs(across))
	m.lowestLow = min(m.lowestLow, m.lowPressure(c))
	if !m.senses {
		return
	}
	capPressure, rodPressure := m.pressures()
	m.sensed.Cap += m.sensorShare * (capPressure - m.sensed.Cap)
	m.sensed.Rod += m.sensorShare * (rodPressure - m.sensed.Rod)
}
