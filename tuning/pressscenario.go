package tuning

import (
	"fmt"
	"math"
	"math/rand/v2"

	"eha/strokewise/ident/plant"
	"eha/strokewise/tuning/law"
	"eha/strokewise/tuning/sim"
)

// Times (s) of what happens while pressing: how long a force is held in a scenario and
// before contact is lost, a ramp of it takes, and a run goes on after contact is lost.
const (
	scenarioHold = 3.0
	eventHold    = 2.0
	rampTime     = 2.0
	lostTime     = 1.5
)

// pressPlay is something that happens while pressing, ready to run under settings.
type pressPlay struct {
	Scenario
	start, duration float64 // m, s
	from, to        float64 // s, between which its figures are read
	demand          func(t float64) law.Demand
	lost, next      float64 // s, when the work piece gives way, 0 for never; m, how far behind it another stands
	presses         bool    // a force is asked for and reached at the end
	before, after   float64 // forces at its beginning and end, as shares of the limit
}

// plays lists what happens while pressing with the settings, each force held for hold (s).
func (p *pressing) plays(set *law.Force, hold float64) []pressPlay {
	return []pressPlay{p.approachPlay(set, hold), p.rampPlay(set, hold), p.runsOnPlay(), p.lostPlay(set, hold, 0), p.lostPlay(set, hold, set.TravelLimit/2)}
}

func (p *pressing) kN(share float64) string { return three(share*p.limit*1e-3) + " kN" }

// approachPlay comes to the work at the approach speed, presses, steps the force up and down.
func (p *pressing) approachPlay(set *law.Force, hold float64) pressPlay {
	s := p.approaching(set, hold)
	return pressPlay{
		Scenario: Scenario{ID: "press", Title: fmt.Sprintf("Approach, press with %s, step to %s and back", p.kN(p.low), p.kN(p.high)), Force: true},
		start:    s.start, duration: s.first + 2*s.hold, from: sim.Rest, to: s.first, presses: true, after: p.low,
		demand: p.stepping(s),
	}
}

// rampPlay presses, ramps the force up and down, and lets go by the position command.
func (p *pressing) rampPlay(set *law.Force, hold float64) pressPlay {
	s := p.approaching(set, hold)
	low, rise := p.low*p.limit, (p.high-p.low)*p.limit
	ends := s.first + 2*rampTime + 2
	away, moves := sim.SmoothAt(ends, p.contact.Position+p.sign()*set.TravelLimit, s.start, set.ApproachSpeed, 20*set.ApproachSpeed, 400*set.ApproachSpeed)
	return pressPlay{
		Scenario: Scenario{ID: "press_ramp", Title: fmt.Sprintf("Press with %s, ramp to %s and back in %.2g s each, let go", p.kN(p.low), p.kN(p.high), rampTime), Force: true},
		start:    s.start, duration: ends + moves + 1, from: s.first, to: ends, before: p.low, // and no force after it
		demand: func(t float64) law.Demand {
			d := s.course(t)
			if t > ends {
				d = away(t)
			}
			d.Force = p.sign() * (low + rise*rampShare(t-s.first))
			if k := t - s.first; k > 0 && k < rampTime {
				d.ForceRate = p.sign() * rise / rampTime
			} else if k > rampTime+1 && k < 2*rampTime+1 {
				d.ForceRate = -p.sign() * rise / rampTime
			}
			return d
		},
	}
}

// rampShare is 0, rises to 1 within rampTime, stays for a second and falls again.
func rampShare(t float64) float64 {
	return min(max(t/rampTime, 0), 1) - min(max((t-rampTime-1)/rampTime, 0), 1)
}

// runsOnPlay is the worst approach: the position command stands far beyond the
// contact from the start, so that the force loop alone limits the speed, with a
// reference near the limit.
func (p *pressing) runsOnPlay() pressPlay {
	c := p.contact
	start := min(max(c.Position-p.sign()*5e-3, 0), p.model.Stroke)
	course := sim.StepAt(sim.Rest, start, c.Position+p.sign()*0.1*p.model.Stroke)
	return pressPlay{
		Scenario: Scenario{ID: "press_runs_on", Title: fmt.Sprintf("The position command runs on, press with %s", p.kN(runsOnReference)), Force: true},
		start:    start, duration: sim.Rest + 3, from: sim.Rest, to: sim.Rest + 3, presses: true, after: runsOnReference,
		demand: p.asking(course, runsOnReference),
	}
}

// lostPlay presses until the work piece gives way: the speed limit of force mode and
// the position command beyond the contact have to hold the rod. With next, another stands that far (m) behind it.
func (p *pressing) lostPlay(set *law.Force, hold, next float64) pressPlay {
	s := p.onContact(set, hold)
	play := pressPlay{
		Scenario: Scenario{ID: "contact_lost", Title: fmt.Sprintf("The work piece gives way at %s", p.kN(p.high))},
		start:    s.start, duration: hold + lostTime, from: hold, to: hold + lostTime, lost: hold, next: next, before: p.high,
		demand: p.asking(s.course, p.high),
	}
	if next > 0 {
		play.ID, play.Force, play.presses, play.after = "contact_regained", true, true, p.high
		play.Title = fmt.Sprintf("The work piece gives way at %s, another stands %s mm behind it", p.kN(p.high), three(next*inMM))
	}
	return play
}

