package tui

import (
	"fmt"

	"github.com/charmbracelet/bubbles/key"
	tea "github.com/charmbracelet/bubbletea"

	"eha/strokewise/ident/plant"
	"eha/strokewise/ident/quantity"
	"eha/strokewise/tuning"
	"eha/strokewise/tuning/law"
)

// inUse asks for the position loop's settings that were in use when the logs were
// made, so that the closed-loop logs can be replayed under them.
type inUse struct {
	form typing
	base law.Position // what is not asked for
}

// inUseField is one setting asked for, in a unit of its own.
type inUseField struct {
	name  string
	least float64 // in the unit shown; below it the loop cannot be
	unit  float64 // SI value of one unit shown
	of    func(*law.Position) *float64
}

// inUseFields are the lines of the form in the order asked.
func inUseFields(u units) []inUseField {
	perLength := 1 / u.from(1, quantity.TurnsPerTravel)
	travel := u.symbol(quantity.TurnsPerTravel)
	const positive = 1e-12
	return []inUseField{
		{"gain extending (1/s)", positive, 1, func(p *law.Position) *float64 { return &p.Kp.Extend }},
		{"gain retracting (1/s)", positive, 1, func(p *law.Position) *float64 { return &p.Kp.Retract }},
		{"integral extending (1/s2)", 0, 1, func(p *law.Position) *float64 { return &p.Ki.Extend }},
		{"integral retracting (1/s2)", 0, 1, func(p *law.Position) *float64 { return &p.Ki.Retract }},
		{"feed-forward (0 to 1)", 0, 1, func(p *law.Position) *float64 { return &p.Feedforward }},
		{"turns extending (" + travel + ")", positive, perLength, func(p *law.Position) *float64 { return &p.Turns.Extend }},
		{"turns retracting (" + travel + ")", positive, perLength, func(p *law.Position) *float64 { return &p.Turns.Retract }},
		{"speed low-pass (Hz), 0 none", 0, 1 / hertz, func(p *law.Position) *float64 { return &p.Lowpass }},
		{"speed limit (rpm)", positive, 1 / u.from(1, quantity.AngularSpeed), func(p *law.Position) *float64 { return &p.SpeedLimit }},
		{"loop period (ms)", positive, 1e-3, func(p *law.Position) *float64 { return &p.Period }},
	}
}

// askInUse opens the question, with what is known filled in.
func (a *App) askInUse() {
	p := a.work.Plant
	if p == nil {
		a.notice = "Settings in use are asked for once there is a plant"
		return
	}
	f := &inUse{base: presumed(p, a.work.Proposal)}
	if found := a.work.Options.AsFound; found != nil && found.Position != nil {
		f.base = *found.Position
	}
	for _, field := range inUseFields(a.units) {
		text := digits(*field.of(&f.base)/field.unit, 5)
		if text == "0" && field.least > 0 {
			text = ""
		}
		f.form.entries = append(f.form.entries, entry{field.name, text})
	}
	a.over = f
}

// presumed are usual settings round the gains, which nobody knows but the user: the
// plant's own travel per turn, speed fed forward whole, limit and period as proposed.
func presumed(p *plant.Plant, t *tuning.Proposal) law.Position {
	set := law.Position{Feedforward: 1, Period: p.Model.ControllerPeriod, SpeedLimit: p.Machine.Motor.MaxSpeed}
	if t != nil && t.Loops.Position != nil {
		set.Period, set.SpeedLimit = t.Loops.Position.Period, t.Loops.Position.SpeedLimit
	}
	for d, param := range map[plant.Direction]plant.Param{plant.Extend: plant.StrokePerTurnExtend, plant.Retract: plant.StrokePerTurnRetract} {
		if e := p.Est(param); e.Known() && e.Value > 0 {
			set.Turns.Set(d, 1/e.Value)
		}
	}
	return set
}

func (f *inUse) title() string {
	return "Which settings were in use when these logs were made? Read them from the controller; they are not changed."
}

func (f *inUse) keys(*App) []key.Binding { return keysOfForm("replay with these") }

func (f *inUse) press(a *App, msg tea.KeyMsg) tea.Cmd {
	return f.form.answer(a, msg, f.apply)
}

// apply reads the form; the first line that cannot be goes in hand.
func (f *inUse) apply(a *App) tea.Cmd {
	set := f.base
	for i, field := range inUseFields(a.units) {
		v, ok := f.form.number(i)
		if !ok || !(v >= field.least) || v > 1e9 {
			f.form.take(i)
			need := "a number above zero is needed"
			if field.least == 0 {
				need = "a number is needed, zero or more"
			}
			f.form.problem = upper(field.name) + ": " + need + ", as the controller shows it."
			return nil
		}
		*field.of(&set) = v * field.unit
	}
	a.over = nil
	loops := law.Loops{Position: &set}
	if found := a.work.Options.AsFound; found != nil {
		loops.Force = found.Force
	}
	return a.useFound(&loops)
}

func (f *inUse) click(a *App, x, y, width, height int) tea.Cmd {
	f.form.take(y)
	return nil
}

func (f *inUse) view(a *App, width, height int) []string {
	lines := f.form.lines(a, width)
	note := "The outer delay is fitted with them, so wrong ones make the proposal wrong too. 1 (m/min)/mm is 16.67 1/s; a following error of 1 mm at 10 mm/s is 10 1/s. Gains and integral as in the law on the Loops screen; o also opens a file of settings."
	if f.base.Table != nil {
		note = "The table of turns along the stroke stays as the file of settings has it. " + note
	}
	lines = append(lines, "")
	for _, l := range wrap(a.units.say(note), width-4) {
		lines = append(lines, a.styles.faint.draw("  "+l))
	}
	return lines
}

// useFound takes settings as those in use when the logs were made. They tell the
// outer delay too, so the logs are fitted anew with them.
func (a *App) useFound(l *law.Loops) tea.Cmd {
	a.work.Options.AsFound = l
	a.unsaved["in use"] = !a.work.Demo
	a.request.InUse, a.tried.InUse = l, l
	if at := a.closedLoop(); len(at) > 0 {
		a.scenario = replayID(at[0])
	}
	if a.work.Demo || a.work.Logs == nil || len(a.work.Logs.Readings) == 0 {
		return a.propose(0)
	}
	// What runs on the logs as they were must not see them change.
	logs, own := *a.work.Logs, *a.work.Logs.Job
	own.AsFound = l
	logs.Job = &own
	a.work.Logs = &logs
	return a.fit()
}

// inUseText names the settings in use in a few words.
func inUseText(l *law.Loops) string {
	if l == nil || l.Position == nil {
		return "settings in use: not given"
	}
	return fmt.Sprintf("settings in use: gain %s / %s 1/s", digits(l.Position.Kp.Extend, 3), digits(l.Position.Kp.Retract, 3))
}
