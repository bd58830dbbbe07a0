package ident

import (
	"fmt"
	"math"

	"eha/strokewise/ident/plant"
)

// moveFor names the move to log for a parameter that no stage spoke of.
var moveFor = map[plant.Param]string{
	plant.StrokePerTurnExtend: "slow_strokes: motor position and rod position, both directions", plant.StrokePerTurnRetract: "slow_strokes: motor position and rod position, both directions",
	plant.StrokePerTurnCap: "slow_strokes with both pressures", plant.StrokePerTurnRod: "slow_strokes with both pressures",
	plant.Slip:            "press_hold or speed_steps with both pressures",
	plant.CoulombFriction: "speed_steps with both pressures", plant.ViscousFriction: "speed_steps with both pressures",
	plant.BreakawayForce: "slow_strokes with both pressures", plant.StribeckSpeed: "slow_strokes with both pressures",
	plant.AxialLoad: "speed_steps in both directions with both pressures", plant.LineLoss: "speed_steps up to full speed with both pressures",
	plant.MovingMass:  "pulses: speed steps while the rod moves, with both pressures",
	plant.BulkModulus: "multisine with both pressures", plant.BulkModulusCap: "multisine with both pressures, the cap side carrying", plant.BulkModulusRod: "multisine with both pressures, the rod side carrying",
	plant.ComplianceCap: "multisine with both pressures, the cap side carrying", plant.ComplianceRod: "multisine with both pressures, the rod side carrying",
	plant.HydraulicFrequency: "pulses and multisine", plant.HydraulicDamping: "pulses and multisine with both pressures",
	plant.LostMotion: "reversals", plant.ContactStiffness: "press_hold", plant.PressingStiffness: "press_hold",
	plant.TransducerDelay: "speed_steps", plant.PressureLag: "pulses with both pressures",
	plant.DriveBandwidth: "multisine", plant.DriveDamping: "multisine", plant.DeadTime: "multisine",
	plant.OuterDelay: "position_steps in closed loop", plant.AccelerationLimit: "speed_steps larger than the drive can follow",
}

// fillParams gathers every parameter from the stages.
func (f *fitting) fillParams() {
	f.params = map[plant.Param]plant.Estimate{}
	for _, p := range plant.Params() {
		f.params[p] = plant.MissingFrom("log " + moveFor[p])
	}
	if f.stroke != nil {
		f.take(f.stroke.Params)
		f.warnings = append(f.warnings, f.stroke.Warnings...)
	}
	if f.balance != nil {
		f.take(f.balance.Params())
		f.warnings = append(f.warnings, f.balance.Warnings...)
	}
	if f.force != nil {
		f.takeForce()
	}
	if f.oil != nil {
		f.take(f.oil.Params)
	}
	if f.blind != nil {
		f.take(f.blind.Params)
	}
	if f.resonance != nil {
		f.take(f.resonance.Params)
	}
	f.take(map[plant.Param]plant.Estimate{
		plant.DriveBandwidth: f.drive.Bandwidth, plant.DriveDamping: f.drive.Damping, plant.DeadTime: f.drive.DeadTime,
		plant.AccelerationLimit: f.drive.AccelLimit,
		plant.LostMotion:        f.lost.LostMotion, plant.ContactStiffness: f.contact.Contact, plant.PressingStiffness: f.contact.Pressing,
		plant.PressureLag: f.pressureLag(),
	})
	f.warnings = append(append(f.warnings, f.lost.Warnings...), f.contact.Warnings...)
	f.crossCheckMass()
	f.crossCheckResonance()
	f.doubtClocks()
	f.doubtUpdates()
	f.assumeDrive()
	f.assumeDelays()
}

// take puts in what is known, and the better reason for what is missing.
func (f *fitting) take(params map[plant.Param]plant.Estimate) {
	for p, e := range params {
		if e.Known() || e.From != "" && !f.params[p].Known() {
			f.params[p] = e
		}
	}
}

func (f *fitting) takeForce() {
	load := f.force.Offset
	if load.Known() {
		load.Value, load.Low, load.High = -load.Value, -load.High, -load.Low
	}
	f.take(map[plant.Param]plant.Estimate{
		plant.MovingMass: f.force.Mass, plant.ViscousFriction: f.force.Viscous, plant.CoulombFriction: f.force.Coulomb, plant.AxialLoad: load,
	})
	f.warnings = append(f.warnings, f.force.Warnings...)
}

