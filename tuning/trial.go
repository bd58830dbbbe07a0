package tuning

import (
	"math"

	"eha/strokewise/ident/plant"
	"eha/strokewise/tuning/law"
	"eha/strokewise/tuning/sim"
)

// What a trial step may do, as share of the step: overshoot at the mass of the
// model and at the ends of the mass range, and the size from which a swing after
// arrival counts as ringing.
const (
	usualOvershoot  = 0.018
	cornerOvershoot = 0.05
	ringingSwing    = 0.02
)

// lowestLow is the gauge pressure (Pa) of the low side under which oil is near to cavitating.
const lowestLow = -0.8 * plant.AtmosphericPressure

// stepSize returns the size of the standard step (m): 10 mm, or 3 % of the stroke if that is less.
func stepSize(m *plant.Model) float64 { return min(10e-3, 0.03*m.Stroke) }

// stepEnds returns start and end (m) of a step at x: the extending one ends
// there and the retracting one begins there.
func stepEnds(m *plant.Model, dir plant.Direction, x float64) (from, to float64) {
	size := stepSize(m)
	x = min(max(x, size), m.Stroke)
	if dir == plant.Retract {
		return x, x - size
	}
	return x - size, x
}

// clearOf returns the model without what the rod presses on.
func clearOf(m plant.Model) plant.Model {
	m.Contact = nil
	return m
}

// stepTime returns how long (s) after the step a run must go on to show that it settled.
func stepTime(set *law.Position) float64 {
	return min(max(2, 12/min(set.Kp.Extend, set.Kp.Retract)), 20)
}

// stepRun runs the standard step at x (m) on the model with the mass factor, for a duration (s) from the step on.
func (d *design) stepRun(m *plant.Model, set law.Position, dir plant.Direction, x, factor, duration float64) (run sim.Run, from, to float64) {
	from, to = stepEnds(m, dir, x)
	return d.runStep(m, set, from, to, x, factor, duration), from, to
}

// runStep runs a step between two places (m) under the load at x (m).
func (d *design) runStep(m *plant.Model, set law.Position, from, to, x, factor, duration float64) sim.Run {
	free := clearOf(*m)
	free.AxialLoad = d.loadAt(m, x, 1)
	return sim.Do(sim.Experiment{
		Model: &free, MassFactor: factor, Loops: law.Loops{Position: &set}, Start: from,
		Duration: sim.Rest + duration, Demand: sim.StepAt(sim.Rest, from, to),
		Relief: d.p.Machine.Limits.Relief,
	})
}

// trial is one step that a proposal has to pass.
type trial struct{ from, to, x, factor, overshoot float64 }

// trials returns the steps of one direction: the standard step at every place and mass of the grid.
func (d *design) trials(dir plant.Direction) []trial {
	var list []trial
	for _, x := range d.places {
		from, to := stepEnds(&d.model, dir, x)
		for _, factor := range d.factors {
			most := cornerOvershoot
			if factor == 1 {
				most = usualOvershoot
			}
			list = append(list, trial{from, to, x, factor, most})
		}
	}
	return list
}

// fault is why a trial failed, empty for a pass.
type fault string

// The faults.
const (
	overshoots fault = "overshoots"
	rings      fault = "rings"
	cavitates  fault = "cavitates"
)

// passes runs all trials of a direction and returns the first fault.
func (d *design) passes(m *plant.Model, set law.Position, dir plant.Direction) fault {
	list := d.trials(dir)
	faults := make([]fault, len(list))
	duration := min(stepTime(&set), max(0.6, 8/set.Kp.At(dir)))
	sim.Each(len(list), func(i int) {
		if d.over() {
			return
		}
		t := list[i]
		run := d.runStep(m, set, t.from, t.to, t.x, t.factor, duration)
		faults[i] = judge(run, t)
	})
	for _, f := range faults {
		if f != "" {
			return f
		}
	}
	return ""
}

// judge returns what is wrong with a trial. Ringing counts at the model's own mass:
// at the others the margins hold, and what swings there is a change of the chamber
// that carries, which less gain does not cure.
func judge(run sim.Run, t trial) fault {
	y := run.From(sim.Rest)
	switch {
	case beyondRest(y, t.from, t.to) > t.overshoot:
		return overshoots
	case t.factor == 1 && swings(y, math.Abs(t.to-t.from)*ringingSwing) > 3:
		return rings
	case run.LowestLow < lowestLow:
		return cavitates
	}
	return ""
}

