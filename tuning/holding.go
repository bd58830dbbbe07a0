package tuning

import (
	"fmt"
	"math"

	"eha/strokewise/ident/plant"
	"eha/strokewise/tuning/law"
)

// remarks warns of what holding a force asks of the motor, of references that
// never reach the work or pass the limit, and of a hand-over that chatters.
func (p *pressing) remarks(position *law.Position, set *law.Force) {
	if p.d.contactStated {
		p.d.warn("What the rod presses on is stated, not logged: its stiffness decides gains and approach; log press_hold before full force.")
	}
	p.remarkHolding(set)
	p.remarkDoubt()
	p.remarkLoad(set)
	p.remarkStrike(position, set)
	p.remarkThrown(position, set)
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
	if most := p.d.pressureLimit(); most > 0 && p.holdingPressure() > most {
		p.d.warn("The force limit of %s asks for %.0f bar, above the pressure limit of %.0f bar: that guard trips first. State a limits.force of at most %.3g kN.",
			p.kN(1), p.holdingPressure()*1e-5, most*1e-5, (most-p.model.LowPressure)*p.model.Area.At(p.chamber)*1e-3)
	}
	if set.SpeedLimit < leastHolding*holding {
		p.d.warn("The speed limit in force mode, %.0f rpm, hardly covers slip at %.3g kN: the force may not be reached.", set.SpeedLimit*inRPM, p.limit*1e-3)
	}
}

// remarkLoad says what a load does to the force at the work, and what a reference that
// it exceeds does to the rod: the law bounds its speed, not its way.
func (p *pressing) remarkLoad(set *law.Force) {
	if p.low > forceLow {
		p.d.warn("Load and friction take %.3g kN before the rod presses, more than %.0f %% of the force limit: the standard force steps are predicted from %s to %s instead.",
			p.leastForce()*1e-3, 100*forceLow, p.kN(p.low), p.kN(p.high))
	}
	along, easing := p.sign()*p.model.AxialLoad, plant.Retract
	if p.contact.Presses == plant.Retract {
		easing = plant.Extend
	}
	back := -along - p.model.Coulomb.At(easing)
	switch {
	case along > 0:
		p.d.warn("The load pushes the way the rod presses: the work piece feels up to %.3g kN more than the piston's force, so a limit that is meant at the work piece asks for references below %.3g kN. When contact is lost the load pulls the rod on until the other chamber holds it, and no loop prevents that.",
			along*1e-3, (p.limit-along)*1e-3)
	case back > 0:
		p.d.warn("A force reference below %.3g kN is less than the load: the force loop then drives the rod back at up to %s mm/s for as long as it is asked for, and the position loop does not stop it. Keep the force reference above that whenever force is selected.",
			back*1e-3, three(p.limitSpeed(set)*inMM))
	}
}

// remarkStrike says what happens where the rod meets the work in the middle of a move,
// force not selected: the position loop pushes for as long as it is not there.
func (p *pressing) remarkStrike(position *law.Position, set *law.Force) {
	run := p.strike(position)
	most := p.peak(&run, 1)
	if most <= p.limit {
		return
	}
	p.d.warn("Meeting the work piece in a fast move with force not selected, the force reaches %.3g kN in simulation, above the limit of %.3g kN: only relief valve and torque limit stop it. Select force before the rod is within reach of the work; its speed limit then holds the rod to %s mm/s.",
		most*1e-3, p.limit*1e-3, three(p.limitSpeed(set)*inMM))
}

// behind is how far (m) behind a work piece that gives way another one is worst: the
// oil's expansion has thrown the rod, and no loop has caught it yet.
const behind = 0.5e-3

// remarkThrown says so where a rod that is thrown by the oil's expansion hits something harder than the force limit.
func (p *pressing) remarkThrown(position *law.Position, set *law.Force) {
	heaviest := p.d.factors[len(p.d.factors)-1]
	run := p.play(p.atStiffness(p.stiffest()), law.Loops{Position: position, Force: set}, heaviest, p.lostPlay(set, eventHold, behind))
	if most := p.peak(&run, heaviest); most > p.limit {
		p.d.warn("Where the work piece gives way at %s and the rod meets another one %.2g mm behind it, the thrown mass hits that with %.3g kN in simulation, above the limit of %.3g kN: no loop acts in that time. Press with less where the work can break through.",
			p.kN(p.high), behind*inMM, most*1e-3, p.limit*1e-3)
	}
}

