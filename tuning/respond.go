package tuning

import (
	"context"
	"fmt"
	"math"

	"eha/strokewise/ident/plant"
	"eha/strokewise/ident/quantity"
	"eha/strokewise/tuning/law"
	"eha/strokewise/tuning/sim"
)

// Scenario names something to simulate. The ID is the same for the same
// scenario of another proposal.
type Scenario struct {
	ID, Title string
	Force     bool // the output is force, not position
}

// Course is one simulated run, sampled with the Response's period.
type Course struct {
	Output                   []float64 // m, or N pushing the rod out
	Low, High                []float64 // band of the output over parameter draws; nil for none
	Speed                    []float64 // rad/s, motor
	CapPressure, RodPressure []float64 // Pa
}

// Response is a scenario simulated with the proposed settings and, where given,
// those found in the drive.
type Response struct {
	Scenario  Scenario
	Start     float64   // s, of the first sample; the demand changes at 0
	Period    float64   // s
	Reference []float64 // m or N
	Load      []float64 // N, what comes on top of the axial load, pushing the rod out; nil for nothing
	Proposed  Course
	AsFound   *Course // nil where not given or not able to do the scenario
	Figures   []Figure
	Note      string // what the band covers
	Quick     bool   // of a quick look: one run, no band
}

// Figure is one figure of a response, proposed beside as found, in SI units.
type Figure struct {
	Name     string // "rise"
	Quantity quantity.Dimension
	Proposed Range
	AsFound  *Range
}

// situation is a scenario ready to run.
type situation struct {
	Scenario
	begin, duration float64 // s; figures and courses count from begin
	from, to        float64 // of the step, equal where there is none
	run             func(m *plant.Model, l law.Loops) sim.Run
	reference       func(t float64) float64
	load            func(t float64) float64 // N; nil for none
}

// Scenarios lists what can be simulated for the proposal, the usual one first.
func Scenarios(p *plant.Plant, t *Proposal) []Scenario {
	d, err := respondDesign(p, t)
	if err != nil {
		return nil
	}
	var list []Scenario
	for _, s := range d.situations(t) {
		list = append(list, s.Scenario)
	}
	return list
}

// respondDesign is the design of the proposal's own model, what-if included.
func respondDesign(p *plant.Plant, t *Proposal) (*design, error) {
	changed := *p
	changed.Model = t.Model
	return newDesign(&changed, DefaultOptions())
}

// responseDraws is the number of models drawn for a response's band, fewer than a
// proposal's so that a turn of a knob shows at once.
const responseDraws = 12

// Respond simulates the scenario of that ID with the proposal's settings, with a
// band from parameter draws, and with those in asFound where not nil. It returns
// an error where the proposal holds no settings for it, or that of the context.
func Respond(ctx context.Context, p *plant.Plant, t *Proposal, asFound *law.Loops, id string) (*Response, error) {
	d, err := respondDesign(p, t)
	if err != nil {
		return nil, err
	}
	for _, s := range d.situations(t) {
		if s.ID == id {
			return d.respond(ctx, s, t, asFound, d.draws[:min(responseDraws, len(d.draws))])
		}
	}
	return nil, fmt.Errorf("tuning: no scenario %q for this proposal", id)
}

// respond runs a situation on the model and on those drawn. Without draws there is
// no band, and the figures are those of the one run.
func (d *design) respond(ctx context.Context, s situation, t *Proposal, asFound *law.Loops, draws []plant.Model) (*Response, error) {
	proposed := t.Loops
	runs := make([]sim.Run, len(draws)+2)
	compare := asFound != nil && asFound.Position != nil && (!s.Force || asFound.Force != nil)
	sim.Each(len(runs), func(i int) {
		switch {
		case ctx.Err() != nil:
		case i == 0:
			runs[i] = s.run(&d.likely, proposed)
		case i == 1 && compare:
			runs[i] = s.run(&d.likely, withPeriod(*asFound, proposed.Position.Period))
		case i > 1:
			runs[i] = s.run(&draws[i-2], proposed)
		}
	})
	if err := ctx.Err(); err != nil {
		return nil, err
	}
	r := &Response{Scenario: s.Scenario, Start: s.begin - sim.Rest, Period: runs[0].Period,
		Note: fmt.Sprintf("Band: the fitted model and %d drawn from its intervals.", len(draws))}
	first := int(math.Round(s.begin / r.Period))
	r.Proposed = course(&runs[0], first, s.Force)
	for i := range r.Proposed.Output {
		t := float64(first+i) * r.Period
		r.Reference = append(r.Reference, s.reference(t))
		if s.load != nil {
			r.Load = append(r.Load, s.load(t))
		}
	}
	if len(draws) > 0 {
		r.Proposed.band(runs[2:], first, s.Force)
	}
	figures := make([][]Figure, len(runs))
	for i := range runs {
		if i != 1 || compare {
			figures[i] = d.figuresFor(s, &runs[i], first)
		}
	}
	r.Figures = figures[0]
	for k := range r.Figures {
		for _, f := range figures[2:] {
			r.Figures[k].Proposed.Low = min(r.Figures[k].Proposed.Low, f[k].Proposed.Value)
			r.Figures[k].Proposed.High = max(r.Figures[k].Proposed.High, f[k].Proposed.Value)
		}
	}
	if len(draws) > 0 {
		r.asPredicted(t.Predicted)
	}
	if compare {
		found := course(&runs[1], first, s.Force)
		r.AsFound = &found
		for k := range r.Figures {
			value := figures[1][k].Proposed
			r.Figures[k].AsFound = &value
		}
	}
	return r, nil
}

