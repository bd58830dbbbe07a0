package bench

import (
	"context"
	"fmt"
	"math"
	"math/rand/v2"

	"eha/strokewise/ident/plant"
	"eha/strokewise/tui"
	"eha/strokewise/tuning"
	"eha/strokewise/tuning/law"
	"eha/strokewise/tuning/sim"
)

// draws is the number of models from the fit's uncertainty that the band spans.
const draws = 12

// before is how long the plots show the rod at rest before the demand changes (s).
const before = 0.1

// story is a scenario ready to run.
type story struct {
	start    float64 // m
	demand   func(t float64) law.Demand
	load     func(t float64) float64 // nil for none
	duration float64                 // s from the change of the demand on
	force    bool
	contact  bool // the rod may meet what it presses on
}

// scenarios lists what can be run for the proposal: its standard steps, a move
// there and back, a load kick and, with a force loop, an approach with pressing.
func scenarios(p *plant.Plant, t *tuning.Proposal) []tui.Scenario {
	if t == nil || t.Loops.Position == nil {
		return nil
	}
	var list []tui.Scenario
	for i, s := range t.Predicted {
		if s.Loop == "position" {
			list = append(list, tui.Scenario{ID: fmt.Sprintf("step %d", i), Title: fmt.Sprintf("Step of %.3g mm, %sing", 1e3*math.Abs(s.To-s.From), s.Direction)})
		}
	}
	list = append(list, tui.Scenario{ID: "move", Title: "Smooth move over half the stroke and back"})
	// A load means nothing where forces are unknown.
	if kick := kickSize(p); p.AreasKnown && kick != 0 {
		list = append(list, tui.Scenario{ID: "kick", Title: fmt.Sprintf("Load kick of %.2g kN at rest", kick*1e-3)})
	}
	if t.Loops.Force != nil && t.Model.Contact != nil {
		list = append(list, tui.Scenario{ID: "press", Title: "Approach, press, force step up and down"})
	}
	return list
}

// respond simulates one scenario: the proposed settings on the fitted model and
// on models drawn from its uncertainty, and the as-found settings on the fitted one.
func respond(ctx context.Context, p *plant.Plant, t *tuning.Proposal, found *law.Loops, s tui.Scenario) (*tui.Response, error) {
	if t.Loops.Position == nil {
		return nil, fmt.Errorf("no position loop is proposed: %s", t.NotProposed["position"])
	}
	st, err := storyOf(p, t, s.ID)
	if err != nil {
		return nil, err
	}
	// Draws are taken about the model that was designed on, what-if included.
	about := *p
	about.Model = t.Model
	models := []plant.Model{t.Model}
	rng := rand.New(rand.NewPCG(11, 12))
	for range draws {
		if m := about.Draw(rng); m.Check() == nil {
			models = append(models, m)
		}
	}
	runs := make([]sim.Run, len(models))
	sim.Each(len(models), func(i int) {
		if ctx.Err() == nil {
			runs[i] = st.run(p, &models[i], t.Loops)
		}
	})
	if err := ctx.Err(); err != nil {
		return nil, err
	}
	r := &tui.Response{Scenario: s, Force: st.force, Period: runs[0].Period, Start: -before,
		Note: fmt.Sprintf("Band: the fitted model and %d drawn from its intervals.", len(models)-1)}
	r.Proposed = st.course(&runs[0])
	r.Reference = st.reference(&runs[0])
	r.Proposed.Low, r.Proposed.High = st.band(runs)
	var was *sim.Run
	if found != nil && found.Position != nil && (!st.force || found.Force != nil) {
		loops := withPeriod(*found, t.Loops.Position.Period)
		run := st.run(p, &t.Model, loops)
		was = &run
		c := st.course(was)
		r.AsFound = &c
	}
	r.Figures = st.figures(t, s.ID, runs, was)
	return r, nil
}

// withPeriod runs settings at the proposal's period, so that both courses share their samples.
func withPeriod(l law.Loops, period float64) law.Loops {
	position := *l.Position
	position.Period = period
	l.Position = &position
	if l.Force != nil {
		force := *l.Force
		force.Period = period
		l.Force = &force
	}
	return l
}

