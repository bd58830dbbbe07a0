package tuning

import (
	"fmt"
	"math"

	"eha/strokewise/ident/machine"
	"eha/strokewise/ident/plant"
	"eha/strokewise/tuning/law"
	"eha/strokewise/tuning/loop"
)

// pressing is what a force loop is designed on.
type pressing struct {
	d       *design
	model   plant.Model // oil as it is at pressing pressure
	contact plant.Contact
	chamber plant.Chamber
	limit   float64 // N, size of the largest force to press with
	// low and high are the references of the standard steps, as shares of the limit.
	low, high float64
	stiff     []float64 // N/m of the contact to hold for, from soft to stiff, and +Inf for a rod that friction holds
}

// newPressing returns what pressing the logs support, or why they support none.
func (d *design) newPressing() (*pressing, string) {
	const advice = "log press_hold: press slowly on the work piece or a test spring, hold at three levels, ease off; " +
		"or state what it presses on, as position, presses and stiffness under [contact] in the machine file or as --contact-position, --contact-softest and --contact-stiffest"
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
	if c := d.model.Contact; !(c.Position > 0 && c.Position < d.model.Stroke) {
		return nil, fmt.Sprintf("the contact at %.4g mm is not within the stroke of %.4g mm; correct the position stated", c.Position*inMM, d.model.Stroke*inMM)
	}
	p := &pressing{d: d, model: d.model, contact: *d.model.Contact}
	low, high := d.contactRange()
	p.stiff = append(distinct([]float64{low, high}), math.Inf(1))
	p.chamber = carries(p.contact.Presses)
	if p.limit = d.forceLimit(p.contact.Presses); p.limit <= 0 {
		return nil, "neither a force limit nor a force while pressing is known; state limits.force in the machine file"
	}
	if gives, beyond := p.limit/p.softest(), p.model.Stroke-p.room(); gives > beyond {
		return nil, fmt.Sprintf("the softest contact to hold for, %.3g kN/mm, gives way by %.4g mm under the force limit of %s, and the stroke ends %.4g mm beyond it; state a stiffer one or a lower limits.force",
			p.softest()*1e-6, gives*inMM, p.kN(1), beyond*inMM)
	}
	p.matchOil()
	p.matchBreakaway()
	p.matchTorque()
	return p, p.pickSteps()
}

// pickSteps takes the references of the standard steps, higher where load and friction
// take so much that the lower one would not reach the work, or says why there are none.
func (p *pressing) pickSteps() string {
	least := math.Ceil(100*p.leastForce()/p.limit) / 100
	p.low = forceLow
	if least > forceLow {
		p.low = least + clearOfFriction
	}
	p.high = p.low + forceHigh - forceLow
	if p.high > runsOnReference {
		return fmt.Sprintf("load and friction take %s of the force limit of %s before the rod presses; take load off, or state a higher limits.force if the machine bears it", p.kN(least), p.kN(1))
	}
	return ""
}

// takeContact takes what the rod presses on as stated where the options do so, as
// logged, or as the machine file states it, in this order.
func (d *design) takeContact() {
	switch stated := d.p.Machine.Contact; {
	case d.opt.Contact != nil:
		d.model.Contact, d.contactStated = d.opt.Contact, true
	case d.model.Contact == nil && stated.Known():
		// Between soft and stiff: the mean of both as factors.
		c := &plant.Contact{Position: stated.Position, Stiffness: math.Sqrt(stated.Stiffness[0] * stated.Stiffness[1])}
		if stated.Retract {
			c.Presses = plant.Retract
		}
		d.model.Contact, d.contactStated = c, true
	}
}

// contactRange returns the stiffnesses (N/m) of what the rod presses on to hold for: the
// range stated, the interval of the one found, or the one stated.
func (d *design) contactRange() (low, high float64) {
	c := d.model.Contact
	for _, r := range [][2]float64{d.opt.ContactRange, d.p.Machine.Contact.Stiffness} {
		if r[1] > 0 {
			return min(r[0], c.Stiffness), max(r[1], c.Stiffness)
		}
	}
	if e := d.p.Est(plant.ContactStiffness); !d.contactStated && e.Known() && e.Low > 0 {
		return e.Low, max(e.High, e.Low)
	}
	return c.Stiffness, c.Stiffness
}

// drawnContact returns what the rod presses on in the draw of that index: as the model
// has it, the softest and the stiffest in turn.
func (d *design) drawnContact(index int) *plant.Contact {
	if d.model.Contact == nil {
		return nil
	}
	c := *d.model.Contact
	low, high := d.contactRange()
	c.Stiffness = [3]float64{c.Stiffness, low, high}[index%3]
	return &c
}

// softest and stiffest return the ends of the contact's range (N/m).
func (p *pressing) softest() float64  { return p.stiff[0] }
func (p *pressing) stiffest() float64 { return p.stiff[len(p.stiff)-2] }

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

// Breakaway over Coulomb friction as it usually is, with its standard deviation:
// common practice, no source. Starts in a log show it too low where they are quick.
const (
	usualBreakaway      = 1.4
	usualBreakawaySigma = 0.25
)

// matchBreakaway weighs a breakaway force that is only weakly known with what is
// usual, each by its variance: while pressing it decides for how long the rod sticks.
func (p *pressing) matchBreakaway() {
	e := p.d.p.Est(plant.BreakawayForce)
	if e.Status != plant.Weak || !(e.HalfWidth() > 0) {
		return
	}
	friction := p.model.Coulomb.At(p.contact.Presses)
	if friction == 0 {
		return // what is usual is a share of it
	}
	seen, usual := 1/(e.Sigma()*e.Sigma()), 1/(usualBreakawaySigma*usualBreakawaySigma*friction*friction)
	p.model.Breakaway = max(friction, (seen*e.Value+usual*usualBreakaway*friction)/(seen+usual))
}

// torqueSpare is the peak torque of a drive over what the force limit takes, where nothing better is known.
const torqueSpare = 2

// matchTorque takes the drive's torque limit, where no log met it, as the nameplate has it
// and spare over what the force limit takes: a model whose drive gives way to the force would
// hide how far an approach passes its reference.
func (p *pressing) matchTorque() {
	drive, peak := &p.model.Drive, p.d.p.Machine.Motor.PeakTorque
	if drive.AccelMet {
		return
	}
	drive.AccelLimit = max(unmetLimit*drive.AccelLimit, drive.AccelPerPressure*torqueSpare*p.holdingPressure(), drive.AccelPerPressure*peak/p.model.Displacement)
}

// place returns where and at which pressure the rod presses with the share of the force limit.
func (p *pressing) place(share, massFactor float64) loop.Place {
	force := p.sign() * share * p.limit
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
// and stuck contact, the mass range and the band of the outer delay. A rod that
// friction holds has no mass that moves, so one of them is enough there.
func (p *pressing) grid(set *law.Force) []pressPoint {
	var all []pressPoint
	for _, share := range []float64{p.low, 1} {
		for i, factor := range p.d.factors {
			at := p.place(share, factor)
			for _, stiff := range p.stiff {
				if math.IsInf(stiff, 1) && i > 0 {
					continue
				}
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

// keeps reports whether all margins meet the targets.
func keeps(margins []Margin, t law.Targets) bool {
	for _, m := range margins {
		if tightness(m, t) > 1 {
			return false
		}
	}
	return true
}