// leastForce returns the reference (N) that surely takes the rod to the work: load and breakaway friction.
func (p *pressing) leastForce() float64 {
	m := &p.model
	return max(-p.sign()*m.AxialLoad, 0) + 1.2*max(m.Breakaway, m.Coulomb.At(p.contact.Presses))
}

// remarkDoubt says how far the piston's force is from the rod's, and from which reference on the work is reached.
func (p *pressing) remarkDoubt() {
	p.d.warn("Force from pressures is the piston's: at the rod it is less friction, weight and inertia, so plus or minus %.2g kN between pressing up and easing off. A reference below %.2g kN can stop the rod before the work. Each bar that a pressure sensor reads wrong puts the force wrong by %.2g kN on the cap side, %.2g kN on the rod side: set both to zero with the pressure let off.",
		p.model.Coulomb.At(p.contact.Presses)*1e-3, p.leastForce()*1e-3, p.model.Area.Cap*1e5*1e-3, p.model.Area.Rod*1e5*1e-3)
	if off := p.d.p.Seen.CellOffset; off != [3]float64{} {
		p.d.warn("By the load cell logged, the piston's force is %.3g kN more than the rod's while pressing up and %.3g kN while easing off: friction of %.2g kN either way, %.2g kN in slow travel, about %.3g kN of load, weight and sensors' zeros, of which the load found in travel is %.3g kN. Add the first to a force reference that is meant at the rod.",
			off[2]*1e-3, off[0]*1e-3, math.Abs(off[2]-off[0])/2*1e-3, p.model.Coulomb.At(p.contact.Presses)*1e-3, off[1]*1e-3, -p.model.AxialLoad*1e-3)
	}
}

// remarkChatter looks for a hand-over that goes to and fro, on the way and while the
// force should be held, and states what cures it. On the way it does where both loops ask
// for the same speed: at the reference that exceeds the force of free travel by the approach speed over kp.
func (p *pressing) remarkChatter(position *law.Position, set *law.Force) {
	m := p.atStiffness(p.stiffest())
	play := p.approachPlay(set, trialHold)
	worst := min(max(p.evenForce(set), p.leastForce()), runsOnReference*p.limit)
	play.demand = p.asking(p.approaching(set, trialHold).course, worst/p.limit)
	play.duration = play.to
	run := p.play(m, law.Loops{Position: position, Force: set}, 1, play)
	held := int((play.to - chatterTime) / run.Period)
	cure := fmt.Sprintf("a hysteresis of %.2g kN in force, which is friction both ways and sensor noise, and a dwell of %.2g s",
		(2*m.Coulomb.At(p.contact.Presses)+3*p.forceNoise())*1e-3, 3/p.slowestLoop(position, set))
	if n := switches(run.InForce[held:]); n > 1 {
		p.d.warn("The loops hand over %d times in %.2g s while a force is held in simulation. Give the selection %s.", n, chatterTime, cure)
	} else if n := switches(run.InForce[:held]); n > usualHandOvers {
		p.d.warn("On the way to the work the loops hand over %d times in simulation with a force reference of %.3g kN, where both ask for the approach speed; the command does not jump, and the force loop leads once the work is touched. A controller that can may give the selection %s.", n, worst*1e-3, cure)
	}
}

// usualHandOvers is how often the loops may hand over on the way to the work: at the
// start, back to the position loop as the force integral grows, and at the touch.
const usualHandOvers = 5

// evenForce returns the reference (N) at which the force loop asks for the approach speed in free travel.
func (p *pressing) evenForce(set *law.Force) float64 {
	m := &p.model
	free := p.sign() * m.SteadyForce(p.sign()*set.ApproachSpeed, 1)
	return free + set.ApproachSpeed/m.StrokePerTurn(p.chamber)/set.Kp
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
