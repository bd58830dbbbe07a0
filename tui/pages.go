package tui

import (
	"fmt"
	"strings"

	"eha/strokewise/ident/quantity"
	"eha/strokewise/tuning/law"
)

// page is one view of what stands behind the settings.
type page struct {
	name  string
	lines func(a *App, width, height int) []string
	quick bool // holds for a quick look; the others are of the last proposal
}

var pages = []page{
	{"Margins", marginPage, true}, {"Plane", planePage, true}, {"Limits", limitPage, false}, {"Bring-up", bringUpPage, false}, {"Pressing", pressPage, false},
	{"Guards", guardPage, false}, {"Scale", scalePage, false}, {"Cautions", cautionPage, true},
}

func limitPage(a *App, width, _ int) []string {
	var lines []string
	first := len(a.work.Proposal.Foremost)
	for _, w := range a.work.Proposal.Foremost {
		lines = append(lines, hang("! ", a.units.say(w), width)...)
	}
	before := ""
	for _, l := range a.work.Proposal.Limits {
		if l.What != before {
			lines = append(lines, hang("- ", a.units.say(l.What), width)...)
			before = l.What
		}
		if l.Remedy != "" {
			lines = append(lines, hang("  remedy: ", fmt.Sprintf("%s, gain x %s", a.units.say(l.Remedy), digits(l.Gain, 3)), width)...)
		}
	}
	if len(a.work.Proposal.Limits) == 0 {
		lines = append(lines, wrap("Nothing is known to hold the loop back.", width)...)
	}
	for _, w := range a.work.Proposal.Warnings[first:] {
		lines = append(lines, hang("! ", a.units.say(w), width)...)
	}
	return lines
}

func bringUpPage(a *App, width, _ int) []string {
	var lines []string
	list := func(mark string, texts []string) {
		for _, t := range texts {
			lines = append(lines, hang(mark, a.units.say(t), width)...)
		}
	}
	for i, s := range a.work.Proposal.BringUp {
		for _, l := range hang(fmt.Sprintf("%d. ", i), a.units.say(s.Title), width) {
			lines = append(lines, a.styles.strong.draw(l))
		}
		if s.Settings != nil {
			mark := "   enter: "
			if i == 0 {
				mark = "   as found: "
			}
			list(mark, entered(a, s.Settings))
		}
		list("   do: ", s.Do)
		list("   see: ", s.Expect)
		list("   STOP IF: ", oneLine(s.StopIf))
		if s.Back != "" {
			list("   back: ", []string{s.Back})
		}
	}
	if len(lines) == 0 {
		return wrap("No steps: there is no position loop to bring up.", width)
	}
	return lines
}

// entered lists what a step of bringing up enters, in the form that gains are shown
// in: of the loop that it is about, what changes from step to step.
func entered(a *App, l *law.Loops) []string {
	u := a.units
	if f := l.Force; f != nil {
		return []string{fmt.Sprintf("force gain %s, integral %s, approach %s, speed limit in force %s", u.show(f.Kp, quantity.ForceGain), u.show(f.Ki, quantity.ForceGainRate),
			u.show(f.ApproachSpeed, quantity.Speed), u.show(f.SpeedLimit, quantity.AngularSpeed))}
	}
	if l.Position == nil {
		return nil
	}
	var list []string
	for _, s := range positionGains(u, l.Position, a.form, a.work.Proposal.Model.Stroke) {
		if s.retract != "" {
			list = append(list, fmt.Sprintf("%s extend %s, retract %s", s.name, s.extend, s.retract))
		}
	}
	return append(list, "speed limit "+u.show(l.Position.SpeedLimit, quantity.AngularSpeed))
}

// oneLine joins texts that read as one sentence; none stay none.
func oneLine(texts []string) []string {
	if len(texts) == 0 {
		return nil
	}
	return []string{strings.Join(texts, "; ")}
}

func guardPage(a *App, width, _ int) []string {
	g, u := a.work.Proposal.Guards, a.units
	var lines []string
	row := func(name, value string) { lines = append(lines, hang(cell(name, 18), value, width)...) }
	row("encoder mismatch", u.show(g.Mismatch, quantity.Length)+" in "+u.show(g.MismatchTime, quantity.Time))
	row(" with slip in it", u.show(g.PlainMismatch, quantity.Length)+" in "+u.show(g.MismatchTime, quantity.Time))
	for _, p := range g.FollowingError {
		row("following error", u.show(p.Y, quantity.Length)+" at "+u.show(p.X, quantity.Speed))
	}
	known := func(name string, v float64, d Quantity) {
		if v != 0 {
			row(name, u.show(v, d))
		} else {
			row(name, "not identified")
		}
	}
	known("force limit", g.ForceLimit, quantity.Force)
	known("pressure limit", g.PressureLimit, quantity.Pressure)
	known("torque limit", g.TorqueLimit, quantity.Torque)
	row("soft limits", u.show(g.SoftLow, quantity.Length)+" and "+u.show(g.SoftHigh, quantity.Length))
	for _, w := range g.Why {
		lines = append(lines, hang("- ", u.say(w), width)...)
	}
	return lines
}

func scalePage(a *App, width, _ int) []string {
	lines := wrap("The same relation of turns to stroke in other forms; take the one your controller holds.", width)
	for _, s := range a.work.Proposal.Scales {
		lines = append(lines, a.styles.strong.draw(cell(s.Form, width)))
		lines = append(lines, hang("  ", a.units.say(s.Text), width)...)
		left := fmt.Sprintf("leaves %s (%s ppm)", a.units.show(s.Error, quantity.Length), digits(s.ErrorPPM, 3))
		lines = append(lines, hang("  ", strings.TrimSuffix(left+". "+a.units.say(s.Note), ". "), width)...)
	}
	return lines
}

func cautionPage(a *App, width, _ int) []string {
	var lines []string
	for _, c := range a.work.Proposal.Cautions {
		lines = append(lines, hang("! ", a.units.say(c), width)...)
	}
	return lines
}
