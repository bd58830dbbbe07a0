package tuning

import (
	"math"

	"eha/strokewise/ident/plant"
	"eha/strokewise/tuning/law"
	"eha/strokewise/tuning/sim"
)

// eventDraws is the number of models drawn for an event's bands.
const eventDraws = 4

// What the model itself may be off by in an event, on top of the draws: found by
// prediction against achievement on simulated machines.
const (
	peakFloor   = 0.02   // of the force limit
	restFloor   = 0.2e-3 // m
	turnFloor   = 2      // hand-overs
	countFloor  = 1
	thrownFloor = 0.15 // of the figure
)

// pressFigures are those of one run of an event, in the order of PressEvent's bands.
type pressFigures struct{ force, work, speed, thrown, off, rests, handOvers, bounces float64 }

// events predicts what happens while pressing, beside the standard steps.
func (p *pressing) events(l law.Loops) []PressEvent {
	plays := p.plays(l.Force, eventHold)
	plays[0].duration = plays[0].to // the steps are predicted on their own
	models := []plant.Model{*p.atStiffness(p.contact.Stiffness)}
	for i := range p.d.draws[:min(eventDraws, len(p.d.draws))] {
		models = append(models, p.vary(&p.d.draws[i]))
	}
	n := len(models)
	all := make([]pressFigures, len(plays)*n)
	sim.Each(len(all), func(i int) {
		play := plays[i/n]
		run := p.play(&models[i%n], l, 1, play)
		all[i] = p.measure(&run, &models[i%n], play)
	})
	var list []PressEvent
	for i, play := range plays {
		list = append(list, p.event(l.Force, play, all[i*n:(i+1)*n]))
	}
	return list
}

// measure reads a run's figures: the force error over the ramp, or at the end, and the
// speed from when the oil has expanded where contact is lost.
func (p *pressing) measure(run *sim.Run, m *plant.Model, play pressPlay) pressFigures {
	sample := func(t float64) int { return min(int(math.Round(t/run.Period)), len(run.Force)-1) }
	from, to := sample(play.from), sample(play.to)
	last := len(run.Force) - 1
	f := pressFigures{rests: p.sign() * (run.Position[last] - m.Contact.Position), handOvers: float64(switches(run.InForce[from:]))}
	for i := from; i <= last; i++ {
		f.force, f.work = max(f.force, p.sign()*run.Force[i]), max(f.work, run.Contact[i])
		f.thrown = max(f.thrown, math.Abs(run.Speed[i]))
		if run.Contact[i] == 0 && run.Contact[i-1] > 0 {
			f.bounces++
		}
	}
	off := func(i int) float64 {
		return math.Abs(play.demand(float64(i)*run.Period).Force - run.Force[i])
	}
	switch {
	case play.presses:
		f.off = off(to - 1) // at the last sample another force may be asked for
	case play.lost == 0:
		for i := from; i < to; i++ {
			f.off = max(f.off, off(i))
		}
		f.bounces = 0 // it lets go on purpose
	}
	ringing := p.ringing(m)
	if play.lost > 0 {
		f.bounces = max(f.bounces-1, 0) // the loss itself
		from = sample(play.lost + ringing)
	}
	f.speed = fastest(run, from, last, ringing)
	return f
}

// event gathers the figures of the model's own run, the first, and of the draws'.
func (p *pressing) event(set *law.Force, play pressPlay, all []pressFigures) PressEvent {
	figure := func(floor float64, of func(*pressFigures) float64) Range {
		v := of(&all[0])
		r := Range{v, v - floor, v + floor}
		for i := range all {
			r.Low, r.High = min(r.Low, of(&all[i])), max(r.High, of(&all[i]))
		}
		return r
	}
	positive := func(r Range) Range { r.Low = max(r.Low, 0); return r }
	e := PressEvent{Scenario: play.Scenario, Direction: p.contact.Presses, From: p.sign() * play.before * p.limit, To: p.sign() * play.after * p.limit}
	e.PeakForce = positive(figure(peakFloor*p.limit, func(f *pressFigures) float64 { return f.force }))
	e.PeakWork = positive(figure(peakFloor*p.limit, func(f *pressFigures) float64 { return f.work }))
	e.RodSpeed = positive(figure(speedFloor*all[0].speed, func(f *pressFigures) float64 { return f.speed }))
	if play.lost > 0 {
		// How soon the position loop takes over hangs on friction: the speed limit bounds it.
		e.RodSpeed.Low, e.RodSpeed.High = 0, max(e.RodSpeed.High, p.limitSpeed(set))
	}
	e.Thrown = positive(figure(thrownFloor*all[0].thrown, func(f *pressFigures) float64 { return f.thrown }))
	e.Error = positive(figure(peakFloor*p.limit, func(f *pressFigures) float64 { return f.off }))
	e.Rests = figure(restFloor, func(f *pressFigures) float64 { return f.rests })
	e.HandOvers = positive(figure(turnFloor, func(f *pressFigures) float64 { return f.handOvers }))
	e.Bounces = positive(figure(countFloor, func(f *pressFigures) float64 { return f.bounces }))
	return e
}

// limitSpeed returns the rod speed (m/s) at the speed limit of force mode, slip left out.
func (p *pressing) limitSpeed(set *law.Force) float64 {
	return set.SpeedLimit * p.model.StrokePerTurn(p.chamber)
}
