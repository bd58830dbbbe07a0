package tuning

import (
	"math"

	"eha/strokewise/ident/plant"
	"eha/strokewise/tuning/law"
	"eha/strokewise/tuning/sim"
)

// Times of a pressing run (s): rest, then approach; the force is held, stepped up and
// stepped down, each for holdTime.
const (
	holdTime   = 4.0
	forceLow   = 0.3 // of the force limit
	forceHigh  = 0.5
	forceStory = "pressing at the first force for 4 s"
)

// pressRun simulates the approach to the contact with the position command running on
// beyond it, a force step up and one down.
type pressRun struct {
	sim.Run
	up, down int // sample at which the step begins
}

// run returns the pressing story on the model: the rod begins gap before the contact.
func (p *pressing) run(m *plant.Model, position *law.Position, set *law.Force, factor float64) pressRun {
	sign := set.Presses.Sign()
	gap := max(2e-3, 0.2*set.ApproachSpeed)
	start := m.Contact.Position - sign*gap
	end := m.Contact.Position + sign*set.TravelLimit
	course, moves := sim.SmoothAt(sim.Rest, start, end, set.ApproachSpeed, 20*set.ApproachSpeed, 400*set.ApproachSpeed)
	up := sim.Rest + moves + holdTime
	down := up + holdTime
	demand := func(t float64) law.Demand {
		d := course(t)
		d.Force = sign * forceLow * p.limit
		if t >= up-1e-9 && t < down-1e-9 {
			d.Force = sign * forceHigh * p.limit
		}
		return d
	}
	run := sim.Do(sim.Experiment{Model: m, MassFactor: factor, Loops: law.Loops{Position: position, Force: set}, Start: start,
		Duration: down + holdTime, Demand: demand, All: true, Relief: p.d.p.Machine.Limits.Relief})
	return pressRun{run, int(math.Round(up / run.Period)), int(math.Round(down / run.Period))}
}

// peak returns the largest force (N) on piston or work piece.
func (p *pressing) peak(m *plant.Model, run *sim.Run) float64 {
	sign, worst := m.Contact.Presses.Sign(), 0.0
	for i, f := range run.Force {
		worst = max(worst, sign*f, sign*(run.Position[i]-m.Contact.Position)*m.Contact.Stiffness)
	}
	return worst
}

// runsOn simulates the worst approach: the position command stands far beyond the
// contact from the start, so that the force loop alone limits the speed, with a
// reference near the limit.
func (p *pressing) runsOn(m *plant.Model, position *law.Position, set *law.Force, factor float64) sim.Run {
	const reference = 1 - excessShare
	sign := set.Presses.Sign()
	start := min(max(m.Contact.Position-sign*5e-3, 0), m.Stroke)
	far := m.Contact.Position + sign*0.1*m.Stroke
	return sim.Do(sim.Experiment{Model: m, MassFactor: factor, Loops: law.Loops{Position: position, Force: set}, Start: start,
		Duration: sim.Rest + 2, All: true, Relief: p.d.p.Machine.Limits.Relief,
		Demand: func(t float64) law.Demand {
			d := sim.StepAt(sim.Rest, start, far)(t)
			d.Force = sign * reference * p.limit
			return d
		}})
}

// atStiffness returns the pressing model with the contact's stiffness (N/m).
func (p *pressing) atStiffness(stiffness float64) *plant.Model {
	m := p.model
	c := p.contact
	c.Stiffness = stiffness
	m.Contact = &c
	return &m
}

// passes reports whether force steps stay within their overshoot and no approach
// passes the force limit, and the time (s) to settle as a cost.
func (p *pressing) passes(position *law.Position, set *law.Force) (cost float64, fits bool) {
	m := p.atStiffness(p.contact.Stiffness)
	run := p.run(m, position, set, 1)
	for _, step := range p.figures(&run) {
		if step.Overshoot > forceOvershoot || math.IsInf(step.Rise, 1) {
			return 0, false
		}
		cost += min(step.Settling, holdTime)
	}
	stiffest := p.atStiffness(p.stiff[1])
	on := p.runsOn(stiffest, position, set, p.d.factors[len(p.d.factors)-1])
	return cost, p.peak(m, &run.Run) <= p.limit && p.peak(stiffest, &on) <= p.limit
}

// figures returns those of the step up and the step down.
func (p *pressing) figures(run *pressRun) [2]outcome {
	sign := p.contact.Presses.Sign()
	low, high := sign*forceLow*p.limit, sign*forceHigh*p.limit
	one := func(from, to int, a, b float64) outcome {
		y := run.Force[from:to]
		o := outcome{Figures: sim.StepFigures(y, run.Period, a, b, 0.02), off: math.Abs(b - y[len(y)-1])}
		o.loose = sim.StepFigures(y, run.Period, a, b, 0.025).Settling
		o.tight = sim.StepFigures(y, run.Period, a, b, 0.015).Settling
		for i := from; i < to; i++ {
			o.speed = max(o.speed, math.Abs(run.MotorSpeed[i]))
			o.pressure = max(o.pressure, run.CapPressure[i], run.RodPressure[i])
		}
		return o
	}
	return [2]outcome{one(run.up, run.down, low, high), one(run.down, len(run.Force), high, low)}
}

// predict returns the force steps with their band over the draws.
func (p *pressing) predict(position *law.Position, set *law.Force) []Step {
	runs := make([][2]outcome, len(p.d.draws)/2+1)
	sim.Each(len(runs), func(i int) {
		m := *p.atStiffness(p.contact.Stiffness)
		if i > 0 {
			m = p.vary(&p.d.draws[i-1])
		}
		run := p.run(&m, position, set, 1)
		runs[i] = p.figures(&run)
	})
	sign := p.contact.Presses.Sign()
	low, high := sign*forceLow*p.limit, sign*forceHigh*p.limit
	var steps []Step
	for k, ends := range [][2]float64{{low, high}, {high, low}} {
		all := make([]outcome, len(runs))
		for i := range runs {
			all[i] = runs[i][k]
		}
		steps = append(steps, Step{
			Loop: "force", Direction: p.contact.Presses, From: ends[0], To: ends[1], History: forceStory,
			Rise:         band(all, riseFloor, 0, func(o outcome) float64 { return o.Rise }),
			Overshoot:    band(all, 0, overshootFloor, func(o outcome) float64 { return o.Overshoot }),
			PeakSpeed:    band(all, speedFloor, 0, func(o outcome) float64 { return o.speed }),
			PeakPressure: band(all, pressureFloor, 0, func(o outcome) float64 { return o.pressure }),
			FinalError:   band(all, 0, 0, func(o outcome) float64 { return o.off }),
			Settling:     settlingBand(all),
		})
	}
	return steps
}

// vary returns a drawn model with the pressing oil scaled as the draw's is.
func (p *pressing) vary(draw *plant.Model) plant.Model {
	m := *draw
	at := p.place(0.4, 1)
	ratio := draw.Compliance(p.chamber, at.Position, at.Pressure) / p.d.model.Compliance(p.chamber, at.Position, at.Pressure)
	m.Oil.Set(p.chamber, p.model.Oil.At(p.chamber).Scaled(ratio))
	c := p.contact
	m.Contact = &c
	return m
}
