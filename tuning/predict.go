package tuning

import (
	"math"

	"eha/strokewise/ident/plant"
	"eha/strokewise/tuning/law"
	"eha/strokewise/tuning/sim"
)

// What the model itself may be off by, on top of the parameters' draws: found
// by prediction against achievement on simulated machines.
const (
	overshootFloor = 0.02 // of the step
	riseFloor      = 0.07 // of the figure
	speedFloor     = 0.05
	pressureFloor  = 0.10
	settlingLow    = 0.93 // on the settling to 2.5 %
	settlingHigh   = 1.07 // on the settling to 1.5 %
)

// history is what happens before a standard step.
const history = "1 s at rest"

// predictSteps returns the standard steps of the settings, with bands from the draws.
func (d *design) predictSteps(set law.Position, draws []plant.Model) []Step {
	var steps []Step
	for _, dir := range []plant.Direction{plant.Extend, plant.Retract} {
		steps = append(steps, d.predictStep(set, dir, draws))
	}
	return steps
}

// outcome holds the figures of one run.
type outcome struct {
	sim.Figures
	loose, tight         float64 // s, settling to 2.5 and to 1.5 %
	speed, pressure, off float64
	sticks               float64 // s, force steps only
}

func (d *design) predictStep(set law.Position, dir plant.Direction, draws []plant.Model) Step {
	x := d.clearPlace()
	all := make([]outcome, len(draws)+1)
	sim.Each(len(all), func(i int) {
		m := &d.likely
		if i > 0 {
			m = &draws[i-1]
		}
		run, from, to := d.stepRun(m, set, dir, x, 1, stepTime(&set))
		all[i] = figuresOf(run, from, to)
	})
	from, to := stepEnds(&d.model, dir, x)
	return Step{
		Loop: "position", Direction: dir, From: from, To: to, History: history,
		Rise:         band(all, riseFloor, 0, func(o outcome) float64 { return o.Rise }),
		Overshoot:    band(all, 0, overshootFloor, func(o outcome) float64 { return o.Overshoot }),
		PeakSpeed:    band(all, speedFloor, 0, func(o outcome) float64 { return o.speed }),
		PeakPressure: band(all, pressureFloor, 0, func(o outcome) float64 { return o.pressure }),
		FinalError:   band(all, 0, 0, func(o outcome) float64 { return o.off }),
		Settling:     settlingBand(all),
	}
}

func figuresOf(run sim.Run, from, to float64) outcome {
	y := run.From(sim.Rest)
	o := outcome{Figures: sim.StepFigures(y, run.Period, from, to, 0.02), speed: run.PeakSpeed, pressure: run.PeakPressure}
	o.loose = sim.StepFigures(y, run.Period, from, to, 0.025).Settling
	o.tight = sim.StepFigures(y, run.Period, from, to, 0.015).Settling
	o.off = math.Abs(to - y[len(y)-1])
	return o
}

// band returns the first outcome's figure, the range over all, and at least the
// floors: a share of the figure and a part to add.
func band(all []outcome, share, add float64, figure func(outcome) float64) Range {
	v := figure(all[0])
	r := Range{Value: v, Low: v*(1-share) - add, High: v*(1+share) + add}
	for _, o := range all[1:] {
		r.Low, r.High = min(r.Low, figure(o)), max(r.High, figure(o))
	}
	r.Low = max(r.Low, 0)
	return r
}

// settlingBand takes the quickest settling to 2.5 % and the slowest to 1.5 %: a
// figure that hangs on friction near the edge of 2 % is not better known than that.
func settlingBand(all []outcome) Range {
	r := Range{Value: all[0].Settling, Low: math.Inf(1)}
	for _, o := range all {
		r.Low, r.High = min(r.Low, settlingLow*o.loose), max(r.High, settlingHigh*o.tight)
	}
	return r
}

// clearPlace returns mid-stroke (m), or the place nearest to it where the standard
// step stays clear of any contact by twice its size.
func (d *design) clearPlace() float64 {
	x, c := d.model.Stroke/2, d.model.Contact
	if c == nil {
		return x
	}
	room := 2 * stepSize(&d.model)
	if c.Presses == plant.Extend {
		return max(min(x, c.Position-room), 2*room)
	}
	return min(max(x, c.Position+2*room), d.model.Stroke-room)
}