// crossCheckMass sets the mass fitted beside that of the machine file.
func (f *fitting) crossCheckMass() {
	fitted, given := f.params[plant.MovingMass], f.machine.Load.Mass
	if given > 0 && fitted.Known() && (given < fitted.Low || given > fitted.High) && math.Abs(given-fitted.Value) > 0.1*given {
		f.warnings = append(f.warnings, fmt.Sprintf("mass_disagrees: the logs give %.4g kg (%.4g to %.4g), the machine file %.4g kg", fitted.Value, fitted.Low, fitted.High, given))
	}
	f.params[plant.MovingMass] = f.mass()
}

// sureBlind is the half-width over the value up to which the resonance found
// from motion alone is worth setting beside that from oil and mass.
const sureBlind = 0.10

// crossCheckResonance sets the resonance that follows from oil and mass beside the
// one seen in turns and travel alone. Two that exclude each other are both
// doubtful: the interval then spans both.
func (f *fitting) crossCheckResonance() {
	if f.resonance == nil || f.blind == nil {
		return
	}
	a, b := f.params[plant.HydraulicFrequency], f.blind.Params[plant.HydraulicFrequency]
	if !a.Known() || !b.Known() || b.HalfWidth() > sureBlind*b.Value || a.Low <= b.High && b.Low <= a.High {
		return
	}
	f.warnings = append(f.warnings, fmt.Sprintf("hydraulic frequency: %.3g Hz from oil and mass, %.3g Hz from turns and travel alone", a.Value/(2*math.Pi), b.Value/(2*math.Pi)))
	a.Low, a.High = math.Min(a.Low, b.Low), math.Max(a.High, b.High)
	a.Status = plant.Weak
	f.params[plant.HydraulicFrequency] = a
}

// assumeDrive puts typical figures where the logs do not tell the drive.
func (f *fitting) assumeDrive() {
	for p, t := range map[plant.Param]assumption{plant.DriveBandwidth: typicalDriveFreq, plant.DriveDamping: typicalDriveDamping, plant.DeadTime: typicalDeadTime} {
		if e := f.params[p]; !e.Known() {
			f.params[p] = t.estimate(e.From)
		}
	}
}

// assumeDelays settles the outer delay (fitted, given or assumed) and the
// sensors' delays.
func (f *fitting) assumeDelays() {
	period := f.controllerPeriod()
	given := f.machine.Controller.OuterDelay
	fitted := f.loop.Delay
	switch {
	case fitted.Known() && (fitted.Status == plant.Identified || given <= 0):
		f.params[plant.OuterDelay] = fitted
		if given > 0 && (given < fitted.Low || given > fitted.High) {
			f.warnings = append(f.warnings, fmt.Sprintf("outer delay: the closed-loop log gives %.2g ms, the machine file %.2g ms", 1e3*fitted.Value, 1e3*given))
		}
	case given > 0:
		f.params[plant.OuterDelay] = plant.Estimate{Value: given, Low: given, High: given, Status: plant.Given, From: "machine file"}
	default:
		f.params[plant.OuterDelay] = plant.Estimate{Value: 1.5 * period, Low: 0.5 * period, High: 3 * period, Status: plant.Assumed,
			From: "1.5 controller periods; " + fitted.From}
	}
	for p, t := range map[plant.Param]assumption{plant.TransducerDelay: typicalTransducerDelay, plant.PressureLag: typicalPressureLag} {
		if e := f.params[p]; !e.Known() {
			f.params[p] = t.estimate(e.From)
		}
	}
}

// controllerPeriod is that of the machine file, else the shortest log's, but no shorter
// than a machine file may state: a recorder can be faster than any controller.
func (f *fitting) controllerPeriod() float64 {
	if p := f.machine.Controller.Period; p > 0 {
		return p
	}
	period := f.given[0].Period()
	for _, t := range f.given {
		period = math.Min(period, t.Period())
	}
	return math.Max(period, plant.ShortestPeriod)
}

// found reports whether the logs themselves gave the parameter.
func (f *fitting) found(p plant.Param) bool {
	s := f.params[p].Status
	return s == plant.Weak || s == plant.Identified
}

// anythingFound reports whether the fit has something to stand on.
func (f *fitting) anythingFound() bool {
	return f.found(plant.StrokePerTurnExtend) || f.found(plant.StrokePerTurnRetract) || f.found(plant.DriveBandwidth) ||
		f.found(plant.MovingMass) && f.found(plant.CoulombFriction)
}
