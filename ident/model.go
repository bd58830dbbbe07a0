package ident

import (
	"math"

	"eha/strokewise/ident/plant"
)

const gravity = 9.80665 // m/s², standard value, CGPM 1901

// buildModel makes the complete model: what was found, and typical values for the rest.
func (f *fitting) buildModel() plant.Model {
	m := plant.Model{}
	f.geometry(&m)
	f.hydraulics(&m)
	f.mechanics(&m)
	f.leakFromHolding(&m)
	f.fitResonance(&m)
	f.controls(&m)
	if c := f.contact; c.Contact.Known() && c.Position.Known() {
		m.Contact = &plant.Contact{Presses: c.Presses, Position: c.Position.Value, Stiffness: c.Contact.Value}
	}
	return m
}

// geometry sets areas, stroke and displacement such that strokes per turn come
// out as fitted, whatever of the three is real.
func (f *fitting) geometry(m *plant.Model) {
	m.Stroke = f.machine.Cylinder.Stroke
	if m.Stroke <= 0 {
		m.Stroke = f.travelSeen()
	}
	m.Displacement = f.machine.Pump.Displacement
	if m.Displacement <= 0 {
		m.Displacement = typicalDisplacement
	}
	area, known := areas(f.machine)
	if f.stroke != nil && f.stroke.Pressures {
		m.Area, m.Displacement = f.stroke.Areas, f.stroke.Displacement.Value
		return
	}
	byCap, byRod := f.params[plant.StrokePerTurnCap], f.params[plant.StrokePerTurnRod]
	if !byCap.Known() && !byRod.Known() {
		byCap, byRod = f.params[plant.StrokePerTurnExtend], f.params[plant.StrokePerTurnRetract]
	}
	switch {
	case known:
		m.Area = area
		if byCap.Known() {
			m.Displacement = byCap.Value * area.Cap
		} else if byRod.Known() {
			m.Displacement = byRod.Value * area.Rod
		}
	case byCap.Known() && byRod.Known() && byRod.Value > 1.02*byCap.Value:
		m.Area = plant.PerChamber[float64]{Cap: m.Displacement / byCap.Value, Rod: m.Displacement / byRod.Value}
	case byCap.Known():
		m.Area.Cap = m.Displacement / byCap.Value
		m.Area.Rod = typicalAreaRatio * m.Area.Cap
	case byRod.Known():
		m.Area.Rod = m.Displacement / byRod.Value
		m.Area.Cap = m.Area.Rod / typicalAreaRatio
	default:
		// Nothing is known but that a turn moves a rod: take 2 mm.
		m.Area.Cap = m.Displacement / (2e-3 / (2 * math.Pi))
		m.Area.Rod = typicalAreaRatio * m.Area.Cap
	}
}

// hydraulics sets leakage, oil and the low side.
func (f *fitting) hydraulics(m *plant.Model) {
	if slip := f.params[plant.Slip]; slip.Known() {
		m.Leakage = slip.Value * m.Displacement
		if f.stroke != nil {
			m.LeakRise = f.stroke.LeakRise
		}
	} else {
		m.Leakage = typicalSlip * f.topSpeed() / 100e5 * m.Displacement
	}
	m.LowPressure = typicalLowPressure
	if p := f.machine.Reservoir.Preload; p > 0 {
		m.LowPressure = p
	}
	if f.stroke != nil && f.stroke.Pressures && f.stroke.Reservoir.Sigma > 0 {
		m.LowPressure = f.stroke.Reservoir.Value
	}
	for _, c := range []plant.Chamber{plant.Cap, plant.Rod} {
		full := m.Area.At(c) * m.Stroke
		m.Oil.Set(c, plant.Oil{Fixed: typicalDeadShare * full / typicalModulus, Modulus: typicalModulus, Air: typicalAir, AirVolume: typicalDeadShare * full})
		if f.oil != nil {
			if _, ok := f.oil.Compliance(c, m.Stroke/2, m.LowPressure); ok {
				m.Oil.Set(c, sane(f.oil.Model(c)))
			}
		}
	}
	if f.oil != nil {
		first := plant.Cap
		if f.resonance != nil {
			first = f.resonance.Chamber
		}
		for _, c := range []plant.Chamber{first.Other(), first} {
			if r := f.oil.LowResistance.At(c); r.Sigma > 0 && r.Value > 0 {
				m.LowResistance = r.Value
			}
		}
	}
}

// sane keeps the parts of a fitted oil from falling below zero, where noise put them.
func sane(o plant.Oil) plant.Oil {
	o.Fixed, o.Air, o.AirVolume = math.Max(o.Fixed, 0), math.Max(o.Air, 0), math.Max(o.AirVolume, 0)
	if !(o.Modulus > 0) {
		o.Modulus = typicalModulus
	}
	return o
}

