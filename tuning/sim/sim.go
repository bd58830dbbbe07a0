// Package sim runs the compact model in time under the control law: drive with
// its torque limit, delays, oil of the chamber that carries, friction that sticks,
// sampling and sensors. Its figures are what the proposals predict.
package sim

import (
	"math"
	"math/rand/v2"

	"eha/strokewise/ident/plant"
	"eha/strokewise/tuning/law"
)

// LongestStep is the largest time step (s). A quarter of a millisecond gives the
// same step figures as 20 µs on simulated machines; faster modes shorten it.
const LongestStep = 0.25e-3

// bristleStep is the time step (s) that bristle friction asks for.
const bristleStep = 50e-6

// contactStep is the same where there is something to press on: on invented machines forces
// come out within two thousandths of the force limit, times and speeds within 1 %, of those at bristleStep.
const contactStep = 100e-6

// Experiment is one run: a plant, the settings it runs under and what is asked of it.
type Experiment struct {
	Model      *plant.Model
	MassFactor float64
	Loops      law.Loops
	Start      float64 // m, at rest, the oil holding load and contact
	Duration   float64 // s
	// Demand gives references at the start of each controller period (s).
	Demand func(t float64) law.Demand
	// Load gives a force (N) on top of the model's axial load, positive pushing
	// the rod out; nil for none.
	Load    func(t float64) float64
	Sensors Sensors
	// Bristle takes friction as bristles with breakaway force and Stribeck
	// speed, which can hunt, in place of Coulomb friction, which cannot.
	Bristle bool
	Relief  float64 // Pa at which a chamber is relieved, 0 for never
	// ContactUntil is when (s) what the rod presses on gives way, 0 for never, and
	// NextContact how far behind it (m) another of the same stiffness stands, 0 for none.
	ContactUntil, NextContact float64
	// All keeps every channel and not the position alone.
	All bool
}

// Sensors are the resolution and the noise (one standard deviation) of what the
// controller reads; zeros read exactly.
type Sensors struct {
	PositionStep, PositionNoise float64 // m
	PressureStep, PressureNoise float64 // Pa
	Rand                        *rand.Rand
}

// Run is what happened: one sample per controller period, taken as the period begins.
type Run struct {
	Period   float64   // s
	Position []float64 // m, of the rod, not of the transducer
	// The rest is filled only with Experiment.All.
	Reference, Speed, Command, MotorSpeed, CapPressure, RodPressure, Force []float64
	Contact                                                                []float64 // N, on what the rod presses on
	InForce                                                                []bool

	PeakSpeed    float64 // rad/s, largest motor speed
	PeakPressure float64 // Pa, in either chamber
	LowestLow    float64 // Pa, lowest pressure of the low side
	// How long (s) the run was at the limits.
	AtTorqueLimit, AtRelief, AtEnd float64
}

// Do runs the experiment. It panics if there is no position loop or if its period is not positive.
func Do(e Experiment) Run {
	if e.Loops.Position == nil || !(e.Loops.Position.Period > 0) {
		panic("sim: an experiment needs a position loop with a period")
	}
	return do(e, stepsPerPeriod(e, e.Loops.Position.Period))
}

func do(e Experiment, perPeriod int) Run {
	period := e.Loops.Position.Period
	m := newMachine(e, period/float64(perPeriod))
	p := e.Loops.Position
	m.senses = e.Loops.Force != nil || p.PressureDamping != 0 || p.ByChamber
	controller := law.NewController(e.Loops, e.Model.Area)
	periods := int(math.Ceil(e.Duration/period - 1e-9))
	run := Run{Period: period, Position: make([]float64, 0, periods+1)}
	for i := range periods {
		t := float64(i) * period
		demand := e.Demand(t)
		command := controller.Next(demand, m.read(e.Sensors))
		run.note(e.All, m, demand, command, controller.InForce())
		if e.Load != nil {
			m.extra = e.Load(t)
		}
		if e.ContactUntil > 0 && t >= e.ContactUntil-1e-9 {
			m.contactGone, m.contactShift = e.NextContact == 0, e.NextContact
		}
		for range perPeriod {
			m.advance(command)
		}
	}
	run.note(e.All, m, e.Demand(float64(periods)*period), m.command.last(), controller.InForce())
	run.PeakSpeed, run.PeakPressure, run.LowestLow = m.peakSpeed, m.peakPressure, m.lowestLow
	run.AtTorqueLimit, run.AtRelief, run.AtEnd = float64(m.limited)*m.h, float64(m.relieved)*m.h, float64(m.ended)*m.h
	return run
}

func (r *Run) note(all bool, m *machine, d law.Demand, command float64, inForce bool) {
	r.Position = append(r.Position, m.x)
	if !all {
		return
	}
	capPressure, rodPressure := m.pressures()
	r.Reference = append(r.Reference, d.Position)
	r.Speed = append(r.Speed, m.v)
	r.Command = append(r.Command, command)
	r.MotorSpeed = append(r.MotorSpeed, m.drive.speed)
	r.CapPressure = append(r.CapPressure, capPressure)
	r.RodPressure = append(r.RodPressure, rodPressure)
	r.Force = append(r.Force, m.force)
	r.Contact = append(r.Contact, math.Abs(m.contact()))
	r.InForce = append(r.InForce, inForce)
}

// stepsPerPeriod keeps the step under LongestStep and under a third of a radian of the fastest mode.
func stepsPerPeriod(e Experiment, period float64) int {
	longest := LongestStep
	if e.Bristle {
		longest = bristleStep
		if e.Model.Contact != nil {
			longest = contactStep
		}
	}
	mass := e.Model.Mass * e.MassFactor
	fastest := e.Model.Drive.NaturalFreq
	for _, c := range []plant.Chamber{plant.Cap, plant.Rod} {
		stiffness := e.Model.Area.At(c) * e.Model.Area.At(c) / e.Model.Compliance(c, e.Start, 2e7)
		if e.Model.Contact != nil {
			stiffness += e.Model.Contact.Stiffness
		}
		fastest = max(fastest, math.Sqrt(stiffness/mass))
	}
	longest = min(longest, 0.33/fastest)
	return max(1, int(math.Ceil(period/longest-1e-9)))
}
