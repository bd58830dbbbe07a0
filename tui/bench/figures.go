package bench

import (
	"fmt"
	"math"

	"eha/strokewise/ident/quantity"
	"eha/strokewise/tui"
	"eha/strokewise/tuning"
	"eha/strokewise/tuning/sim"
)

// shown returns the part of a run that is plotted.
func shown(y []float64, period float64) []float64 {
	return y[min(int(math.Round((sim.Rest-before)/period)), len(y)):]
}

func (st *story) output(r *sim.Run) []float64 {
	if st.force {
		return r.Force
	}
	return r.Position
}

func (st *story) course(r *sim.Run) tui.Course {
	return tui.Course{Output: shown(st.output(r), r.Period), Speed: shown(r.MotorSpeed, r.Period),
		CapSide: shown(r.CapPressure, r.Period), RodSide: shown(r.RodPressure, r.Period)}
}

// reference is what was asked for, sample by sample.
func (st *story) reference(r *sim.Run) []float64 {
	wanted := make([]float64, len(r.Position))
	for i := range wanted {
		d := st.demand(float64(i) * r.Period)
		wanted[i] = d.Position
		if st.force {
			wanted[i] = d.Force
		}
	}
	return shown(wanted, r.Period)
}

// band is the least and greatest output over the runs, sample by sample.
func (st *story) band(runs []sim.Run) (low, high []float64) {
	for k := range runs {
		y := shown(st.output(&runs[k]), runs[k].Period)
		if k == 0 {
			low, high = append(low, y...), append(high, y...)
			continue
		}
		for i := range min(len(y), len(low)) {
			low[i], high[i] = math.Min(low[i], y[i]), math.Max(high[i], y[i])
		}
	}
	return low, high
}

// figures are those of the proposal itself for its standard steps, so that screen
// and record never differ; for the other scenarios they follow from these runs.
func (st *story) figures(t *tuning.Proposal, id string, runs []sim.Run, was *sim.Run) []tui.Figure {
	for i, s := range t.Predicted {
		if s.Loop == "position" && id == fmt.Sprintf("step %d", i) {
			return stepFigures(s, was)
		}
	}
	var list []tui.Figure
	add := func(name string, d tui.Quantity, figure func(r *sim.Run) float64) {
		list = append(list, over(name, d, runs, was, figure))
	}
	if st.force {
		add("largest force", quantity.Force, func(r *sim.Run) float64 { return largest(r.Force) })
	} else {
		add("largest error", quantity.Length, st.largestError)
		add("final error", quantity.Length, st.finalError)
	}
	add("peak motor speed", quantity.AngularSpeed, func(r *sim.Run) float64 { return r.PeakSpeed })
	add("peak pressure", quantity.Pressure, func(r *sim.Run) float64 { return r.PeakPressure })
	return list
}

// stepFigures shows a predicted step, with the as-found run's figures beside it.
func stepFigures(s tuning.Step, was *sim.Run) []tui.Figure {
	list := []tui.Figure{
		{Name: "rise", Quantity: quantity.Time, Proposed: s.Rise},
		{Name: "settling", Quantity: quantity.Time, Proposed: s.Settling},
		{Name: "overshoot", Quantity: quantity.Percent, Proposed: s.Overshoot},
		{Name: "final error", Quantity: quantity.Length, Proposed: s.FinalError},
		{Name: "peak motor speed", Quantity: quantity.AngularSpeed, Proposed: s.PeakSpeed},
		{Name: "peak pressure", Quantity: quantity.Pressure, Proposed: s.PeakPressure},
	}
	if was == nil {
		return list
	}
	y := was.From(sim.Rest)
	f := sim.StepFigures(y, was.Period, s.From, s.To, 0.02)
	for i, v := range []float64{f.Rise, f.Settling, f.Overshoot, math.Abs(s.To - y[len(y)-1]), was.PeakSpeed, was.PeakPressure} {
		list[i].AsFound = &tuning.Range{Value: v, Low: v, High: v}
	}
	return list
}

// over is one figure of all runs: the fitted model's value within the range of all.
func over(name string, d tui.Quantity, runs []sim.Run, was *sim.Run, figure func(r *sim.Run) float64) tui.Figure {
	v := figure(&runs[0])
	r := tuning.Range{Value: v, Low: v, High: v}
	for i := range runs[1:] {
		x := figure(&runs[1+i])
		r.Low, r.High = math.Min(r.Low, x), math.Max(r.High, x)
	}
	f := tui.Figure{Name: name, Quantity: d, Proposed: r}
	if was != nil {
		w := figure(was)
		f.AsFound = &tuning.Range{Value: w, Low: w, High: w}
	}
	return f
}

// largestError is the largest distance (m) from the demand after it changed.
func (st *story) largestError(r *sim.Run) float64 {
	worst := 0.0
	for i := int(math.Round(sim.Rest / r.Period)); i < len(r.Position); i++ {
		worst = math.Max(worst, math.Abs(st.demand(float64(i)*r.Period).Position-r.Position[i]))
	}
	return worst
}

// finalError is the distance (m) from the demand at the end.
func (st *story) finalError(r *sim.Run) float64 {
	last := len(r.Position) - 1
	return math.Abs(st.demand(float64(last)*r.Period).Position - r.Position[last])
}

func largest(y []float64) float64 {
	worst := 0.0
	for _, v := range y {
		worst = math.Max(worst, math.Abs(v))
	}
	return worst
}
