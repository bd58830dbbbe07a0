package tuning

import (
	"fmt"
	"math"

	"eha/strokewise/tuning/law"
)

// remarks warns of what holding a force asks of the motor, of references that
// never reach the work or pass the limit, and of a hand-over that chatters.
func (p *pressing) remarks(position *law.Position, set *law.Force) {
	if p.d.opt.Contact != nil {
		p.d.warn("What the rod presses on is stated, not logged: its stiffness decides gains and approach; log press_hold before full force.")
	}
	p.remarkHolding(set)
	p.remarkDoubt()
	if most := p.hardest(position, set); most > p.limit {
		p.d.warn("With a force reference of %.0f %% of the limit and a position command that runs on, the force peaks at %.3g kN in simulation, above the limit of %.3g kN: keep references below %.3g kN, or approach in position mode.",
			100*runsOnReference, most*1e-3, p.limit*1e-3, p.limit*p.limit*runsOnReference/most*1e-3)
	}
	p.remarkChatter(position, set)
}

// remarkHolding says what motor speed and torque the largest force takes for as long as it is held.
func (p *pressing) remarkHolding(set *law.Force) {
	file := &p.d.p.Machine
	holding, torque := p.holdingSpeed(), p.model.Displacement*p.holdingPressure()
	text := fmt.Sprintf("Holding %.3g kN turns the motor at about %.0f rpm with %.3g Nm against slip: oil and motor heat up by %.2g kW for as long as it lasts.",
		p.limit*1e-3, holding*inRPM, torque, holding*torque*1e-3)
	if least := file.Pump.MinSpeed; least > 0 && holding < least {
		text += fmt.Sprintf(" That is below the pump's lowest speed for continuous running, %.0f rpm.", least*inRPM)
	}
	if most := file.Motor.ContinuousTorque; most > 0 && torque > most {
		text += fmt.Sprintf(" That is above the motor's continuous torque of %.3g Nm: hold it for short times only, as the nameplates allow.", most)
	}
	p.d.warn("%s", text)
	if set.SpeedLimit < leastHolding*holding {
		p.d.warn("The speed limit in force mode, %.0f rpm, hardly covers slip at %.3g kN: the force may not be reached.", set.SpeedLimit*inRPM, p.limit*1e-3)
	}
}

// leastForce returns the reference (N) that surely takes the rod to the work: load and breakaway friction.
func (p *pressing) leastForce() float64 {
	m := &p.model
	return max(-p.sign()*m.AxialLoad, 0) + 1.2*max(m.Breakaway, m.Coulomb.At(p.contact.Presses))
}

// remarkDoubt says how far the piston's force is from the rod's, and from which reference on the work is reached.
func (p *pressing) remarkDoubt() {
	p.d.warn("Force from pressures is the piston's: at the rod it is less friction, weight and inertia, so plus or minus %.2g kN between pressing up and easing off. A reference below %.2g kN can stop the rod before the work.",
		p.model.Coulomb.At(p.contact.Presses)*1e-3, p.leastForce()*1e-3)
	if off := p.d.p.Seen.CellOffset; off != [3]float64{} {
		p.d.warn("By the load cell logged, the piston's force is %.3g kN more than the rod's, between %.3g and %.3g kN: add that to a force reference that is meant at the rod.",
			off[1]*1e-3, off[0]*1e-3, off[2]*1e-3)
	}
}

// remarkChatter looks for a hand-over that goes to and fro while the force should
// be held, and states what cures it. On the way there both loops may ask for the same speed, and
// which of them leads for a moment means nothing.
func (p *pressing) remarkChatter(position *law.Position, set *law.Force) {
	m := p.atStiffness(p.stiffest())
	story := p.approaching(set, trialHold)
	run := p.run(m, set, law.Loops{Position: position, Force: set}, story)
	held := run.InForce[run.up-int(chatterTime/run.Period) : run.up]
	if n := switches(held); n > 1 {
		noise := 3 * p.d.p.Seen.Noise.Pressure * (m.Area.Cap + m.Area.Rod)
		p.d.warn("The loops hand over %d times in %.2g s while a force is held in simulation. Give the selection a hysteresis of %.2g kN in force, which is friction both ways and sensor noise, and a dwell of %.2g s.",
			n, chatterTime, (2*m.Coulomb.At(p.contact.Presses)+noise)*1e-3, 3/p.slowestLoop(position, set))
	}
}

// chatterTime is how long (s) a held force is watched for hand-overs.
const chatterTime = 1.0

// slowestLoop returns the crossover (rad/s) of the slower of both loops.
func (p *pressing) slowestLoop(position *law.Position, set *law.Force) float64 {
	m := &p.model
	at := p.place(0.5, 1)
	area := m.Area.At(p.chamber)
	oil := area * area / m.Compliance(p.chamber, at.Position, at.Pressure)
	series := oil * p.contact.Stiffness / (oil + p.contact.Stiffness)
	return math.Min(set.Kp*m.Displacement*series/area, min(position.Kp.Extend, position.Kp.Retract))
}

// switches counts how often the loop in charge changes.
func switches(inForce []bool) int {
	n := 0
	for i := 1; i < len(inForce); i++ {
		if inForce[i] != inForce[i-1] {
			n++
		}
	}
	return n
}