// beyondRest returns how far, as share of the step, the course goes beyond both
// its end and where it comes to rest: slip under load may carry the rod past the
// reference, which is droop and no overshoot, and less gain makes it worse.
func beyondRest(y []float64, from, to float64) float64 {
	share := func(x float64) float64 { return (x - from) / (to - from) }
	peak := 0.0
	for _, x := range y {
		peak = max(peak, share(x))
	}
	return peak - max(1, share(y[len(y)-1]))
}

// swings counts how often the course turns back by more than size (m).
func swings(y []float64, size float64) int {
	count, low, high, heading := 0, y[0], y[0], 0
	for _, v := range y {
		low, high = min(low, v), max(high, v)
		switch {
		case heading >= 0 && high-v > size:
			count += heading // the first way taken is no turn
			heading, low = -1, v
		case heading <= 0 && v-low > size:
			count -= heading
			heading, high = 1, v
		}
		if heading > 0 {
			low = v
		} else if heading < 0 {
			high = v
		}
	}
	return count
}

// stepBack lowers kp of each direction in steps of a tenth until its trials
// pass, and returns the last fault met in each direction.
func (d *design) stepBack(m *plant.Model, set *law.Position) (met plant.PerDirection[fault]) {
	for _, dir := range []plant.Direction{plant.Extend, plant.Retract} {
		met.Set(dir, d.stepBackOne(m, set, dir))
	}
	return met
}

func (d *design) stepBackOne(m *plant.Model, set *law.Position, dir plant.Direction) (met fault) {
	start := set.Kp.At(dir)
	for set.Kp.At(dir) > start/20 && !d.over() {
		f := d.passes(m, *set, dir)
		if f == "" {
			return met
		}
		met = f
		set.Kp.Set(dir, 0.95*set.Kp.At(dir))
		d.sameGains(set)
	}
	if met == cavitates {
		// The low side falls at any gain: a slower loop would cost all and cure nothing.
		set.Kp.Set(dir, start)
		d.sameGains(set)
		d.warn("The low side comes near to cavitating in simulation at any gain when %sing: check reservoir pressure and valves, and watch the lower pressure during the bring-up.", dir)
	}
	return met
}

// longShare is the share of the stroke of the long step, which brakes from the speed limit.
const longShare = 0.3

// boundJumps says so where a long step, which no smooth reference softens,
// overshoots because braking asks for more torque than the drive has, and keeps the
// length up to which steps do not.
func (d *design) boundJumps(set *law.Position) {
	long := longShare * d.model.Stroke
	worst := d.longOvershoot(set, long)
	limit := d.brakingSpeed(set)
	if worst <= usualOvershoot || limit >= set.SpeedLimit {
		return
	}
	low, high := stepSize(&d.model), long
	for high-low > 0.05*high {
		if mid := (low + high) / 2; d.longOvershoot(set, mid) > usualOvershoot {
			high = mid
		} else {
			low = mid
		}
	}
	d.longestJump = low
	d.warn("A bare step of %.0f mm would overshoot by %.0f %%, and steps up to %.0f mm do not: braking from full speed asks for more torque than the drive has. Give long moves a smooth reference, or lower the speed limit to %.0f rpm.",
		long*inMM, 100*worst, low*inMM, limit*inRPM)
}

// longOvershoot returns the larger overshoot, as share of the step, of steps of the
// length (m) about mid-stroke either way.
func (d *design) longOvershoot(set *law.Position, length float64) float64 {
	var over [2]float64
	sim.Each(2, func(i int) {
		mid, half := d.model.Stroke/2, length/2*plant.Direction(i).Sign()
		travel := length / (set.SpeedLimit * min(d.model.StrokePerTurn(plant.Cap), d.model.StrokePerTurn(plant.Rod)))
		run := d.runStep(&d.model, *set, mid-half, mid+half, mid, 1, travel+stepTime(set))
		over[i] = beyondRest(run.From(sim.Rest), mid-half, mid+half)
	})
	return max(over[0], over[1])
}
