package tuning

import (
	"fmt"

	"eha/strokewise/ident/plant"
	"eha/strokewise/tuning/law"
	"eha/strokewise/tuning/sim"
)

// Times (s) of the scenarios that press: how long each force lasts, and a ramp of it takes.
const (
	scenarioHold = 3.0
	rampTime     = 2.0
)

// situation is the approach to the contact, a force step up and one down.
func (p *pressing) situation(l law.Loops) situation {
	set := l.Force
	story := p.approaching(set, scenarioHold)
	up := story.first
	down := up + story.hold
	return situation{
		Scenario: Scenario{ID: "press", Title: fmt.Sprintf("Approach, press with %.3g kN, step to %.3g kN and back", forceLow*p.limit*1e-3, forceHigh*p.limit*1e-3), Force: true},
		begin:    sim.Rest - before,
		reference: func(t float64) float64 {
			if t >= up && t < down {
				return p.sign() * forceHigh * p.limit
			}
			return p.sign() * forceLow * p.limit
		},
		run: func(m *plant.Model, l law.Loops) sim.Run {
			pressed := p.pressed(m)
			return p.run(&pressed, set, law.Loops{Position: l.Position, Force: sameCourse(l, set)}, story).Run
		},
	}
}

// pressed returns the design's own model or a drawn one, ready to press.
func (p *pressing) pressed(m *plant.Model) plant.Model {
	if m == &p.d.model {
		return *p.atStiffness(p.contact.Stiffness)
	}
	return p.vary(m)
}

// rampSituation presses, ramps the force up and down, and lets go by the position command.
func (p *pressing) rampSituation(l law.Loops) situation {
	set := l.Force
	s := p.approaching(set, scenarioHold)
	low, rise := forceLow*p.limit, (forceHigh-forceLow)*p.limit
	ends := s.first + 2*rampTime + 2
	away, moves := sim.SmoothAt(ends, p.contact.Position+p.sign()*set.TravelLimit, s.start, set.ApproachSpeed, 20*set.ApproachSpeed, 400*set.ApproachSpeed)
	demand := func(t float64) law.Demand {
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
	}
	return situation{
		Scenario:  Scenario{ID: "press_ramp", Title: fmt.Sprintf("Press with %.3g kN, ramp to %.3g kN and back in %.2g s each, let go", low*1e-3, (low+rise)*1e-3, rampTime), Force: true},
		begin:     sim.Rest - before,
		reference: func(t float64) float64 { return demand(t).Force },
		run: func(m *plant.Model, l law.Loops) sim.Run {
			pressed := p.pressed(m)
			return sim.Do(sim.Experiment{Model: &pressed, MassFactor: 1, Loops: law.Loops{Position: l.Position, Force: sameCourse(l, set)},
				Start: s.start, Duration: ends + moves + 1, Demand: demand, All: true, Relief: p.d.p.Machine.Limits.Relief})
		},
	}
}

// rampShare is 0, rises to 1 within rampTime, stays for a second and falls again.
func rampShare(t float64) float64 {
	return min(max(t/rampTime, 0), 1) - min(max((t-rampTime-1)/rampTime, 0), 1)
}

// lostSituation presses until the work piece gives way: the speed limit of force
// mode and the position command beyond the contact have to hold the rod.
func (p *pressing) lostSituation(l law.Loops) situation {
	set := l.Force
	return situation{
		Scenario:  Scenario{ID: "contact_lost", Title: fmt.Sprintf("The work piece gives way at %.3g kN", forceHigh*p.limit*1e-3)},
		begin:     scenarioHold - before,
		reference: func(float64) float64 { return p.contact.Position + p.sign()*max(set.TravelLimit, 1e-3) },
		run: func(m *plant.Model, l law.Loops) sim.Run {
			pressed := p.pressed(m)
			return p.loses(&pressed, set, law.Loops{Position: l.Position, Force: sameCourse(l, set)}, scenarioHold)
		},
	}
}

// loses simulates that the contact gives way at a time (s) while it is pressed with the higher force.
func (p *pressing) loses(m *plant.Model, set *law.Force, l law.Loops, at float64) sim.Run {
	s := p.onContact(set, at)
	return sim.Do(sim.Experiment{Model: m, MassFactor: 1, Loops: l, Start: s.start, Duration: at + 1.5, ContactUntil: at, All: true,
		Relief: p.d.p.Machine.Limits.Relief, Demand: func(t float64) law.Demand {
			d := s.course(t)
			d.Force = p.sign() * forceHigh * p.limit
			return d
		}})
}

// sameCourse takes approach and travel limits of the proposal, so that both settings
// meet the same course, with the gains and limits of the loops run.
func sameCourse(l law.Loops, proposed *law.Force) *law.Force {
	set := *l.Force
	set.ApproachSpeed, set.TravelLimit, set.Presses = proposed.ApproachSpeed, proposed.TravelLimit, proposed.Presses
	return &set
}
