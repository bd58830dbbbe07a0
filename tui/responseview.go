package tui

import (
	"fmt"
	"slices"

	"eha/strokewise/ident/quantity"
	"eha/strokewise/tui/chart"
)

// sceneLine says which scenario of how many is in view.
func (s *responseScreen) sceneLine(a *App, width int) string {
	now, _ := a.scene()
	what := "scenario"
	if _, replays := a.replaying(); replays {
		what = now.Title + ","
	}
	return cell(fmt.Sprintf("%s %d of %d, c for the next", what, 1+slices.Index(a.scenes, now), len(a.scenes)), width)
}

// responsePlotsOf are the output, motor speed and pressures over the same time.
func responsePlotsOf(u units, r *Response) []chart.Plot {
	d, name := quantity.Length, "rod position"
	if r.Scenario.Force {
		d, name = quantity.Force, "force"
	}
	series := func(name string, y []float64, d Quantity, shape chart.Shape, ink chart.Ink) chart.Series {
		return chart.Series{Name: name, Y: u.all(y, d), Start: r.Start, Step: r.Period, Shape: shape, Ink: ink}
	}
	proposed := "proposed"
	if r.Quick {
		proposed = "quick look"
	}
	time := chart.Axis{Label: "time (s)"}
	out := chart.Plot{X: time, Y: chart.Axis{Label: u.label(name, d)}, Series: []chart.Series{series("wanted", r.Reference, d, chart.Dotted, chart.InkText)}}
	speed := chart.Plot{X: time, Y: chart.Axis{Label: u.label("motor speed", quantity.AngularSpeed)}}
	pressure := chart.Plot{X: time, Y: chart.Axis{Label: u.label("pressure", quantity.Pressure)}}
	if len(r.Proposed.Low) > 0 {
		out.Bands = []chart.Band{{Low: u.all(r.Proposed.Low, d), High: u.all(r.Proposed.High, d), Start: r.Start, Step: r.Period}}
	}
	if f := r.AsFound; f != nil {
		out.Series = append(out.Series, series("as found", f.Output, d, chart.Dashed, chart.InkA))
		speed.Series = append(speed.Series, series("as found", f.Speed, quantity.AngularSpeed, chart.Dashed, chart.InkA))
	}
	out.Series = append(out.Series, series(proposed, r.Proposed.Output, d, chart.Solid, chart.InkB))
	speed.Series = append(speed.Series, series(proposed, r.Proposed.Speed, quantity.AngularSpeed, chart.Solid, chart.InkB))
	pressure.Series = append(pressure.Series, series("cap side", r.Proposed.CapPressure, quantity.Pressure, chart.Solid, chart.InkB), series("rod side", r.Proposed.RodPressure, quantity.Pressure, chart.Dashed, chart.InkB))
	plots := []chart.Plot{out}
	if len(r.Proposed.Speed) > 0 {
		plots = append(plots, speed)
	}
	if len(r.Proposed.CapPressure) > 0 {
		plots = append(plots, pressure)
	}
	return plots
}

// figures is the table under the plots.
func (s *responseScreen) figures(a *App, width int) []string {
	r := a.work.Response
	third := (width - 20) / 2
	name := "proposed (band)"
	if r.Quick {
		name = "quick look (no band)"
	}
	head := cell("", 20) + cell(name, third)
	if r.AsFound != nil {
		head += cell("as found", third)
	}
	lines := []string{a.styles.strong.draw(cell(head, width))}
	for _, f := range r.Figures {
		line := cell(f.Name, 20) + a.styles.computed.draw(cell(a.units.span(f.Proposed, f.Quantity), third))
		if f.AsFound != nil {
			line += cell(a.units.span(*f.AsFound, f.Quantity), third)
		}
		lines = append(lines, line)
	}
	if r.Note != "" {
		lines = append(lines, a.styles.faint.draw(cell(r.Note, width)))
	}
	return lines
}
