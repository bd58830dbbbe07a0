package tuning

import (
	"context"
	"fmt"
	"math"
	"sort"

	"eha/strokewise/ident/machine"
	"eha/strokewise/ident/plant"
	"eha/strokewise/tuning/law"
	"eha/strokewise/tuning/loop"
)

// Bounds of the force loop, found on simulated machines unless a line says otherwise.
const (
	forceOvershoot = 0.02 // of the step, what a proposed force step may show
	excessShare    = 0.10 // of the force limit, how far an approach may pass its reference
	holdingShare   = 2.0  // speed limit over what slip takes at the working pressure
	leastHolding   = 1.5  // the same at the highest pressing pressure, below which the force is never reached
	usualForceRPM  = 300  // speed limit in force mode where slip asks for less
)

// pressing is what a force loop is designed on.
type pressing struct {
	d       *design
	model   plant.Model // oil as it is at pressing pressure
	contact plant.Contact
	chamber plant.Chamber
	limit   float64 // N, size of the largest force to press with
	stiff   []float64
}

// newPressing returns what pressing the logs support, or why they support none.
func (d *design) newPressing() (*pressing, string) {
	const advice = "log press_hold: press slowly on the work piece or a test spring, hold at three levels, ease off"
	switch c := d.model.Contact; {
	case !d.p.PressuresSeen:
		return nil, "the logs hold no chamber pressures, and force is closed on them; log both pressures while pressing (press_hold)"
	case !d.p.AreasKnown:
		return nil, "bore and rod are not known, and force follows from pressures by the areas; state them in the machine file"
	case d.p.Machine.Controller.ForceSelect == machine.No:
		return nil, "the machine file says that the controller cannot choose between a position and a force command (force_select = false)"
	case c == nil:
		return nil, "the logs hold no pressing; " + advice
	}
	e := d.p.Est(plant.ContactStiffness)
	if !e.Known() || !(e.Low > 0) {
		return nil, "the stiffness of what the rod presses on is not known; " + advice
	}
	p := &pressing{d: d, model: d.model, contact: *d.model.Contact, stiff: []float64{e.Low, e.High, math.Inf(1)}}
	if p.contact.Presses == plant.Retract {
		p.chamber = plant.Rod
	}
	if p.limit = d.forceLimit(p.contact.Presses); p.limit <= 0 {
		return nil, "neither a force limit nor a force while pressing is known; state limits.force in the machine file"
	}
	p.matchOil()
	return p, ""
}

// forceLimit returns the size (N) of the largest force in the direction pressed:
// the machine file's, what the working pressure gives at most, or the largest logged.
func (d *design) forceLimit(presses plant.Direction) float64 {
	limits := d.p.Machine.Limits
	stated := limits.Force
	if presses == plant.Retract && limits.ForcePull > 0 {
		stated = limits.ForcePull
	}
	if stated > 0 {
		return stated
	}
	if presses == plant.Retract {
		return -d.p.Seen.PressForce[0]
	}
	return d.p.Seen.PressForce[1]
}

// matchOil scales the oil of the chamber that presses to the pressing stiffness
// where that was found: the modulus of slow travel is too soft for pressing.
func (p *pressing) matchOil() {
	e := p.d.p.Est(plant.PressingStiffness)
	if e.Status != plant.Identified || p.d.opt.WhatIf.LineVolume != nil {
		return
	}
	area := p.model.Area.At(p.chamber)
	measured := p.model.Displacement*area/e.Value - area*area/p.contact.Stiffness
	middle := (p.d.p.Seen.PressForce[0] + p.d.p.Seen.PressForce[1]) / 2
	fitted := p.model.Compliance(p.chamber, p.contact.Position, p.model.PressureFor(p.chamber, middle))
	if factor := measured / fitted; factor > 0.5 && factor < 2 {
		oil := p.model.Oil.At(p.chamber).Scaled(factor)
		p.model.Oil.Set(p.chamber, oil)
	}
}

// place returns where and at which pressure the rod presses with the share of the force limit.
func (p *pressing) place(share, massFactor float64) loop.Place {
	force := p.contact.Presses.Sign() * share * p.limit
	return loop.Place{Direction: p.contact.Presses, Chamber: p.chamber, Position: p.contact.Position,
		Pressure: p.model.PressureFor(p.chamber, force), MassFactor: massFactor}
}

// pressPoint is one point of the force loop's grid.
type pressPoint struct {
	at    loop.Place
	loop  loop.Pressing
	stiff float64
}

