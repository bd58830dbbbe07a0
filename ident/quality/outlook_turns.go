package quality

import (
	"fmt"

	"eha/strokewise/ident/motion"
	"eha/strokewise/ident/plant"
)

// The marks of what turns and travel tell. They are those of the fit, in terms of what
// is seen in a log beforehand.
const (
	leastTravel  = 0.5  // s of travel one way for a ratio of turns and travel
	mostOfStroke = 0.3  // share of the stroke from which on stroke per turn is more than weak
	mixedShare   = 0.25 // of the travel one way with the other chamber clearly higher
	leastCarried = 0.02 // m of travel that a chamber must carry for oil of its own
	anyCarried   = 0.01 // m of it for anything
	leastAcross  = 12e5 // Pa across the pump over which slip stands out of sensors' offsets
	slipWeak     = 0.15 // half-width over slip
	slipLost     = 2.0
	slipFactor   = 1.5 // on the doubt of the plain regression, and
	slipFloor    = 0.03
	// leastLagWidth (s) is the doubt that the fit leaves of the transducer's delay at least.
	leastLagWidth, lagWeak = 0.3e-3, 0.4
)

// Moves of which each alone tells what travel tells.
var (
	byTravel  = []motion.MoveKind{motion.SlowStrokes, motion.SpeedSteps, motion.Pulses}
	byChanges = []motion.MoveKind{motion.Pulses, motion.SpeedSteps, motion.SlowStrokes}
	bySpeeds  = []motion.MoveKind{motion.SpeedSteps, motion.Pulses}
	byExcited = []motion.MoveKind{motion.Multisine}
	byPress   = []motion.MoveKind{motion.PressHold}
	byTurning = []motion.MoveKind{motion.ReversalMove}
)

func (c *content) strokeOutlook(d plant.Direction) outlook {
	t := c.turning
	by := t.carried.At(d)
	switch {
	case !c.both:
		return none(noPositions)
	case t.time.At(d) < leastTravel:
		return none(fmt.Sprintf("the rod travels for %.1f s that way only", t.time.At(d)), byTravel...)
	case !c.pressed:
		return settled("slip and compression stay in it without both pressures; log both")
	case t.seen(c) < mostOfStroke:
		return roughly(c.shortTravel(), byTravel...)
	case min(by.Cap, by.Rod) > mixedShare*(by.Cap+by.Rod):
		return settled("either side carries the load that way, and each has its own; no move parts them under this load")
	}
	return known()
}

// seen returns the share of the stroke that the travel covers.
func (t travelled) seen(c *content) float64 { return max(t.high-t.low, 0) / c.stroke }

func (c *content) shortTravel() string {
	return fmt.Sprintf("the rod travels over %.0f %% of the stroke only", 100*c.turning.seen(c))
}

func (c *content) chamberStroke(side plant.Chamber) outlook {
	own := c.turning.carriedBy(side)
	other := c.turning.carriedBy(side.Other())
	switch {
	case !c.both:
		return none(noPositions)
	case !c.pressed:
		return none("which chamber carries is not told without both pressures; log both")
	case own < anyCarried && !c.areas:
		return none("the " + side.String() + " side carries no load in these logs, and bore and rod are not stated")
	case own+other < anyCarried:
		return none(fmt.Sprintf("a chamber carries the load over %.0f mm of travel only", 1e3*(own+other)), byTravel...)
	case c.turning.seen(c) < mostOfStroke:
		return roughly(c.shortTravel(), byTravel...)
	}
	return known()
}

// carriedBy returns the travel (m) that a chamber carries, either way.
func (t travelled) carriedBy(side plant.Chamber) float64 {
	return t.carried.Extend.At(side) + t.carried.Retract.At(side)
}

func (c *content) slipOutlook() outlook {
	doubt := slipFactor*c.slipShare + slipFloor
	switch {
	case !c.both:
		return none(noPositions)
	case !c.pressed:
		return none(noPressures)
	case c.across == 0:
		return none("the pressures never differ by 4 bar for long: hold under load", byPress...)
	case doubt > slipLost:
		return none(fmt.Sprintf("%.0f bar across the pump lose too few turns to be told: hold under load", 1e-5*c.across), byPress...)
	case c.across < leastAcross:
		return roughly(fmt.Sprintf("the pressure difference is %.0f bar only: hold under load", 1e-5*c.across), byPress...)
	case doubt > slipWeak:
		return roughly(fmt.Sprintf("turns lost to slip are told to some %.0f %% only: travel at other speeds under the same pressure", 100*doubt), motion.SpeedSteps, motion.SlowStrokes, motion.PressHold)
	}
	return known()
}

func (c *content) lostMotion() outlook {
	switch {
	case !c.both:
		return none(noPositions)
	case c.swings.Extend > 0 && c.swings.Retract > 0:
		return known()
	case c.swings.Extend+c.swings.Retract > 0 && c.pressed:
		return known()
	case c.swings.Extend+c.swings.Retract > 0:
		return roughly("the rod turns back one way only, and slip is in it", byTurning...)
	case c.pressed && c.areas && c.friction().expect >= plant.Weak:
		return roughly("no slow turning back in the logs: it follows from friction and oil alone", byTurning...)
	}
	return none("no slow turning back in the logs", byTurning...)
}

func (c *content) transducer() outlook {
	switch {
	case !c.both:
		return none(noPositions)
	case c.turning.time.Extend+c.turning.time.Retract < leastTravel:
		return none("the rod hardly travels", byChanges...)
	case !c.pressed:
		return settled("the oil's lag is in it without both pressures; log both")
	case c.lag.told() && max(c.lag.width, leastLagWidth) > lagWeak*c.lag.value:
		return settled(fmt.Sprintf("it is short, some %.1f ms, beside the doubt of %.1f ms", 1e3*max(c.lag.value, 0), 1e3*max(c.lag.width, leastLagWidth)))
	}
	return known()
}
