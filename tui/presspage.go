package tui

import (
	"fmt"

	"eha/strokewise/ident/quantity"
	"eha/strokewise/tuning"
)

// pressPage lists what is predicted of pressing: contact, running on, the loss of
// contact, each with what it does to force, rod and oil.
func pressPage(a *App, width, _ int) []string {
	t := a.work.Proposal
	switch {
	case len(t.Events) == 0 && t.NotProposed["force"] != "":
		return wrap("Nothing to predict without a force loop: "+a.units.say(t.NotProposed["force"]), width)
	case len(t.Events) == 0:
		return wrap("Nothing is predicted: no log shows what the rod presses on, and no contact is stated.", width)
	}
	lines := wrap("Simulated with friction that sticks; bands in brackets. 4 shows them over time, c goes through the scenarios.", width)
	for _, e := range t.Events {
		for _, l := range hang("", a.units.say(e.Scenario.Title), width) {
			lines = append(lines, a.styles.strong.draw(l))
		}
		for _, row := range pressFigures(a.units, e) {
			lines = append(lines, hang("  "+cell(row[0], 14), row[1], width)...)
		}
	}
	return lines
}

// pressFigures are the figures of one event with their names.
func pressFigures(u units, e tuning.PressEvent) [][2]string {
	rows := [][2]string{
		{"piston up to", u.span(e.PeakForce, quantity.Force)},
		{"work up to", u.span(e.PeakWork, quantity.Force)},
		{"rod speed", u.span(e.RodSpeed, quantity.Speed)},
		{" at its peak", u.span(e.Thrown, quantity.Speed)},
		{"hand-overs", times(e.HandOvers)},
		{"bounces", times(e.Bounces)},
	}
	if e.Error.Value > 0 {
		rows = append(rows, [2]string{"force off by", u.span(e.Error, quantity.Force)})
	}
	where := " beyond the contact"
	rests := e.Rests
	if rests.Value < 0 {
		where = " clear of it"
		rests = tuning.Range{Value: -rests.Value, Low: -rests.High, High: -rests.Low}
	}
	return append(rows, [2]string{"the rod rests", u.span(rests, quantity.Length) + where})
}

// times writes how often something happens, with its band.
func times(r tuning.Range) string { return fmt.Sprintf("%.0f (%.0f to %.0f)", r.Value, r.Low, r.High) }