// grid returns the loops to hold the targets on: low and full force, soft, stiff
// and stuck contact, the mass range and the band of the outer delay.
func (p *pressing) grid(set *law.Force) []pressPoint {
	var all []pressPoint
	for _, share := range []float64{0.3, 1} {
		for _, factor := range p.d.factors {
			at := p.place(share, factor)
			for _, stiff := range p.stiff {
				for _, delay := range p.d.delays {
					l := loop.NewPressing(&p.model, at, stiff, delay)
					l.Kp, l.Ki, l.Lowpass = set.Kp, set.Ki, set.Lowpass
					all = append(all, pressPoint{at, l, stiff})
				}
			}
		}
	}
	return all
}

// margins returns the force loop's margins at every point of its grid and the worst.
func (p *pressing) margins(set *law.Force, f loop.Fineness) (margins []Margin, worst Margin) {
	tightest := math.Inf(-1)
	for _, point := range p.grid(set) {
		m := p.d.margin(corner{place: point.at}, point.loop.Margins(f))
		m.Loop = "force"
		margins = addMargin(margins, m)
		if t := tightness(m, p.d.opt.Targets); t > tightest {
			tightest, worst = t, m
			worst.Why = p.why(point)
		}
	}
	return margins, worst
}

func (p *pressing) why(point pressPoint) string {
	contact := fmt.Sprintf("contact of %.3g kN/mm", point.stiff*1e-6)
	if math.IsInf(point.stiff, 1) {
		contact = "a rod that friction holds"
	}
	return fmt.Sprintf("%s side pressing at %.3g bar on %s", p.chamber, point.at.Pressure*1e-5, contact)
}

// keeps reports whether all margins meet the targets, to within what the grid resolves.
func keeps(margins []Margin, t law.Targets) bool {
	for _, m := range margins {
		if tightness(m, t) > 1.01 {
			return false
		}
	}
	return true
}

// highestGain returns the largest kp (rad/s per N) that keeps the targets over
// the grid with ki = ratio·kp, 0 where there is none. The search goes from the top: with an
// integral the permitted gains need not begin at zero.
func (p *pressing) highestGain(ratio float64) float64 {
	var permitted []loop.Interval
	for i, point := range p.grid(&law.Force{}) {
		here := point.loop.PermittedGains(ratio, p.d.opt.Targets, loop.Coarse)
		if i > 0 {
			here = loop.Common(permitted, here)
		}
		permitted = here
	}
	for i := len(permitted) - 1; i >= 0; i-- {
		if top := permitted[i].High; !math.IsInf(top, 1) {
			return top
		}
	}
	return 0
}

// ratios returns the ki/kp (1/s) to try: the corner at which slip stops storing
// force, for a rod that slides against the contact and for one that friction
// holds, and between them.
func (p *pressing) ratios() []float64 {
	at := p.place(0.5, 1)
	slides := loop.NewPressing(&p.model, at, p.contact.Stiffness, p.model.OuterDelay)
	sticks := loop.NewPressing(&p.model, at, math.Inf(1), p.model.OuterDelay)
	a, b := slides.LeakCorner(), sticks.LeakCorner()
	list := []float64{a, math.Sqrt(a * b), b}
	sort.Float64s(list)
	return distinct(list)
}

// proposeForce designs the force loop: on the stiffest contact of the range, a
// ratio of gains chosen by simulation, limits so that neither an approach nor a
// position command that runs on passes the force limit. Where none is proposed, why says so.
func (d *design) proposeForce(ctx context.Context, position *law.Position) (set *law.Force, margins []Margin, worst Margin, steps []Step, why string) {
	p, why := d.newPressing()
	if p == nil {
		return nil, nil, worst, nil, why
	}
	best := math.Inf(1)
	for _, ratio := range p.ratios() {
		if ctx.Err() != nil {
			return nil, nil, worst, nil, "cancelled"
		}
		tried, cost := p.try(position, ratio)
		if tried != nil && cost < best {
			set, best = tried, cost
		}
	}
	if set == nil {
		return nil, nil, worst, nil, "no gain keeps the targets on the stiffest contact; shorten the delays, or ask for less margin"
	}
	margins, worst = p.margins(set, loop.Fine)
	if !keeps(margins, d.opt.Targets) {
		return nil, nil, worst, nil, "the margins asked for cannot be held while pressing: " + worst.Why
	}
	p.remarks(set)
	return set, margins, worst, p.predict(position, set), ""
}

