package tuning

import (
	"math"

	"eha/strokewise/ident/plant"
	"eha/strokewise/tuning/law"
	"eha/strokewise/tuning/sim"
)

// The standard force steps, as shares of the force limit, each after the force
// before was held for holdTime at most: a loop that has long come to rest is cut shorter.
const (
	forceLow  = 0.3
	forceHigh = 0.5
	// clearOfFriction is how far a lower reference stands above what load and friction take, where that is more.
	clearOfFriction = 0.05
	holdTime        = 4.0 // s
	trialHold       = 2.0 // s, while candidates are compared
	leastHold       = 1.2 // s
	forceStory      = "pressing at the first force for 4 s"
)

// runsOnReference is the share of the force limit pressed with where the position command runs on.
const runsOnReference = 1 - excessShare

// story is what a pressing run does: the course of the position command from the
// start (m) on, and how long (s) the first force lasts and those after it.
type story struct {
	start       float64
	course      func(t float64) law.Demand
	first, hold float64
	// bristle takes friction with its breakaway force: on a reversal of the force the rod
	// sticks for longer than Coulomb friction has it, and the force moves faster meanwhile.
	bristle bool
}

// onContact begins at the work piece, the position command beyond it, as the standard force steps do.
func (p *pressing) onContact(set *law.Force, hold float64) story {
	start := p.contact.Position - p.sign()*0.2e-3
	beyond := p.contact.Position + p.sign()*max(set.TravelLimit, 1e-3)
	return story{start: start, first: hold, hold: hold, course: func(float64) law.Demand { return law.Demand{Position: beyond} }}
}

// approaching comes from clear of the contact at the approach speed, with the
// position command running on to the travel limit.
func (p *pressing) approaching(set *law.Force, hold float64) story {
	gap := max(2e-3, 0.2*set.ApproachSpeed)
	start := p.contact.Position - p.sign()*gap
	end := p.contact.Position + p.sign()*set.TravelLimit
	course, moves := sim.SmoothAt(sim.Rest, start, end, set.ApproachSpeed, 20*set.ApproachSpeed, 400*set.ApproachSpeed)
	return story{start: start, course: course, first: sim.Rest + moves + hold, hold: hold}
}

// pressRun is a pressing run with the samples at which the step up and the step down begin.
type pressRun struct {
	sim.Run
	up, down int
}

// stepping adds the force references of the story to its course.
func (p *pressing) stepping(s story) func(t float64) law.Demand {
	up, down := s.first, s.first+s.hold
	return func(t float64) law.Demand {
		d := s.course(t)
		d.Force = p.sign() * p.low * p.limit
		if t >= up-1e-9 && t < down-1e-9 {
			d.Force = p.sign() * p.high * p.limit
		}
		return d
	}
}

// run simulates the story under the loops on the model.
func (p *pressing) run(m *plant.Model, l law.Loops, s story) pressRun {
	up, down := s.first, s.first+s.hold
	run := sim.Do(sim.Experiment{Model: m, MassFactor: 1, Loops: l, Start: s.start,
		Duration: down + s.hold, Demand: p.stepping(s), All: true, Bristle: s.bristle, Relief: p.d.p.Machine.Limits.Relief})
	return pressRun{run, int(math.Round(up / run.Period)), int(math.Round(down / run.Period))}
}

// peak returns the largest force (N) on the piston, or on the work piece less what a
// load adds there that pushes the same way.
func (p *pressing) peak(run *sim.Run, factor float64) float64 {
	worst, pushes := 0.0, max(p.sign()*p.model.LoadAt(factor), 0)
	for i, f := range run.Force {
		worst = max(worst, p.sign()*f, run.Contact[i]-pushes)
	}
	return worst
}

// atStiffness returns the pressing model with the contact's stiffness (N/m).
func (p *pressing) atStiffness(stiffness float64) *plant.Model {
	m := p.model
	c := p.contact
	c.Stiffness = stiffness
	m.Contact = &c
	return &m
}