// withPeriod runs settings at the proposal's period (s), so that both courses share their samples.
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

// asPredicted takes the bands of a step that the proposal predicts, which hold
// the model's own error on top of the draws'.
func (r *Response) asPredicted(steps []Step) {
	for _, p := range steps {
		if r.Scenario.ID != stepID(p.Direction) || p.Loop != "position" {
			continue
		}
		known := map[string]Range{"rise": p.Rise, "settling": p.Settling, "overshoot": p.Overshoot,
			"final error": p.FinalError, "peak motor speed": p.PeakSpeed, "peak pressure": p.PeakPressure}
		for k := range r.Figures {
			if predicted, ok := known[r.Figures[k].Name]; ok {
				r.Figures[k].Proposed = predicted
			}
		}
	}
}

func stepID(d plant.Direction) string { return "step_" + d.String() }

func output(run *sim.Run, force bool) []float64 {
	if force {
		return run.Force
	}
	return run.Position
}

func course(run *sim.Run, first int, force bool) Course {
	return Course{Output: output(run, force)[first:], Speed: run.MotorSpeed[first:], CapPressure: run.CapPressure[first:], RodPressure: run.RodPressure[first:]}
}

// band fills in the range over the course and those of the draws.
func (c *Course) band(runs []sim.Run, first int, force bool) {
	c.Low, c.High = append([]float64(nil), c.Output...), append([]float64(nil), c.Output...)
	for i := range runs {
		y := output(&runs[i], force)
		for k := range c.Output {
			if first+k < len(y) {
				c.Low[k], c.High[k] = min(c.Low[k], y[first+k]), max(c.High[k], y[first+k])
			}
		}
	}
}

// figuresFor measures one run.
func (d *design) figuresFor(s situation, run *sim.Run, first int) []Figure {
	y := output(run, s.Force)[first:]
	exact := func(v float64) Range { return Range{v, v, v} }
	length := quantity.Length
	if s.Force {
		length = quantity.Force
	}
	var list []Figure
	if s.from != s.to {
		f := sim.StepFigures(y, run.Period, s.from, s.to, 0.02)
		list = append(list, Figure{Name: "rise", Quantity: quantity.Time, Proposed: exact(f.Rise)}, Figure{Name: "settling", Quantity: quantity.Time, Proposed: exact(f.Settling)},
			Figure{Name: "overshoot", Quantity: quantity.Percent, Proposed: exact(f.Overshoot)})
	} else {
		worst, top := 0.0, 0.0
		for i, v := range y {
			worst = max(worst, math.Abs(s.reference(float64(first+i)*run.Period)-v))
			top = max(top, math.Abs(v))
		}
		if s.Force {
			list = append(list, Figure{Name: "peak force", Quantity: quantity.Force, Proposed: exact(top)})
		} else {
			list = append(list, Figure{Name: "largest error", Quantity: quantity.Length, Proposed: exact(worst)})
		}
	}
	last := s.reference(float64(first+len(y)-1) * run.Period)
	list = append(list, Figure{Name: "final error", Quantity: length, Proposed: exact(math.Abs(last - y[len(y)-1]))},
		Figure{Name: "peak motor speed", Quantity: quantity.AngularSpeed, Proposed: exact(run.PeakSpeed)})
	if d.p.PressuresSeen {
		list = append(list, Figure{Name: "peak pressure", Quantity: quantity.Pressure, Proposed: exact(run.PeakPressure)})
	}
	return list
}
