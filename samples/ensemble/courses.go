package main

import (
	"context"
	"math"

	"eha/strokewise/ident/machine"
	"eha/strokewise/ident/plant"
	"eha/strokewise/samples/twin"
	"eha/strokewise/tuning"
)

// standing is the time (s) at the end of a standing load over which what is left is averaged.
const standing = 0.3

// padding is the rest (s) put before a course, which starts shortly before its event.
const padding = 0.95

// judgeCourses holds what the proposal predicts of a smooth move and of a load that
// comes and goes against the machine. Without areas no load is known.
func (v *loopsVerdict) judgeCourses(m *twin.Machine, p *plant.Plant, t *tuning.Proposal) {
	if predicted, achieved := follow(m, p, t, "move"); predicted != nil {
		v.smoothError.add(within(largest(predicted), largest(achieved), 0.2))
	}
	predicted, achieved, last := kicked(m, p, t)
	if predicted == nil {
		return
	}
	v.kickError.add(within(largest(predicted), largest(achieved), 0.2))
	stands := int(standing / m.ControlPeriod)
	a, b := mean(predicted[last-stands:last]), mean(achieved[last-stands:last])
	if window := t.Loops.Position.Window * 1e3; math.Abs(b) > window || math.Abs(a) > window {
		v.kickDroop.add(droopAgrees(a, b))
	}
}

// presliding is the distance (mm) that friction's bristles give before they slide: what
// a load leaves is not known better.
const presliding = 0.012

// droopAgrees reports whether predicted and achieved agree to a fifth.
func droopAgrees(predicted, achieved float64) bool {
	return math.Abs(predicted-achieved) <= math.Max(0.2*math.Abs(achieved), presliding)
}

// Repeated steps: so many standard steps out and back, each held so long (s), after
// which the rod rests within so much of a step, or the window, of where it is asked to.
const (
	repeats     = 12
	repeatTime  = 1.5
	repeatShare = 0.03
)

// judgeRepeats runs repeated steps, in which an integral that gathers more one way than
// the other walks away.
func (v *loopsVerdict) judgeRepeats(m *twin.Machine, settings twin.Loops) {
	step, mid := m.StepSize(), m.Stroke/2*1e3
	var c twin.Course
	ends := []int{}
	hold := func(x, seconds float64) {
		for range int(seconds / m.ControlPeriod) {
			c.Position, c.Rate = append(c.Position, x), append(c.Rate, 0)
		}
		ends = append(ends, len(c.Position)-1)
	}
	hold(mid-step, 1)
	for i := range repeats {
		hold(mid-step*float64(i%2), repeatTime)
	}
	run := twin.Follow(m, settings, c, twin.Fault{})
	worst := 0.0
	for _, i := range ends[repeats/2:] {
		i = min(i, len(run.Position)-1)
		worst = math.Max(worst, math.Abs(run.Position[i]-c.Position[i]))
	}
	v.repeated.add(worst <= math.Max(repeatShare*step, settings.Position.Window))
}

// judgePlainDroop proposes without an integral and compares what a standing load leaves.
func (v *loopsVerdict) judgePlainDroop(m *twin.Machine, p *plant.Plant, o options) {
	opt := o.ask()
	opt.Integral = machine.No
	t, err := tuning.Propose(context.Background(), p, opt)
	if err != nil || t.Loops.Position == nil {
		return
	}
	predicted, achieved, last := kicked(m, p, t)
	if predicted == nil {
		return
	}
	stands := int(standing / m.ControlPeriod)
	v.plainDroop.add(droopAgrees(mean(predicted[last-stands:last]), mean(achieved[last-stands:last])))
}

// kicked returns the errors (mm) under a load that comes and goes, and the sample at which it goes.
func kicked(m *twin.Machine, p *plant.Plant, t *tuning.Proposal) (predicted, achieved []float64, last int) {
	r, err := tuning.Respond(context.Background(), p, t, nil, "kick")
	if err != nil {
		return nil, nil, 0
	}
	for i, f := range r.Load {
		if f != 0 {
			last = i
		}
	}
	predicted, achieved = compareCourse(m, t, r)
	return predicted, achieved, last
}

// follow returns the errors (mm) along a scenario, predicted and on the machine; nil where there is none.
func follow(m *twin.Machine, p *plant.Plant, t *tuning.Proposal, id string) (predicted, achieved []float64) {
	r, err := tuning.Respond(context.Background(), p, t, nil, id)
	if err != nil {
		return nil, nil
	}
	return compareCourse(m, t, r)
}

func compareCourse(m *twin.Machine, t *tuning.Proposal, r *tuning.Response) (predicted, achieved []float64) {
	pad := int(padding / r.Period)
	run := twin.Follow(m, settingsOf(t.Loops), courseOf(r, pad), twin.Fault{})
	for i, x := range r.Reference {
		if pad+i < len(run.Position) {
			predicted = append(predicted, 1e3*(x-r.Proposed.Output[i]))
			achieved = append(achieved, 1e3*x-run.Position[pad+i])
		}
	}
	return predicted, achieved
}

// courseOf returns the response's reference and load in the machine's units, after
// pad samples of rest.
func courseOf(r *tuning.Response, pad int) twin.Course {
	n := pad + len(r.Reference)
	c := twin.Course{Position: make([]float64, n), Rate: make([]float64, n), Load: make([]float64, n)}
	for i := range n {
		k := max(i-pad, 0)
		c.Position[i] = 1e3 * r.Reference[k]
		if k+1 < len(r.Reference) && i >= pad {
			c.Rate[i] = 1e3 * (r.Reference[k+1] - r.Reference[k]) / r.Period
		}
		if r.Load != nil && i >= pad {
			c.Load[i] = 1e-3 * r.Load[k]
		}
	}
	return c
}

func largest(values []float64) float64 {
	worst := 0.0
	for _, v := range values {
		worst = math.Max(worst, math.Abs(v))
	}
	return worst
}

func mean(values []float64) float64 {
	sum := 0.0
	for _, v := range values {
		sum += v / float64(len(values))
	}
	return sum
}
