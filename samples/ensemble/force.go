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
	band      count // figures within their stated band
	approach  count // peak force never above the limit, on piston and work piece
	runsOn    count // nor where the position command runs on with nine tenths of the limit as reference
	calm      count // no hand-over while a force is held
	jump      count // no command jump above 2 % of the speed limit
	lost      count // rod speed after loss of contact within the force loop's limit
	regained  count // peak force where another work piece stands behind the one that gave way
	ramp      count // a ramp stays below the limit and lets go
}

func (v *forceVerdict) counts() []namedCount {
	return []namedCount{
		{"force steps stable", &v.stable},
		{"true force margins within 1.5 dB, 7 deg of the targets", &v.margins},
		{"force settling predicted within 20 %", &v.settling},
		{"force overshoot predicted within 3 points", &v.overshoot},
		{"force step figures within their band", &v.band},
		{"approach below the force limit", &v.approach},
		{"position command that runs on below the force limit", &v.runsOn},
		{"no hand-over while a force is held", &v.calm},
		{"hand-over without a jump", &v.jump},
		{"loss of contact within the speed limit", &v.lost},
		{"contact regained below the force limit", &v.regained},
		{"ramp and release", &v.ramp},
	}
}

// statedPieces are the stiffnesses, over the machine's own, that a stated contact spans.
var statedPieces = []float64{0.5, 1, 2}

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
	lost := twin.LossOfContact(m, settings)
	// The last of the oil's expansion still adds a few per cent.
	v.lost.add(lost.RodSpeed <= 1.1*settings.Force.SpeedLimit/60/math.Min(settings.Position.TurnsExtend, settings.Position.TurnsRetract))
	r := twin.Ramp(m, settings)
	v.ramp.add(r.Released && r.Peak() <= m.ForceLimit()*1e-3)
}

// steps compares the standard force steps with what was predicted.
func (v *forceVerdict) steps(m *twin.Machine, t *tuning.Proposal, settings twin.Loops) {
	up, down := twin.ForceSteps(m, settings)
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
		inside := func(r tuning.Range, x float64) { v.band.add(r.Low <= x && x <= r.High) }
		inside(s.Settling, f.Settling)
		inside(s.Rise, f.Rise)
		inside(s.Overshoot, f.Overshoot)
		inside(s.PeakPressure, f.PeakPressure*1e5)
		inside(s.PeakSpeed, f.PeakSpeed*2*math.Pi/60)
	}
}

// press approaches, runs on, and loses one work piece to meet another behind it.
func (v *forceVerdict) press(m *twin.Machine, t *tuning.Proposal, settings twin.Loops) {
	limit := m.ForceLimit() * 1e-3
	for _, part := range []float64{0.3, 1} {
		real := twin.ForceMargins(m, settings.Force, part*m.ForceLimit()*m.Contact.Sign)
		v.margins.add(real.Stable && real.GainMargin >= t.Targets.GainMargin*math.Pow(10, -1.5/20) && real.PhaseMargin >= t.Targets.PhaseMargin-7*math.Pi/180)
	}
	for _, part := range []float64{0.3, 0.9} {
		a := twin.Approach(m, settings, part)
		v.approach.add(a.Peak() <= limit)
		v.jump.add(a.Jump <= 0.02*settings.Position.SpeedLimit)
		v.calm.add(a.HeldSwitches == 0)
	}
	v.runsOn.add(twin.RunsOn(m, settings, 0.9).Peak() <= limit)
	for _, gap := range []float64{0.5, settings.Force.TravelLimit / 2} {
		v.regained.add(twin.Regain(m, settings, gap).Peak() <= limit)
	}
}
