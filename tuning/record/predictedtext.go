package record

import (
	"fmt"
	"math"

	"eha/strokewise/ident/quantity"
	"eha/strokewise/tuning"
)

func (p *page) predicted(t *tuning.Proposal, pressures bool) {
	if len(t.Predicted) == 0 {
		return
	}
	p.heading("Predicted steps (simulated; band from parameter draws and model error)")
	var rows [][]string
	for _, s := range t.Predicted {
		d := quantity.Length
		if s.Loop == "force" {
			d = quantity.Force
		}
		pressure := "not identified"
		if pressures {
			pressure = p.show(s.PeakPressure.Value, quantity.Pressure)
		}
		rows = append(rows, []string{fmt.Sprintf("%s %s to %s", s.Loop, p.show(s.From, d), p.show(s.To, d)),
			seconds(s.Rise), seconds(s.Settling),
			fmt.Sprintf("%.1f %% (%.1f .. %.1f)", 100*s.Overshoot.Value, 100*s.Overshoot.Low, 100*s.Overshoot.High),
			p.show(s.PeakSpeed.Value, quantity.AngularSpeed), pressure})
	}
	p.table([]string{"step", "rise", "settling 2 %", "overshoot", "peak speed", "peak pressure"}, rows)
}

// events lists what is predicted of pressing beside the steps.
func (p *page) events(t *tuning.Proposal) {
	if len(t.Events) == 0 {
		return
	}
	p.heading("Predicted while pressing (simulated with friction that sticks; bands in brackets)")
	var items []string
	for _, e := range t.Events {
		text := fmt.Sprintf("%s: force of the piston at most %s, on the work piece %s; rod speed %s, for a moment %s; rests %s beyond the contact; %s hand-overs, %s bounces",
			e.Scenario.Title, p.span(e.PeakForce, quantity.Force), p.span(e.PeakWork, quantity.Force), p.span(e.RodSpeed, quantity.Speed), p.show(e.Thrown.Value, quantity.Speed),
			p.show(e.Rests.Value, quantity.Length), counted(e.HandOvers), counted(e.Bounces))
		if e.Error.Value > 0 {
			text += "; force off its reference by " + p.span(e.Error, quantity.Force)
		}
		items = append(items, text)
	}
	p.list("-", items)
}

// span prints a figure with its band.
func (p *page) span(r tuning.Range, d quantity.Dimension) string {
	return fmt.Sprintf("%s (%s .. %s)", p.show(r.Value, d), p.show(r.Low, d), p.show(r.High, d))
}

// counted prints how often something happens, with its band.
func counted(r tuning.Range) string {
	return fmt.Sprintf("%.0f (%.0f .. %.0f)", r.Value, r.Low, r.High)
}

func seconds(r tuning.Range) string {
	one := func(v float64) string {
		if math.IsInf(v, 0) || math.IsNaN(v) {
			return "never"
		}
		return fmt.Sprintf("%.3f", v)
	}
	if math.IsInf(r.Value, 0) {
		return "does not settle"
	}
	return fmt.Sprintf("%s s (%s .. %s)", one(r.Value), one(r.Low), one(r.High))
}
