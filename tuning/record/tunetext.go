package record

import (
	"fmt"
	"io"
	"math"
	"strings"

	"eha/strokewise/ident/plant"
	"eha/strokewise/ident/quantity"
	"eha/strokewise/tuning"
	"eha/strokewise/tuning/law"
)

// WriteTune prints the proposal for a technician to act on: settings with their
// law, margins, what limits, predicted responses, guards, bring-up steps and
// cautions; or why there are none and what to log. It returns the writer's error.
func WriteTune(w io.Writer, t *tuning.Proposal, source *plant.Plant, system quantity.System) error {
	page := &page{system: system}
	page.head("Loop settings", source)
	page.list("!", []string{tuning.ShortCaution})
	page.refitted(source)
	page.position(t, source)
	page.force(t)
	page.margins(t)
	page.predicted(t, source.PressuresSeen)
	page.events(t)
	page.limits(t)
	page.scales(t)
	page.forms(t)
	page.guards(&t.Guards)
	page.bringUp(t)
	page.minds(t.Warnings[len(t.Foremost):], source.Warnings)
	page.heading("Cautions")
	page.list("!", t.Cautions)
	return page.writeText(w)
}

func (p *page) position(t *tuning.Proposal, source *plant.Plant) {
	p.heading("Position loop")
	s := t.Loops.Position
	if s == nil {
		p.list("-", []string{"not proposed: " + t.NotProposed["position"]})
		return
	}
	p.list("!", t.Foremost)
	p.line("n = lowpass( (kp e + I + ff r') turns - damping )   e = r - x; kp by the sign of e, turns by the sign of the demand")
	p.table([]string{"", "extend", "retract"}, p.positionRows(s))
}

func (p *page) positionRows(s *law.Position) [][]string {
	rows := [][]string{
		{"kp", p.show(s.Kp.Extend, quantity.Rate), p.show(s.Kp.Retract, quantity.Rate)},
		{"ki", p.show(s.Ki.Extend, quantity.RatePerTime), p.show(s.Ki.Retract, quantity.RatePerTime)},
	}
	if s.Table == nil {
		name := "turns per travel"
		if s.ByChamber {
			name = "turns per travel, cap / rod side holding"
		}
		rows = append(rows, []string{name, exact(s.Turns.Extend, p.system), exact(s.Turns.Retract, p.system)})
	}
	rows = append(rows, []string{"velocity feed-forward", quantity.Digits(s.Feedforward, 3)})
	if s.Lowpass > 0 {
		rows = append(rows, []string{"low-pass on the demand", p.show(s.Lowpass*toHz, quantity.Frequency)})
	}
	if s.PressureDamping > 0 {
		rows = append(rows, []string{"pressure damping", p.show(s.PressureDamping, quantity.Slip)},
			[]string{"its high-pass", p.show(s.Highpass*toHz, quantity.Frequency)})
	}
	return append(rows,
		[]string{"speed limit", p.show(s.SpeedLimit, quantity.AngularSpeed)},
		[]string{"in-position window", p.show(s.Window, quantity.Length) + " for " + p.show(s.WindowTime, quantity.Time)},
		[]string{"loop period", milliseconds(s.Period)})
}

// exact prints a scale to the digits that a controller takes.
func exact(turns float64, system quantity.System) string {
	u := quantity.Display(quantity.TurnsPerTravel, system)
	return quantity.Digits(u.From(turns), 6) + " " + u.Symbol
}

func (p *page) force(t *tuning.Proposal) {
	p.heading("Force loop")
	s := t.Loops.Force
	if s == nil {
		p.list("-", []string{"not proposed: " + t.NotProposed["force"]})
		return
	}
	selector := "the smaller of both speed commands drives"
	if s.Presses == plant.Retract {
		selector = "the larger of both speed commands drives"
	}
	p.line("n = kp (F_ref - F) + I, pressing while %sing; %s", s.Presses, selector)
	rows := [][]string{
		{"kp", p.show(s.Kp, quantity.ForceGain)}, {"ki", p.show(s.Ki, quantity.ForceGainRate)},
		{"speed limit", p.show(s.SpeedLimit, quantity.AngularSpeed)},
		{"approach speed", p.show(s.ApproachSpeed, quantity.Speed)},
		{"travel limit beyond contact", p.show(s.TravelLimit, quantity.Length)},
	}
	if s.Lowpass > 0 {
		rows = append(rows, []string{"force low-pass", p.show(s.Lowpass*toHz, quantity.Frequency)})
	}
	p.table(nil, rows)
}

func (p *page) margins(t *tuning.Proposal) {
	if len(t.Margins) == 0 {
		return
	}
	p.heading("Margins, over every place, direction, load and draw of the fit")
	p.line("asked: sensitivity peak at most %.2f, gain margin at least %s, phase margin at least %.0f deg",
		t.Targets.SensitivityPeak, decibelText(t.Targets.GainMargin), t.Targets.PhaseMargin*180/math.Pi)
	var rows [][]string
	for _, loop := range []string{"position", "force"} {
		if m, ok := t.Worst[loop]; ok {
			rows = append(rows, p.marginRow(m))
		}
	}
	p.table(marginHeader("worst point"), rows)
	for _, loop := range []string{"position", "force"} {
		if m, ok := t.Worst[loop]; ok && m.Why != "" {
			p.list(" ", []string{loop + ": " + m.Why})
		}
	}
}