// strike simulates that the rod meets the work at the speed limit of position mode,
// force not selected, on its way to a place well beyond.
func (p *pressing) strike(position *law.Position) sim.Run {
	c := p.contact
	start := c.Position - p.sign()*min(0.2*p.model.Stroke, 0.9*p.room())
	end := c.Position + p.sign()*0.05*p.model.Stroke
	speed := 0.9 * position.SpeedLimit * p.model.StrokePerTurn(p.chamber)
	accel := speed * position.Kp.At(c.Presses)
	course, moves := sim.SmoothAt(sim.Rest, start, end, speed, accel, accel*position.Kp.At(c.Presses))
	return sim.Do(sim.Experiment{Model: p.atStiffness(p.stiffest()), MassFactor: 1, Loops: law.Loops{Position: position}, Start: start,
		Duration: sim.Rest + moves + 0.3, All: true, Relief: p.d.p.Machine.Limits.Relief, Demand: course})
}

// room is how far (m) the rod can stand before it touches.
func (p *pressing) room() float64 {
	if p.contact.Presses == plant.Extend {
		return p.contact.Position
	}
	return p.model.Stroke - p.contact.Position
}

// asking adds a steady force reference, a share of the limit, to a course.
func (p *pressing) asking(course func(t float64) law.Demand, share float64) func(t float64) law.Demand {
	return func(t float64) law.Demand {
		d := course(t)
		d.Force = p.sign() * share * p.limit
		return d
	}
}

// play runs it on the model, friction as bristles: a rod that sticks and lets go decides
// how soft a touch is and how long a force takes to turn round. The pressures read as noisily as the logs'.
func (p *pressing) play(m *plant.Model, l law.Loops, factor float64, play pressPlay) sim.Run {
	noise := p.d.p.Seen.Noise.Pressure
	return sim.Do(sim.Experiment{Model: m, MassFactor: factor, Loops: l, Start: play.start, Duration: play.duration, Demand: play.demand,
		ContactUntil: play.lost, NextContact: play.next, All: true, Bristle: true, Relief: p.d.p.Machine.Limits.Relief,
		Sensors: sim.Sensors{PressureNoise: noise, Rand: rand.New(rand.NewPCG(3, 4))}})
}

// situations are the plays as scenarios, which settings other than the proposal's
// meet on the proposal's course.
func (p *pressing) situations(l law.Loops) []situation {
	set := l.Force
	var list []situation
	for _, play := range p.plays(set, scenarioHold) {
		begin := sim.Rest - before
		if play.lost > 0 {
			begin = play.lost - before
		}
		reference := func(t float64) float64 { return play.demand(t).Position }
		if play.Force {
			reference = func(t float64) float64 { return play.demand(t).Force }
		}
		list = append(list, situation{Scenario: play.Scenario, begin: begin, reference: reference,
			run: func(m *plant.Model, l law.Loops) sim.Run {
				pressed := p.vary(m)
				return p.play(&pressed, law.Loops{Position: l.Position, Force: sameCourse(l, set)}, 1, play)
			}})
	}
	return list
}

// sameCourse takes approach and travel limits of the proposal, so that both settings
// meet the same course, with the gains and limits of the loops run.
func sameCourse(l law.Loops, proposed *law.Force) *law.Force {
	set := *l.Force
	set.ApproachSpeed, set.TravelLimit, set.Presses = proposed.ApproachSpeed, proposed.TravelLimit, proposed.Presses
	return &set
}

// steadyTime is over how long (s) at least the rod's speed is averaged, so that the mass
// ringing on the oil does not count as travel.
const steadyTime = 0.1

// ringing returns whole periods of the mass on the oil in free travel (s), steadyTime at least.
func (p *pressing) ringing(m *plant.Model) float64 {
	pressure := m.PressureFor(p.chamber, m.SteadyForce(p.sign()*1e-3, 1))
	area := m.Area.At(p.chamber)
	period := 2 * math.Pi * math.Sqrt(m.Mass*m.Compliance(p.chamber, p.contact.Position, pressure)) / area
	return period * math.Ceil(steadyTime/period)
}

// fastest returns the largest rod speed (m/s), mean over a time (s), between two samples.
func fastest(run *sim.Run, from, to int, over float64) float64 {
	window := max(1, int(math.Round(over/run.Period)))
	most := 0.0
	for i := from + window; i < to; i++ {
		most = max(most, math.Abs(run.Position[i]-run.Position[i-window]))
	}
	return most / (float64(window) * run.Period)
}
