package quality

import (
	"fmt"

	"eha/strokewise/ident/motion"
	"eha/strokewise/ident/plant"
)

// The marks of what commands and contact tell.
const (
	fewLively  = 5    // changing stretches of the speed command below which nothing is told
	fewAnswers = 6    // changes of the position command for the delay of the outer loop
	leastRise  = 15e5 // Pa between the levels of pressing
	fewPeriods = 2
)

func (c *content) driveOutlook(p plant.Param) outlook {
	switch {
	case !c.command:
		return none("no log holds speed command and motor position together; log both")
	case c.periods >= fewPeriods:
		return known()
	case c.lively < fewLively:
		return none("the speed command hardly changes", byExcited...)
	case c.closed:
		return none("the loop's own commands meet friction and torque limit", byExcited...)
	case c.limited:
		return roughly("a limit of acceleration bends the drive's answer to single changes of speed", byExcited...)
	case p == plant.DeadTime:
		return known()
	}
	return roughly("single changes of speed tell the drive only roughly", byExcited...)
}

func (c *content) outerDelay() outlook {
	switch {
	case !c.loop:
		return none("no log in closed loop with its position command", motion.PositionSteps)
	case c.asked < fewAnswers:
		return roughly(fmt.Sprintf("the position command changes %d times only", c.asked), motion.PositionSteps)
	}
	return known()
}

func (c *content) contact(p plant.Param) outlook {
	switch {
	case p == plant.ContactStiffness && !c.forces:
		return none(noForces)
	case p == plant.PressingStiffness && !c.pressed:
		return none(noForces)
	case !c.areas:
		return none(noAreas)
	case c.presses == 0:
		return none("the rod presses on nothing in these logs", byPress...)
	case c.pressRise < leastRise:
		return roughly(fmt.Sprintf("the pressure changes by %.0f bar only while the rod presses: raise the force in larger steps", 1e-5*c.pressRise), byPress...)
	}
	return known()
}

func (c *content) pressureLag() outlook {
	o := c.mass()
	if t := c.transducer(); t.expect == plant.Missing {
		o = t
	}
	if o.expect == plant.Weak {
		o = none("the delay of position behind force is not told: "+o.why, o.moves...)
	}
	return o.atMostWeak("the lag is short beside the doubt of the two delays that it is the difference of")
}
