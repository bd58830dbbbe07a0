package record

import (
	"math"

	"eha/strokewise/ident/plant"
	"eha/strokewise/tuning"
	"eha/strokewise/tuning/law"
)

// EncodeProposal returns the settings document.
// machineName may be empty. pressuresSeen and massKnown say which figures of the
// plant behind it are real; the others are null.
func EncodeProposal(p *tuning.Proposal, source *plant.Plant) ([]byte, error) {
	d := loopsDocument{
		Format: LoopsFormat, Demo: p.Demo, Machine: source.Machine.Name,
		Position: encodePosition(p.Loops.Position), Force: encodeForce(p.Loops.Force),
		NotProposed: p.NotProposed,
		Targets:     &targetsPart{number(p.Targets.SensitivityPeak), decibel(p.Targets.GainMargin), degrees(p.Targets.PhaseMargin)},
		Guards:      encodeGuards(&p.Guards, source.PressuresSeen),
		Cautions:    p.Cautions, Warnings: p.Warnings,
	}
	for _, m := range p.Margins {
		d.Margins = append(d.Margins, encodeMargin(m))
	}
	for _, s := range p.Predicted {
		d.Predicted = append(d.Predicted, encodeStep(s, source.PressuresSeen))
	}
	for _, e := range p.Events {
		d.Predicted = append(d.Predicted, encodeEvent(e))
	}
	for _, l := range p.Limits {
		d.Limits = append(d.Limits, limitPart{l.What, l.Remedy, number(l.Gain)})
	}
	for _, s := range p.Scales {
		d.Scales = append(d.Scales, scalePart{s.Form, s.Text, number(s.ErrorPPM), number(s.Error * toMM), s.Note})
	}
	for _, f := range p.Forms {
		d.Forms = append(d.Forms, formPart(f))
	}
	for _, b := range p.BringUp {
		part := bringUpPart{Title: b.Title, Do: b.Do, Expect: b.Expect, StopIf: b.StopIf, Back: b.Back}
		if b.Settings != nil {
			part.Position, part.Force = encodePosition(b.Settings.Position), encodeForce(b.Settings.Force)
		}
		d.BringUp = append(d.BringUp, part)
	}
	return encode(d)
}

// decibel and degrees give +Inf for no limit, which number writes as null.
func decibel(ratio float64) number { return number(20 * math.Log10(ratio)) }
func degrees(rad float64) number   { return number(rad * 180 / math.Pi) }

func encodePosition(s *law.Position) *positionPart {
	if s == nil {
		return nil
	}
	turns := func(v float64) number { return number(v / rev / toMM) }
	part := &positionPart{
		Period: number(s.Period), KpExtend: number(s.Kp.Extend), KpRetract: number(s.Kp.Retract),
		KiExtend: number(s.Ki.Extend), KiRetract: number(s.Ki.Retract), Feedforward: number(s.Feedforward),
		TurnsExtend: turns(s.Turns.Extend), TurnsRetract: turns(s.Turns.Retract),
		Damping: number(s.PressureDamping / rev * bar), Highpass: number(s.Highpass * toHz), Lowpass: number(s.Lowpass * toHz),
		SpeedLimit: number(s.SpeedLimit / rev * 60), Window: number(s.Window * toMM), WindowTime: number(s.WindowTime),
	}
	if s.ByChamber {
		part.ChamberScale, part.ChamberBand = true, number(s.ChamberBand*1e-3)
	}
	if s.Table != nil {
		part.Table = &tablePart{numbers(s.Table.Position, toMM), numbers(s.Table.Turns.Extend, 1/rev/toMM), numbers(s.Table.Turns.Retract, 1/rev/toMM)}
	}
	return part
}

func encodeForce(s *law.Force) *forcePart {
	if s == nil {
		return nil
	}
	return &forcePart{
		Presses: s.Presses.String(), ApproachSpeed: number(s.ApproachSpeed * toMM), TravelLimit: number(s.TravelLimit * toMM),
		Period: number(s.Period), Kp: number(s.Kp / rev * 1e3), Ki: number(s.Ki / rev * 1e3),
		RateFeedforward: number(s.RateFeedforward / rev * 1e3), Lowpass: number(s.Lowpass * toHz), SpeedLimit: number(s.SpeedLimit / rev * 60),
	}
}