// figures returns those of the step up and the step down.
func (p *pressing) figures(run *pressRun) [2]outcome {
	low, high := p.sign()*p.low*p.limit, p.sign()*p.high*p.limit
	return [2]outcome{stepOutcome(run, run.up, run.down, low, high), stepOutcome(run, run.down, len(run.Force), high, low)}
}

// stepOutcome returns the figures of the force from one sample to another.
func stepOutcome(run *pressRun, from, to int, before, after float64) outcome {
	y := run.Force[from:to]
	settling := func(band float64) float64 { return sim.StepFigures(y, run.Period, before, after, band).Settling }
	o := outcome{Figures: sim.StepFigures(y, run.Period, before, after, 0.02), off: math.Abs(after - y[len(y)-1])}
	o.loose, o.tight = settling(0.025), settling(0.015)
	x := run.Position[from:to]
	for k, last := 0, len(x)-1; k < last && math.Abs(x[k]-x[0]) < 0.1*math.Abs(x[last]-x[0]); k++ {
		o.sticks += run.Period
	}
	for i := from; i < to; i++ {
		o.speed = max(o.speed, math.Abs(run.MotorSpeed[i]))
		o.pressure = max(o.pressure, run.CapPressure[i], run.RodPressure[i])
	}
	return o
}

// predict returns the force steps with their band over draws.
func (p *pressing) predict(position *law.Position, set *law.Force) []Step {
	l := law.Loops{Position: position, Force: set}
	middle := p.atStiffness(p.contact.Stiffness)
	story := p.onContact(set, holdTime)
	story.bristle = true
	run := p.run(middle, l, story)
	all := make([][2]outcome, len(p.d.draws)/3+1)
	all[0] = p.figures(&run)
	story.hold = restedAfter(all[0])
	story.first = story.hold
	sim.Each(len(all)-1, func(i int) {
		m := p.vary(&p.d.draws[i])
		run := p.run(&m, l, story)
		all[i+1] = p.figures(&run)
	})
	low, high := p.sign()*p.low*p.limit, p.sign()*p.high*p.limit
	return []Step{p.step(all, 0, low, high), p.step(all, 1, high, low)}
}

// restedAfter returns for how long (s) to hold each force so that steps like these have long come to rest.
func restedAfter(steps [2]outcome) float64 {
	return min(max(leastHold, 2.5*steps[0].tight, 2.5*steps[1].tight), holdTime)
}

// step returns the predicted step of that index from the outcomes, the model's own first.
func (p *pressing) step(runs [][2]outcome, index int, from, to float64) Step {
	all := make([]outcome, len(runs))
	for i := range runs {
		all[i] = runs[i][index]
	}
	return Step{
		Loop: "force", Direction: p.contact.Presses, From: from, To: to, History: forceStory,
		Rise:         band(all, riseFloor, 0, func(o outcome) float64 { return o.Rise }),
		Overshoot:    band(all, 0, overshootFloor, func(o outcome) float64 { return o.Overshoot }),
		PeakSpeed:    band(all, speedFloor, 0, func(o outcome) float64 { return o.speed }),
		PeakPressure: band(all, pressureFloor, 0, func(o outcome) float64 { return o.pressure }),
		FinalError:   band(all, 0, 0, func(o outcome) float64 { return o.off }),
		Settling:     settlingBand(all),
		Sticks:       band(all, riseFloor, 0, func(o outcome) float64 { return o.sticks }),
	}
}

// vary returns a drawn model with the pressing oil scaled as the draw's is.
func (p *pressing) vary(draw *plant.Model) plant.Model {
	m := *draw
	at := p.place(0.4, 1)
	ratio := draw.Compliance(p.chamber, at.Position, at.Pressure) / p.d.model.Compliance(p.chamber, at.Position, at.Pressure)
	m.Oil.Set(p.chamber, p.model.Oil.At(p.chamber).Scaled(ratio))
	if p.d.model.Breakaway > 0 {
		m.Breakaway *= p.model.Breakaway / p.d.model.Breakaway
	}
	if !m.Drive.AccelMet {
		m.Drive.AccelLimit = max(m.Drive.AccelLimit, p.model.Drive.AccelLimit)
	}
	if m.Contact == nil {
		c := p.contact
		m.Contact = &c
	}
	return m
}
