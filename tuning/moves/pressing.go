package moves

import (
	"math"

	"eha/strokewise/ident/motion"
	"eha/strokewise/ident/plant"
	"eha/strokewise/ident/quantity"
	"eha/strokewise/ident/trace"
)

// pressLevels are the forces of press_hold at full size, as shares of the force
// limit less what balances the load.
var pressLevels = [...]float64{0.1, 0.25, 0.5, 0.25, 0.1}

// pressHold is a staircase of force at touch, for a force loop to follow. Force
// from pressures holds the load as well: the table begins and ends where it is
// balanced, or the rod would leave the touch at once.
func (w *planner) pressHold() {
	d, limit := plant.Extend, w.machine.Limits.Force
	start := math.NaN()
	if w.plant != nil && w.plant.Model.Contact != nil {
		c := w.plant.Model.Contact
		if d, start = c.Presses, c.Position; d == plant.Retract {
			limit = w.machine.Limits.ForcePull
		}
	}
	base := w.b.balance[1]
	if d == plant.Retract {
		base = w.b.balance[0]
	}
	room := limit - d.Sign()*base
	switch {
	case limit <= 0:
		w.leave(motion.PressHold, "", "limits.force is not stated, so no force is known to be safe; leave it out where the machine presses on nothing")
		return
	case !w.b.balanced:
		w.leave(motion.PressHold, "", "the load is not known, and force from pressures holds it too; state it (load.mass with load.angle, or load.force_range) or give an earlier fit. By hand: jog into the stop at lowest speed and torque, hold some seconds, and log that")
		return
	case room < 0.2*limit:
		w.leave(motion.PressHold, "", "the load takes up to %s of limits.force, %s, and leaves too little to press with", show(d.Sign()*base, quantity.Force), show(limit, quantity.Force))
		return
	}
	const seconds, rate = 3.0, 0.1 // s at each level; share of the limit per second
	for _, size := range Sizes {
		p := &profile{period: w.b.period, accel: rate * limit, speed: []float64{base}}
		p.hold(restTime)
		for _, level := range pressLevels {
			p.ramp(base + d.Sign()*size*level*room)
			p.hold(seconds)
		}
		p.ramp(base)
		p.hold(restTime)
		w.plan.Moves = append(w.plan.Moves, Move{Kind: motion.PressHold, Size: size, Column: trace.ForceCommand, Table: p.speed, Period: w.b.period,
			Start: start, Tolerance: w.b.tolerance, Reach: [2]float64{start, start},
			Notes: []string{"needs a force loop (force from pressures) with speed and travel limits set; without one, jog into the stop by hand at lowest speed and torque, hold, and log that",
				"presses towards " + d.String() + " from " + show(base, quantity.Force) + ", which balances the load; jog to touch first, recording from before that on: pressing shows against free travel; no person may reach the place"}})
	}
}

// positionSteps steps the position command up and down, for a loop in use. The
// size is what the pressure allows if the loop answers the step with a jump of
// speed of up to fastLoop times it.
func (w *planner) positionSteps() {
	if !w.b.closed {
		w.leave(motion.PositionSteps, "", "it needs a position loop in use: plan with --command position")
		return
	}
	const fastLoop, least, repeats = 25.0, 0.3e-3, 4 // 1/s: few position loops are faster; common practice, no source
	b := w.b
	rod := min(b.Dynamic/b.impedance, b.MaxSpeed*b.PerTurn.Extend[0])
	step := min(10e-3, 0.03*b.stroke, rod/fastLoop)
	if step < least {
		w.leave(motion.PositionSteps, "", "a step that pressure allows, %s, would hardly show; use usual_run", show(step, quantity.Length))
		return
	}
	rest, up := int(1.5/b.period), 0.0
	start := (b.Low+b.High)/2 - step/2
	for _, size := range Sizes {
		table := make([]float64, 0, (2*repeats+1)*rest)
		for i := range 2*repeats + 1 {
			if up = 0; i%2 == 1 {
				up = size * step
			}
			for range rest {
				table = append(table, start+up)
			}
		}
		aside := b.tolerance + b.give + 0.5*size*step // overshoot
		w.plan.Moves = append(w.plan.Moves, Move{Kind: motion.PositionSteps, Size: size, Column: trace.PositionCommand, Table: table, Period: b.period,
			Start: start, Tolerance: b.tolerance, Reach: [2]float64{start - aside, start + size*step + aside},
			Speed: size * step * fastLoop / b.PerTurn.Extend[0], RodSpeed: size * step * fastLoop,
			Notes: []string{"sudden steps of " + show(size*step, quantity.Length) + ": the only table without ramps"}})
	}
}