// storyOf builds a scenario for the proposal.
func storyOf(p *plant.Plant, t *tuning.Proposal, id string) (story, error) {
	m := &t.Model
	set := t.Loops.Position
	calm := 10 / math.Max(math.Min(set.Kp.Extend, set.Kp.Retract), 0.5) // s, to come to rest
	calm = math.Min(math.Max(calm, 0.6), 8)
	for i, step := range t.Predicted {
		if step.Loop == "position" && id == fmt.Sprintf("step %d", i) {
			return story{start: step.From, demand: sim.StepAt(sim.Rest, step.From, step.To), duration: calm}, nil
		}
	}
	switch {
	case id == "move":
		from, to := 0.25*m.Stroke, 0.75*m.Stroke
		if c := m.Contact; c != nil {
			from, to = clear(c, m.Stroke)
		}
		speed := 0.5 * set.SpeedLimit * math.Min(m.StrokePerTurn(plant.Cap), m.StrokePerTurn(plant.Rod))
		if limit := p.Machine.Limits.Speed; limit > 0 {
			speed = math.Min(speed, limit)
		}
		out, first := sim.SmoothAt(sim.Rest, from, to, speed, 8*speed, 160*speed)
		turn := sim.Rest + first + 0.5
		back, second := sim.SmoothAt(turn, to, from, speed, 8*speed, 160*speed)
		return story{start: from, duration: first + 0.5 + second + calm/2, demand: func(s float64) law.Demand {
			if s < turn {
				return out(s)
			}
			return back(s)
		}}, nil
	case id == "kick":
		size := kickSize(p)
		at := m.Stroke / 2
		return story{start: at, duration: calm, demand: func(float64) law.Demand { return law.Demand{Position: at} }, load: sim.KickAt(sim.Rest, size)}, nil
	case id == "press" && t.Loops.Force != nil && m.Contact != nil:
		return pressStory(p, t), nil
	}
	return story{}, fmt.Errorf("there is no scenario %q for these settings", id)
}

// clear returns the ends (m) of a move over half the stroke that keeps off the contact.
func clear(c *plant.Contact, stroke float64) (from, to float64) {
	low, high := 0.1*stroke, 0.9*stroke
	if c.Presses == plant.Extend {
		high = math.Min(high, c.Position-0.05*stroke)
	} else {
		low = math.Max(low, c.Position+0.05*stroke)
	}
	mid, half := (low+high)/2, math.Min(0.25*stroke, math.Max(high-low, 0)/2)
	return mid - half, mid + half
}

// kickSize is the load (N) that is put on: a third of the process load's range,
// or a tenth of the largest force seen.
func kickSize(p *plant.Plant) float64 {
	if r := p.Machine.Load.ForceRange; r[1] != r[0] {
		return math.Copysign((r[1]-r[0])/3, r[0]+r[1])
	}
	return -0.1 * math.Max(math.Abs(p.Seen.Force[0]), math.Abs(p.Seen.Force[1]))
}

// pressStory goes to the contact, presses with 30 %, 50 % and 30 % of the force limit.
func pressStory(p *plant.Plant, t *tuning.Proposal) story {
	f, c := t.Loops.Force, t.Model.Contact
	sign := f.Presses.Sign()
	limit := t.Guards.ForceLimit
	for _, s := range t.Predicted {
		if s.Loop == "force" {
			limit = math.Max(math.Abs(s.From), math.Abs(s.To)) / 0.5
			break
		}
	}
	start, end := c.Position-sign*2e-3, c.Position+sign*f.TravelLimit
	course, moves := sim.SmoothAt(sim.Rest, start, end, f.ApproachSpeed, 20*f.ApproachSpeed, 400*f.ApproachSpeed)
	const hold = 2.0
	up := sim.Rest + moves + hold
	down := up + hold
	return story{start: start, duration: moves + 3*hold, force: true, contact: true, demand: func(s float64) law.Demand {
		d := course(s)
		d.Force = sign * 0.3 * limit
		if s >= up && s < down {
			d.Force = sign * 0.5 * limit
		}
		return d
	}}
}

// run plays the story on a model under the settings.
func (st *story) run(p *plant.Plant, m *plant.Model, loops law.Loops) sim.Run {
	on := *m
	if !st.contact {
		on.Contact, loops.Force = nil, nil
	}
	return sim.Do(sim.Experiment{Model: &on, MassFactor: 1, Loops: loops, Start: st.start, Duration: sim.Rest + st.duration,
		Demand: st.demand, Load: st.load, Relief: p.Machine.Limits.Relief, All: true,
		Sensors: sim.Sensors{PositionStep: p.Seen.Resolution.Position, PressureStep: p.Seen.Resolution.Pressure}})
}