// try returns the settings for one ratio of the gains, stepped back until the
// simulated force steps and approaches pass, with a cost to compare them by: the
// time to settle. It returns nil where nothing passes.
func (p *pressing) try(position *law.Position, ratio float64) (*law.Force, float64) {
	kp := p.d.opt.GainShare * p.highestGain(ratio)
	set := p.limits(position)
	for range 12 {
		set.Kp = p.d.typed.down("kp_force", kp, revPerSPerN)
		set.Ki = p.d.typed.down("ki_force", ratio*set.Kp, revPerSPerN)
		if !(set.Kp > 0) {
			return nil, 0
		}
		margins, _ := p.margins(&set, loop.Coarse)
		if keeps(margins, p.d.opt.Targets) {
			cost, fits := p.passes(position, &set)
			if fits {
				return &set, cost
			}
		}
		kp *= 0.85
	}
	return nil, 0
}

// limits returns the settings that do not depend on the gains: speed limit,
// approach and travel. The speed limit lets slip be made up at the highest
// pressing pressure and no more than the approach bears.
func (p *pressing) limits(position *law.Position) law.Force {
	m := &p.model
	high := m.PressureFor(p.chamber, p.contact.Presses.Sign()*p.limit)
	working := max(high, p.d.p.Machine.Limits.WorkingPressure)
	perPressure := m.Leakage / m.Displacement
	set := law.Force{Presses: p.contact.Presses, Period: m.ControllerPeriod}
	perTurn := m.StrokePerTurn(p.chamber)
	speed := max(holdingShare*perPressure*working, min(usualForceRPM/inRPM, p.approachBound()/perTurn))
	set.SpeedLimit = p.d.typed.up("force_speed_limit", min(speed, position.SpeedLimit), inRPM)
	set.ApproachSpeed = p.d.typed.down("approach_speed", min(p.approachBound(), set.SpeedLimit*perTurn), inMM)
	travel := 1e-3 + 2*p.limit/p.stiff[0]
	set.TravelLimit = p.d.typed.up("travel_limit", travel, inMM)
	return set
}

// approachBound returns the rod speed (m/s) at contact that passes the force
// reference by at most excessShare of the limit: by what the loop cannot stop in its
// reaction time, k_s·v·t, and by the impact of the mass, v·sqrt(k·m), whichever is
// lower. Both follow from the stiffest contact of the range.
func (p *pressing) approachBound() float64 {
	m := &p.model
	at := p.place(0.5, 1)
	area, oil := m.Area.At(p.chamber), 0.0
	compliance := m.Compliance(p.chamber, at.Position, at.Pressure)
	oil = area * area / compliance
	stiffest := p.stiff[1]
	series := oil * stiffest / (oil + stiffest)
	react := m.Drive.DeadTime + m.OuterDelay + m.ControllerPeriod + 2*m.Drive.Damping/m.Drive.NaturalFreq + m.PressureLag
	excess := excessShare * p.limit
	heaviest := m.Mass * p.d.factors[len(p.d.factors)-1]
	return min(excess/(series*react), excess/math.Sqrt(stiffest*heaviest))
}

// remarks warns of what holding a force asks of the motor and of references
// that never reach the work.
func (p *pressing) remarks(set *law.Force) {
	d, m := p.d, &p.model
	high := m.PressureFor(p.chamber, p.contact.Presses.Sign()*p.limit)
	holding := m.Leakage * high / m.Displacement
	torque := m.Displacement * high
	text := fmt.Sprintf("Holding %.3g kN turns the motor at about %.0f rpm with %.3g Nm against slip: oil and motor heat up, see the nameplates for how long.",
		p.limit*1e-3, holding*inRPM, torque)
	if least := d.p.Machine.Pump.MinSpeed; least > 0 && holding < least {
		text += fmt.Sprintf(" That is below the pump's lowest speed for continuous running, %.0f rpm.", least*inRPM)
	}
	if most := d.p.Machine.Motor.ContinuousTorque; most > 0 && torque > most {
		text += fmt.Sprintf(" That is above the motor's continuous torque of %.3g Nm.", most)
	}
	d.warn("%s", text)
	friction := max(m.Breakaway, m.Coulomb.At(p.contact.Presses))
	least := math.Abs(m.AxialLoad) + 1.2*friction
	d.warn("Force from pressures is the piston's: at the rod it is less friction, weight and inertia, so plus or minus %.2g kN between pressing up and easing off. A reference below %.2g kN can stop the rod before the work.",
		m.Coulomb.At(p.contact.Presses)*1e-3, least*1e-3)
	if need := leastHolding * m.Leakage * high / m.Displacement; set.SpeedLimit < need {
		d.warn("The speed limit in force mode, %.0f rpm, hardly covers slip at %.3g kN: the force may not be reached.", set.SpeedLimit*inRPM, p.limit*1e-3)
	}
}
