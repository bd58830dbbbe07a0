package quality

import (
	"fmt"
	"math"

	"eha/strokewise/ident/motion"
	"eha/strokewise/ident/plant"
)

// The marks of what the balance of forces tells.
const (
	leastEven    = 0.2   // s of even travel each way for the fit to tell anything
	enoughEven   = 3.0   // s of it for more than roughly
	fewSeconds   = 8     // of the log in which there must be some
	speedsApart  = 2.8   // largest over smallest speed that part Coulomb from viscous friction
	leastApart   = 2.0   // below that nothing does
	dampingApart = 4.5   // and that part what damps from friction
	zeroSigma    = 0.8e5 // Pa, of a pressure sensor's zero: a usual industrial sensor (common practice, no source)
	leastLoad    = 5.0   // load over the doubt that the sensors' zeros leave
)

// balance is the outlook of what needs force and travel both ways.
func (c *content) balance() outlook {
	e := c.pushing.even
	switch {
	case !c.forces && !c.load:
		return none(noForces)
	case c.forces && !c.areas && !c.load:
		return none(noAreas)
	case min(e.Extend, e.Retract) < leastEven:
		return none(fmt.Sprintf("the rod travels evenly for %.1f s outwards and %.1f s inwards only", e.Extend, e.Retract), motion.SpeedSteps, motion.SlowStrokes, motion.Pulses)
	case min(e.Extend, e.Retract) < enoughEven || c.pushing.seconds < fewSeconds:
		return roughly(fmt.Sprintf("the rod travels evenly for %.1f s outwards and %.1f s inwards only", e.Extend, e.Retract), motion.SpeedSteps, motion.Pulses, motion.SlowStrokes)
	}
	return known()
}

func (c *content) friction() outlook {
	o := c.balance()
	if o.expect == plant.Missing {
		return o
	}
	switch ratio := c.pushing.fast / c.pushing.slow; {
	case ratio < leastApart:
		return none(fmt.Sprintf("the speeds lie within a factor of %.1f", ratio), bySpeeds...)
	case ratio < speedsApart:
		return roughly(fmt.Sprintf("the speeds lie within a factor of %.1f", ratio), bySpeeds...)
	}
	return o
}

// start is the outlook of what friction does at rest and close to it: slow travel shows
// it against faster travel.
func (c *content) start() outlook {
	const never = "seals bend differently at every start: no log tells it better than roughly"
	o := c.friction()
	if o.expect == plant.Weak {
		o = none("friction of slow travel has nothing faster to stand out from: "+o.why, o.moves...)
	}
	return o.atMostWeak(never)
}

func (c *content) mass() outlook {
	switch t := c.pushing; {
	case !c.forces && !c.load:
		return none(noForces)
	case c.forces && !c.areas && !c.load:
		return none(noAreas)
	case t.even.Extend+t.even.Retract < leastEven:
		return none("no change of speed in motion is in the logs", byChanges...)
	case t.even.Extend+t.even.Retract < enoughEven || t.seconds < fewSeconds:
		return roughly(fmt.Sprintf("there are %.1f s of even travel only", t.even.Extend+t.even.Retract), byChanges...)
	}
	return known()
}

func (c *content) axialLoad() outlook {
	o := c.balance()
	if o.expect == plant.Missing {
		return o
	}
	load := math.Abs(c.pushing.force.Extend+c.pushing.force.Retract) / 2
	if doubt := zeroSigma * math.Hypot(c.areaCap, c.areaRod); load < leastLoad*doubt {
		return settled(fmt.Sprintf("the load is small, %.1f kN, beside what the zeros of the pressure sensors leave open, %.1f kN; no move tells it better", 1e-3*load, 1.96e-3*doubt))
	}
	return known()
}

// oil is the outlook of a chamber's compliance and modulus.
func (c *content) oil(side plant.Chamber) outlook {
	own, other := c.turning.carriedBy(side), c.turning.carriedBy(side.Other())
	switch {
	case !c.both:
		return none(noPositions)
	case !c.pressed:
		return none(noPressures)
	case !c.areas:
		return none(noAreas)
	case own+other < leastCarried:
		return none("no chamber carries the load over any travel in these logs", byChanges...)
	case own < leastCarried:
		return roughly("the " + side.String() + " side hardly carries a load in these logs: its oil is taken from the other side")
	}
	return known()
}

// eitherOil is the outlook of the modulus of the chamber that carries.
func (c *content) eitherOil() outlook {
	cap, rod := c.oil(plant.Cap), c.oil(plant.Rod)
	e, r := c.turning.carried.Extend, c.turning.carried.Retract
	if (e.Cap-e.Rod)*(r.Cap-r.Rod) < 0 && min(cap.expect, rod.expect) >= plant.Weak {
		return known().atMostWeak("the two chambers carry in turn, and either may be meant")
	}
	if c.turning.carriedBy(plant.Rod) > c.turning.carriedBy(plant.Cap) {
		return rod
	}
	return cap
}

// enoughBlind (s) is the travel from which turns and travel alone tell the resonance.
const enoughBlind = 60.0

func (c *content) frequency() outlook {
	time := c.turning.time.Extend + c.turning.time.Retract
	switch {
	case !c.both:
		return none(noPositions)
	case time < leastTravel:
		return none("nothing in the logs excites the resonance", byChanges...)
	case c.pressed && c.areas:
		mass := c.mass()
		if oil := c.eitherOil(); oil.expect < mass.expect && oil.best == plant.Identified {
			return oil
		}
		return mass
	case time < enoughBlind:
		return roughly(fmt.Sprintf("%.0f s of travel tell it only roughly without both pressures, bore and rod; log the pressures", time), byChanges...)
	}
	return known()
}

func (c *content) damping() outlook {
	o := c.frequency()
	e := c.turning.even
	switch {
	case !c.pressed || !c.areas:
		return o.atMostWeak("without pressures and areas it is not told from the transducer's delay")
	case o.expect == plant.Identified && c.turning.fast/c.turning.slow < dampingApart:
		return roughly(fmt.Sprintf("the speeds lie within a factor of %.1f", c.turning.fast/c.turning.slow), motion.SpeedSteps, motion.Pulses, motion.Multisine)
	case o.expect == plant.Identified && min(e.Extend, e.Retract) < enoughEven:
		return roughly("there is little even travel both ways", bySpeeds...)
	}
	return o
}
