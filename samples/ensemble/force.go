package main

import (
	"math"

	"eha/strokewise/ident/plant"
	"eha/strokewise/samples/twin"
	"eha/strokewise/tuning"
)

// forceVerdict is what a proposed force loop does on the machine it was made for.
type forceVerdict struct {
	stable    count // the standard force steps
	margins   count // the machine's own margins meet the targets to 1.5 dB and 7 degrees
	settling  count // within 20 %
	overshoot count // within 3 points
	sticks    count // time until the rod moves, within 20 % or 20 ms
	band      count // figures within their stated band
	approach  count // peak force never above the limit, on piston and work piece
	runsOn    count // nor where the position command runs on with nine tenths of the limit as reference
	calm      count // no hand-over while a force is held
	leads     count // at most usualHandOvers of them in an approach
	jump      count // no command jump above 2 % of the speed limit
	lost      count // rod speed after loss of contact within the force loop's limit
	regained  count // peak force where another work piece stands behind the one that gave way
	ramp      count // a ramp stays below the limit and lets go
	peaks     count // of the events predicted, within a twentieth of the limit
	events    count // their figures within their bands
}

func (v *forceVerdict) counts() []namedCount {
	return []namedCount{
		{"force steps stable", &v.stable},
		{"true force margins within 1.5 dB, 7 deg of the targets", &v.margins},
		{"force settling predicted within 20 %", &v.settling},
		{"force overshoot predicted within 3 points", &v.overshoot},
		{"rod held by friction in force steps within 20 %, 20 ms", &v.sticks},
		{"force step figures within their band", &v.band},
		{"approach below the force limit", &v.approach},
		{"position command that runs on below the force limit", &v.runsOn},
		{"no hand-over while a force is held", &v.calm},
		{"at most 5 hand-overs in an approach", &v.leads},
		{"hand-over without a jump", &v.jump},
		{"loss of contact within the speed limit", &v.lost},
		{"contact regained below the force limit", &v.regained},
		{"ramp and release", &v.ramp},
		{"peak force of an event predicted within 5 % of the limit", &v.peaks},
		{"figures of events within their band", &v.events},
	}
}

// statedPieces are the stiffnesses, over the machine's own, that a stated contact spans.
var statedPieces = []float64{0.5, 1, 2}

// usualHandOvers are at the start, back to the position loop, at the touch, and a bounce.
const usualHandOvers = 5

// stateContact states what the machine presses on, as its owner would without a log of it.
func stateContact(opt tuning.Options, m *twin.Machine) tuning.Options {
	c := m.Contact
	opt.Contact = &plant.Contact{Position: c.Position, Stiffness: c.Stiffness}
	if c.Sign < 0 {
		opt.Contact.Presses = plant.Retract
	}
	opt.ContactRange = [2]float64{statedPieces[0] * c.Stiffness, statedPieces[len(statedPieces)-1] * c.Stiffness}
	return opt
}

// judge runs the settings on the machine, over the mass range with each of the
// work pieces, as factors on the stiffness of its own.
func (v *forceVerdict) judge(m *twin.Machine, t *tuning.Proposal, settings twin.Loops, pieces []float64) {
	v.steps(m, t, settings)
	for _, factor := range massFactors {
		for _, piece := range pieces {
			v.press(m.WithMass(factor).WithContact(piece), t, settings)
		}
	}
	low, high := shares(m, t)
	lost := twin.LossOfContact(m, settings, high)
	// The last of the oil's expansion still adds a few per cent.
	v.lost.add(lost.RodSpeed <= 1.1*settings.Force.SpeedLimit/60/math.Min(settings.Position.TurnsExtend, settings.Position.TurnsRetract))
	r := twin.Ramp(m, settings, low, high)
	v.ramp.add(r.Released && r.Peak() <= m.ForceLimit()*1e-3)
	for _, e := range t.Events {
		switch e.Scenario.ID {
		case "press":
			v.event(m, e, twin.Approach(m, settings, low))
		case "press_runs_on":
			v.event(m, e, twin.RunsOn(m, settings, 0.9))
		case "press_ramp":
			v.event(m, e, r.PressFigures)
		case "contact_lost":
			v.events.add(inside(e.RodSpeed, lost.RodSpeed*1e-3))
			v.events.add(inside(e.Rests, lost.Rests*1e-3))
		case "contact_regained":
			v.event(m, e, twin.Regain(m, settings, high, settings.Force.TravelLimit/2))
		}
	}
}

