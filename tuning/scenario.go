package tuning

import (
	"fmt"
	"math"

	"eha/strokewise/ident/plant"
	"eha/strokewise/tuning/law"
	"eha/strokewise/tuning/sim"
)

// situations lists what the proposal can be run through.
func (d *design) situations(t *Proposal) []situation {
	if t.Loops.Position == nil {
		return nil
	}
	list := []situation{d.stepSituation(*t.Loops.Position, plant.Extend), d.stepSituation(*t.Loops.Position, plant.Retract),
		d.moveSituation(*t.Loops.Position)}
	if d.p.AreasKnown && d.p.PressuresSeen { // without areas a force means nothing, without pressures slip is not known
		list = append(list, d.kickSituation(*t.Loops.Position))
	}
	if t.Loops.Force != nil {
		if p, why := d.newPressing(); why == "" {
			list = append(list, p.situations(t.Loops)...)
		}
	}
	return list
}

// before is how much (s) of the rest before an event a course shows.
const before = 0.05

// free runs an experiment clear of any contact with every channel kept.
func (d *design) free(m *plant.Model, l law.Loops, e sim.Experiment) sim.Run {
	clear := clearOf(*m)
	e.Model, e.MassFactor, e.Loops, e.All, e.Relief = &clear, 1, law.Loops{Position: l.Position}, true, d.p.Machine.Limits.Relief
	return sim.Do(e)
}

func (d *design) stepSituation(set law.Position, dir plant.Direction) situation {
	from, to := stepEnds(&d.model, dir, d.clearPlace())
	demand := sim.StepAt(sim.Rest, from, to)
	duration := sim.Rest + min(stepTime(&set), 6)
	return situation{
		Scenario: Scenario{ID: stepID(dir), Title: fmt.Sprintf("Step of %.3g mm, %sing", math.Abs(to-from)*inMM, dir)},
		begin:    sim.Rest, duration: duration, from: from, to: to,
		reference: func(t float64) float64 { return demand(t).Position },
		run: func(m *plant.Model, l law.Loops) sim.Run {
			return d.free(m, l, sim.Experiment{Start: from, Duration: duration, Demand: demand})
		},
	}
}

// moveSituation is a smooth move over two fifths of the stroke and back at 60 % of the speed limit.
func (d *design) moveSituation(set law.Position) situation {
	room := 0.4 * d.model.Stroke
	high := min(0.5*d.model.Stroke+room/2, d.places[len(d.places)-1])
	if c := d.model.Contact; c != nil && c.Presses == plant.Extend {
		high = min(high, c.Position-stepSize(&d.model))
	}
	low := max(high-room, d.places[0])
	if c := d.model.Contact; c != nil && c.Presses == plant.Retract {
		low = max(low, c.Position+stepSize(&d.model))
	}
	speed := 0.6 * set.SpeedLimit * min(d.model.StrokePerTurn(plant.Cap), d.model.StrokePerTurn(plant.Rod))
	if limit := d.p.Machine.Limits.Speed; limit > 0 {
		speed = min(speed, limit)
	}
	accel := speed * min(set.Kp.Extend, set.Kp.Retract) / 2
	jerk := accel * min(set.Kp.Extend, set.Kp.Retract)
	out, moves := sim.SmoothAt(sim.Rest, low, high, speed, accel, jerk)
	turn := sim.Rest + moves + 0.5
	back, _ := sim.SmoothAt(turn, high, low, speed, accel, jerk)
	demand := func(t float64) law.Demand {
		if t < turn {
			return out(t)
		}
		return back(t)
	}
	duration := turn + moves + 1
	return situation{
		Scenario: Scenario{ID: "move", Title: fmt.Sprintf("Smooth move of %.0f mm out and back at %s mm/s", (high-low)*inMM, three(speed*inMM))},
		begin:    sim.Rest - before, duration: duration,
		reference: func(t float64) float64 { return demand(t).Position },
		run: func(m *plant.Model, l law.Loops) sim.Run {
			return d.free(m, l, sim.Experiment{Start: low, Duration: duration, Demand: demand})
		},
	}
}

// kickOverFriction is the least kick as a multiple of the Coulomb friction.
const kickOverFriction = 4

// kickSituation is a load that comes and goes while the rod holds its place: a tenth
// of the force limit, and enough against friction that what happens does not hang on
// how the rod came to rest.
func (d *design) kickSituation(set law.Position) situation {
	force := max(0.1*d.forceLimit(plant.Extend), kickOverFriction*max(d.model.Coulomb.Extend, d.model.Coulomb.Retract))
	x := d.clearPlace()
	hold := min(stepTime(&set), 3)
	demand := sim.StepAt(0, x, x)
	on, off := sim.KickAt(sim.Rest, -force), sim.KickAt(sim.Rest+hold, force)
	load := func(t float64) float64 { return on(t) + off(t) }
	duration := sim.Rest + 2*hold
	return situation{
		Scenario: Scenario{ID: "kick", Title: fmt.Sprintf("Load of %.3g kN comes and goes", force*1e-3)},
		begin:    sim.Rest - before, duration: duration,
		reference: func(float64) float64 { return x },
		load:      load,
		run: func(m *plant.Model, l law.Loops) sim.Run {
			return d.free(m, l, sim.Experiment{Start: x, Duration: duration, Demand: demand, Load: load})
		},
	}
}