func marginHeader(first string) []string {
	return []string{first, "position", "load", "gain margin", "phase margin", "peak", "delay margin"}
}

func (p *page) marginRow(m tuning.Margin) []string {
	load := fmt.Sprintf("%.2g x mass", m.MassFactor)
	if m.Mass > 0 {
		load = p.show(m.Mass, quantity.Mass)
	}
	phase := "none"
	if !math.IsInf(m.PhaseMargin, 0) {
		phase = fmt.Sprintf("%.0f deg", m.PhaseMargin*180/math.Pi)
	}
	delay := "none"
	if !math.IsInf(m.DelayMargin, 0) {
		delay = fmt.Sprintf("%.1f ms", 1e3*m.DelayMargin)
	}
	return []string{fmt.Sprintf("%s %s, %s side", m.Loop, m.Direction, m.Chamber), p.show(m.Position, quantity.Length), load,
		decibelText(m.GainMargin), phase, fmt.Sprintf("%.2f", m.Sensitivity), delay}
}

func (p *page) limits(t *tuning.Proposal) {
	if len(t.Limits) == 0 {
		return
	}
	p.heading("What limits, and what a remedy would bring")
	var items []string
	before := ""
	for _, l := range t.Limits {
		if l.What != before {
			items = append(items, l.What)
			before = l.What
		}
		if l.Remedy != "" {
			items[len(items)-1] += fmt.Sprintf("; %s: loop gain x %.2f", l.Remedy, l.Gain)
		}
	}
	p.list("-", items)
}

func (p *page) scales(t *tuning.Proposal) {
	if len(t.Scales) == 0 {
		return
	}
	p.heading("Turns to stroke, in the forms that controllers hold")
	for _, s := range t.Scales {
		p.list("-", []string{fmt.Sprintf("%s: %s; leaves %.0f ppm, %s over the stroke. %s", s.Form, s.Text, s.ErrorPPM, p.show(s.Error, quantity.Length), s.Note)})
	}
}

func (p *page) forms(t *tuning.Proposal) {
	if len(t.Forms) == 0 {
		return
	}
	p.heading("The same gains in other forms")
	for _, f := range t.Forms {
		p.list("-", []string{fmt.Sprintf("%s, %s: %s (%s)", f.Loop, f.Form, f.Text, f.Law)})
	}
}

func (p *page) guards(g *tuning.Guards) {
	if g.MismatchTime == 0 && len(g.Why) == 0 {
		return
	}
	p.heading("Guards")
	rows := [][]string{
		{"encoder against transducer", p.show(g.Mismatch, quantity.Length) + " gathered over " + p.show(g.MismatchTime, quantity.Time) + ", slip taken out"},
		{"the same, slip not taken out", p.show(g.PlainMismatch, quantity.Length)},
		{"soft limits", p.show(g.SoftLow, quantity.Length) + " and " + p.show(g.SoftHigh, quantity.Length)},
	}
	for _, f := range g.FollowingError {
		rows = append(rows, []string{"following error at " + p.show(f.X, quantity.Speed), p.show(f.Y, quantity.Length)})
	}
	for _, l := range []struct {
		name  string
		value float64
		d     quantity.Dimension
	}{{"force limit", g.ForceLimit, quantity.Force}, {"pressure limit", g.PressureLimit, quantity.Pressure}, {"torque limit", g.TorqueLimit, quantity.Torque}} {
		if l.value > 0 {
			rows = append(rows, []string{l.name, p.show(l.value, l.d)})
		}
	}
	p.table(nil, rows)
	p.list(" ", g.Why)
}

func (p *page) bringUp(t *tuning.Proposal) {
	if len(t.BringUp) == 0 {
		return
	}
	p.heading("Bring-up, from timid to proposed")
	for i, b := range t.BringUp {
		p.step(fmt.Sprintf("%d. %s", i, b.Title), p.stepGroups(b))
	}
}

func (p *page) stepGroups(b tuning.BringUpStep) []group {
	groups := []group{{"do", b.Do, true}}
	if s := b.Settings; s != nil && s.Position != nil {
		text := fmt.Sprintf("kp %s / %s, ki %s / %s, speed limit %s", p.show(s.Position.Kp.Extend, quantity.Rate), p.show(s.Position.Kp.Retract, quantity.Rate),
			p.show(s.Position.Ki.Extend, quantity.RatePerTime), p.show(s.Position.Ki.Retract, quantity.RatePerTime), p.show(s.Position.SpeedLimit, quantity.AngularSpeed))
		if f := s.Force; f != nil {
			text += fmt.Sprintf("; force kp %s, ki %s", p.show(f.Kp, quantity.ForceGain), p.show(f.Ki, quantity.ForceGainRate))
		}
		groups = append(groups, group{"enter", []string{text}, true})
	}
	groups = append(groups, group{"expect", b.Expect, true})
	if len(b.StopIf) > 0 {
		groups = append(groups, group{"stop if", []string{strings.Join(b.StopIf, "; ")}, false})
	}
	if b.Back != "" {
		groups = append(groups, group{"back", []string{b.Back}, false})
	}
	return groups
}