// shares returns the references of the standard force steps as shares of the force limit.
func shares(m *twin.Machine, t *tuning.Proposal) (low, high float64) {
	for _, s := range t.Predicted {
		if s.Loop == "force" {
			from, to := math.Abs(s.From)/m.ForceLimit(), math.Abs(s.To)/m.ForceLimit()
			return math.Min(from, to), math.Max(from, to)
		}
	}
	return 0.3, 0.5
}

// event compares a run of an event with what was predicted of it.
func (v *forceVerdict) event(m *twin.Machine, e tuning.PressEvent, got twin.PressFigures) {
	v.peaks.add(math.Abs(e.PeakForce.Value-got.PeakForce*1e3) <= 0.05*m.ForceLimit())
	v.peaks.add(math.Abs(e.PeakWork.Value-got.PeakWork*1e3) <= 0.05*m.ForceLimit())
	v.events.add(inside(e.PeakForce, got.PeakForce*1e3))
	v.events.add(inside(e.PeakWork, got.PeakWork*1e3))
	v.events.add(inside(e.Rests, got.Rests*1e-3))
	v.events.add(inside(e.HandOvers, float64(got.Switches)))
	v.events.add(inside(e.Bounces, float64(got.Bounces)))
}

func inside(r tuning.Range, x float64) bool { return r.Low <= x && x <= r.High }

// steps compares the standard force steps with what was predicted.
func (v *forceVerdict) steps(m *twin.Machine, t *tuning.Proposal, settings twin.Loops) {
	low, high := shares(m, t)
	sign := m.Contact.Sign * m.ForceLimit() * 1e-3
	up, down := twin.ForceSteps(m, settings, low*sign, high*sign)
	for _, s := range t.Predicted {
		if s.Loop != "force" {
			continue
		}
		f := up
		if math.Abs(s.To) < math.Abs(s.From) {
			f = down
		}
		v.stable.add(f.Stable)
		v.settling.add(within(s.Settling.Value, f.Settling, 0.2))
		v.overshoot.add(math.Abs(s.Overshoot.Value-f.Overshoot) <= 0.03)
		v.sticks.add(math.Abs(s.Sticks.Value-f.Sticks) <= math.Max(0.2*f.Sticks, 0.02))
		v.band.add(inside(s.Settling, f.Settling))
		v.band.add(inside(s.Rise, f.Rise))
		v.band.add(inside(s.Overshoot, f.Overshoot))
		v.band.add(inside(s.PeakPressure, f.PeakPressure*1e5))
		v.band.add(inside(s.PeakSpeed, f.PeakSpeed*2*math.Pi/60))
	}
}

// press approaches, runs on, and loses one work piece to meet another behind it.
func (v *forceVerdict) press(m *twin.Machine, t *tuning.Proposal, settings twin.Loops) {
	limit := m.ForceLimit() * 1e-3
	low, high := shares(m, t)
	for _, part := range []float64{low, 1} {
		real := twin.ForceMargins(m, settings.Force, part*m.ForceLimit()*m.Contact.Sign)
		v.margins.add(real.Stable && real.GainMargin >= t.Targets.GainMargin*math.Pow(10, -1.5/20) && real.PhaseMargin >= t.Targets.PhaseMargin-7*math.Pi/180)
	}
	for _, part := range []float64{low, 0.9} {
		a := twin.Approach(m, settings, part)
		v.approach.add(a.Peak() <= limit)
		v.jump.add(a.Jump <= 0.02*settings.Position.SpeedLimit)
		v.calm.add(a.HeldSwitches == 0)
		v.leads.add(a.Switches <= usualHandOvers)
	}
	v.runsOn.add(twin.RunsOn(m, settings, 0.9).Peak() <= limit)
	for _, gap := range []float64{0.5, settings.Force.TravelLimit / 2} {
		v.regained.add(twin.Regain(m, settings, high, gap).Peak() <= limit)
	}
}