// mechanics sets friction and load; the mass comes with the resonance.
func (f *fitting) mechanics(m *plant.Model) {
	friction := typicalFriction * typicalWorking * m.Area.Cap
	if e := f.params[plant.CoulombFriction]; e.Known() {
		friction = math.Max(e.Value, 0)
	}
	m.Coulomb = plant.PerDirection[float64]{Extend: friction, Retract: friction}
	m.Breakaway = typicalBreakaway * friction
	if e := f.params[plant.BreakawayForce]; e.Known() {
		m.Breakaway = math.Max(e.Value, friction)
	}
	m.StribeckSpeed = typicalStribeck
	if e := f.params[plant.StribeckSpeed]; e.Known() && e.Value > 0 {
		m.StribeckSpeed = e.Value
	}
	if e := f.params[plant.AxialLoad]; e.Known() {
		m.AxialLoad = e.Value
	} else if f.stroke != nil && f.stroke.Carrier.Extend == f.stroke.Carrier.Retract {
		// One chamber carries both ways: without a load the model would swap them.
		m.AxialLoad = -float64(f.stroke.Carrier.Extend) * typicalLoad * typicalWorking * m.Area.Cap
	}
	m.Viscous = math.Max(f.params[plant.ViscousFriction].Value, 0)
}

// fitResonance sets the mass, and where the mass is not known scales the model
// to the resonance that was seen or to one on the careful side.
func (f *fitting) fitResonance(m *plant.Model) {
	mass, frequency := f.params[plant.MovingMass], f.params[plant.HydraulicFrequency]
	c, x, p := f.softest(m)
	area := m.Area.At(c)
	if mass.Known() && mass.Value > 0 {
		m.Mass = mass.Value
		if f.oil == nil && frequency.Known() {
			// The mass is real, the oil is not: make it as soft as was seen.
			scale := area * area / (frequency.Value * frequency.Value * mass.Value) / m.Compliance(c, x, p)
			m.Oil.Cap, m.Oil.Rod = m.Oil.Cap.Scaled(scale), m.Oil.Rod.Scaled(scale)
		}
	} else {
		omega := lowFrequency
		if frequency.Known() {
			omega = frequency.Value
		}
		m.Mass = area * area / (m.Compliance(c, x, p) * omega * omega)
	}
	if angle := f.machine.Load.Angle; angle != nil {
		m.GravityShare = -m.Mass * gravity * math.Sin(*angle)
	} else {
		m.GravityShare = m.AxialLoad
	}
	if !f.params[plant.ViscousFriction].Known() {
		damping := lowDamping
		if e := f.params[plant.HydraulicDamping]; e.Known() && e.Value > 0 {
			damping = e.Value
		}
		mode := m.Resonance(c, x, p, 1)
		m.Viscous = math.Max(2*m.Mass*mode.NaturalFreq*(damping-mode.Damping), 0)
	}
}

// softest returns chamber, position and pressure at which the resonance is
// lowest: as found from the oil, else by the model's own slow travel.
func (f *fitting) softest(m *plant.Model) (plant.Chamber, float64, float64) {
	if r := f.resonance; r != nil {
		p, _ := f.oil.SlowPressure(r.Chamber, r.Direction)
		return r.Chamber, r.Position, p
	}
	best, lowest := plant.Cap, math.Inf(1)
	var at, pressure float64
	for _, d := range []plant.Direction{plant.Extend, plant.Retract} {
		force := m.SteadyForce(d.Sign()*1e-3, 1)
		c := m.Carrier(force)
		x := 0.0
		if c == plant.Cap {
			x = m.Stroke
		}
		p := m.PressureFor(c, force)
		area := m.Area.At(c)
		if k := area * area / m.Compliance(c, x, p); k < lowest {
			best, lowest, at, pressure = c, k, x, p
		}
	}
	return best, at, pressure
}

// controls sets the drive and the delays.
func (f *fitting) controls(m *plant.Model) {
	m.Drive = plant.Drive{
		NaturalFreq: f.params[plant.DriveBandwidth].Value, Damping: f.params[plant.DriveDamping].Value, DeadTime: math.Max(f.params[plant.DeadTime].Value, 0),
		AccelLimit: f.drive.Largest, AccelPerPressure: f.drive.PerPressure,
	}
	if e := f.params[plant.AccelerationLimit]; e.Known() {
		m.Drive.AccelLimit, m.Drive.AccelMet = e.Value, true
	}
	if m.Drive.AccelLimit <= 0 {
		m.Drive.AccelLimit = typicalAcceleration
	}
	m.TransducerDelay = math.Max(f.params[plant.TransducerDelay].Value, 0)
	m.PressureLag = math.Max(f.params[plant.PressureLag].Value, 0)
	m.OuterDelay = math.Max(f.params[plant.OuterDelay].Value, 0)
	m.ControllerPeriod = f.controllerPeriod()
}

// topSpeed is the motor's largest speed (rad/s) by the machine file, else as seen.
func (f *fitting) topSpeed() float64 {
	top := f.machine.Motor.MaxSpeed
	for _, m := range f.motion {
		if f.machine.Motor.MaxSpeed <= 0 {
			top = math.Max(top, m.TopSpeed)
		}
	}
	if top <= 0 {
		return typicalTopSpeed
	}
	return top
}