func encodeGuards(g *tuning.Guards, pressures bool) *guardsPart {
	part := &guardsPart{SoftLow: number(g.SoftLow * toMM), SoftHigh: number(g.SoftHigh * toMM), Why: g.Why}
	part.Mismatch.Mismatch, part.Mismatch.Over = number(g.Mismatch*toMM), number(g.MismatchTime)
	part.Mismatch.SlipOut, part.Mismatch.Plain = pressures, number(g.PlainMismatch*toMM)
	for _, p := range g.FollowingError {
		part.Following = append(part.Following, [2]number{number(p.X * toMM), number(p.Y * toMM)})
	}
	known := func(v, factor float64) *number {
		if v <= 0 {
			return nil
		}
		return optional(v * factor)
	}
	part.Force, part.Pressure, part.Torque = known(g.ForceLimit, 1e-3), known(g.PressureLimit, 1/bar), known(g.TorqueLimit, 1)
	return part
}

func encodeMargin(m tuning.Margin) marginPart {
	part := marginPart{Loop: m.Loop, Direction: m.Direction.String(), Chamber: m.Chamber.String(), Position: number(m.Position * toMM),
		Stable: m.Stable, GainMargin: decibel(m.GainMargin), PhaseMargin: degrees(m.PhaseMargin), Sensitivity: number(m.Sensitivity),
		DelayMargin: number(m.DelayMargin * 1e3), Why: m.Why}
	if m.Mass > 0 {
		part.Mass = optional(m.Mass)
	} else {
		part.MassFactor = optional(m.MassFactor)
	}
	return part
}

func encodeStep(s tuning.Step, pressures bool) stepPart {
	unit, factor := "mm", toMM
	if s.Loop == "force" {
		unit, factor = "kN", 1e-3
	}
	part := stepPart{Loop: s.Loop, Direction: s.Direction.String(), From: number(s.From * factor), To: number(s.To * factor), Unit: unit,
		Rise: number(s.Rise.Value), Settling: number(s.Settling.Value), Overshoot: number(100 * s.Overshoot.Value),
		PeakSpeed: number(s.PeakSpeed.Value / rev * 60), FinalError: number(s.FinalError.Value * factor), History: s.History}
	band := func(r tuning.Range, f float64) [2]number { return [2]number{number(r.Low * f), number(r.High * f)} }
	part.Band.Rise, part.Band.Settling, part.Band.Overshoot = band(s.Rise, 1), band(s.Settling, 1), band(s.Overshoot, 100)
	part.Band.PeakSpeed, part.Band.FinalError = band(s.PeakSpeed, 60/rev), band(s.FinalError, factor)
	if s.Loop == "force" {
		part.Sticks = optional(s.Sticks.Value)
	}
	if pressures {
		pressure := band(s.PeakPressure, 1/bar)
		part.PeakPressure, part.Band.PeakPressure = optional(s.PeakPressure.Value/bar), &pressure
	}
	return part
}

func encodeEvent(e tuning.PressEvent) eventPart {
	never := number(math.Inf(1))
	part := eventPart{Loop: "force", Direction: e.Direction.String(), Event: e.Scenario.ID, Text: e.Scenario.Title,
		From: number(e.From * 1e-3), To: number(e.To * 1e-3), Unit: "kN", Rise: never, Settling: never, Overshoot: never}
	both := func(r tuning.Range, factor float64, value *number, band *[2]number) {
		*value, *band = number(r.Value*factor), [2]number{number(r.Low * factor), number(r.High * factor)}
	}
	both(e.PeakForce, 1e-3, &part.PeakForce, &part.Band.PeakForce)
	both(e.PeakWork, 1e-3, &part.PeakWork, &part.Band.PeakWork)
	both(e.RodSpeed, toMM, &part.RodSpeed, &part.Band.RodSpeed)
	both(e.Thrown, toMM, &part.Thrown, &part.Band.Thrown)
	both(e.Error, 1e-3, &part.FinalError, &part.Band.FinalError)
	both(e.Rests, toMM, &part.Rests, &part.Band.Rests)
	both(e.HandOvers, 1, &part.HandOvers, &part.Band.HandOvers)
	both(e.Bounces, 1, &part.Bounces, &part.Band.Bounces)
	return part
}
