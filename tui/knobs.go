package tui

import (
	"fmt"
	"math"
	"strings"

	"github.com/charmbracelet/bubbles/key"
	tea "github.com/charmbracelet/bubbletea"

	"eha/strokewise/ident/machine"
	"eha/strokewise/ident/quantity"
	"eha/strokewise/tuning"
)

// knob is one thing a user may ask of the proposal, in a quantity of the trade.
type knob struct {
	name  string
	value func(a *App) string
	// turn changes the options by so many steps; a knob that cannot be turned with
	// this plant leaves them and says why in the notice.
	turn func(a *App, steps int)
	// reset takes the knob back to where it started.
	reset func(o *tuning.Options, d *tuning.Options)
}

// knobs are the knobs of the Loops and Response screens, shared so that the
// response moves with them.
var knobs = []knob{
	{"gain share", func(a *App) string { return fmt.Sprintf("%.0f %%", 100*a.work.Options.GainShare) },
		func(a *App, n int) { a.work.Options.GainShare = step(a.work.Options.GainShare, 0.05, n, 0.05, 1) },
		func(o, d *tuning.Options) { o.GainShare = d.GainShare }},
	{"margin asked", func(a *App) string { return fmt.Sprintf("%.1f dB", decibels(a.work.Options.Targets.GainMargin)) },
		func(a *App, n int) {
			t := &a.work.Options.Targets.GainMargin
			*t = ratio(step(decibels(*t), 0.5, n, 6, 20))
		},
		func(o, d *tuning.Options) { o.Targets.GainMargin = d.Targets.GainMargin }},
	{"mass", whatIf(func(o *tuning.Options) *float64 { return o.WhatIf.Mass }, quantity.Mass), turnMass,
		func(o, d *tuning.Options) { o.WhatIf.Mass = nil }},
	{"load", whatIf(func(o *tuning.Options) *float64 { return o.WhatIf.Load }, quantity.Force), turnLoad,
		func(o, d *tuning.Options) { o.WhatIf.Load = nil }},
	{"hose volume", whatIf(func(o *tuning.Options) *float64 { return o.WhatIf.LineVolume }, quantity.Volume), turnHose,
		func(o, d *tuning.Options) { o.WhatIf.LineVolume = nil }},
	{"outer delay", whatIf(func(o *tuning.Options) *float64 { return o.WhatIf.OuterDelay }, quantity.Time), turnDelay,
		func(o, d *tuning.Options) { o.WhatIf.OuterDelay = nil }},
	{"scale", func(a *App) string {
		if s := a.work.Options.Scale; s != machine.ScaleUnknown {
			return s.String()
		}
		return "as held"
	}, func(a *App, n int) {
		a.work.Options.Scale = machine.Scale(turnRound(int(a.work.Options.Scale), n, int(machine.ScaleTable)+1))
	}, func(o, d *tuning.Options) { o.Scale = d.Scale }},
	{"integral", func(a *App) string { return capabilityWords[a.work.Options.Integral] },
		func(a *App, n int) {
			a.work.Options.Integral = machine.Capability(turnRound(int(a.work.Options.Integral), n, 3))
		},
		func(o, d *tuning.Options) { o.Integral = d.Integral }},
	{"press damping", func(a *App) string { return capabilityWords[a.work.Options.PressureDamping] },
		func(a *App, n int) {
			a.work.Options.PressureDamping = machine.Capability(turnRound(int(a.work.Options.PressureDamping), n, 3))
		},
		func(o, d *tuning.Options) { o.PressureDamping = d.PressureDamping }},
}

var capabilityWords = [...]string{"if it pays", "off", "on"}

// step moves v by n steps on the grid of the step, inside the limits.
func step(v, size float64, n int, low, high float64) float64 {
	return math.Min(math.Max((math.Round(v/size)+float64(n))*size, low), high)
}

func turnRound(at, n, of int) int { return ((at+n)%of + of) % of }

// whatIf shows a change to the plant, or that there is none.
func whatIf(of func(*tuning.Options) *float64, d Quantity) func(*App) string {
	return func(a *App) string {
		if v := of(&a.work.Options); v != nil {
			return a.units.show(*v, d)
		}
		return "as found"
	}
}

// turnMass moves the mass by a twentieth of the mass found.
func turnMass(a *App, n int) {
	p := a.work.Plant
	if !p.MassKnown {
		a.notice = "The mass is unknown, so it cannot be changed: give bore and rod in the machine file and log pulses"
		return
	}
	turnWhatIf(&a.work.Options.WhatIf.Mass, p.Model.Mass, p.Model.Mass/20, n, p.Model.Mass/5, 10*p.Model.Mass)
}

// turnLoad moves the process load by a round share of the largest force seen.
func turnLoad(a *App, n int) {
	p := a.work.Plant
	if !p.AreasKnown {
		a.notice = "Forces are unknown without bore and rod in the machine file, so the load cannot be changed"
		return
	}
	size := math.Max(math.Abs(p.Seen.Force[0]), math.Abs(p.Seen.Force[1]))
	size = math.Max(math.Pow(10, math.Floor(math.Log10(math.Max(size, 1000)))-1), 100)
	most := math.Max(p.Machine.Limits.Force, 100*size)
	turnWhatIf(&a.work.Options.WhatIf.Load, 0, size, n, -most, most)
}

// turnHose adds volume to each chamber in twentieths of a litre.
func turnHose(a *App, n int) {
	if !a.work.Plant.AreasKnown {
		a.notice = "Volumes are unknown without bore and rod in the machine file, so the hoses cannot be changed"
		return
	}
	turnWhatIf(&a.work.Options.WhatIf.LineVolume, 0, 0.05e-3, n, 0, 20e-3)
}

func turnDelay(a *App, n int) {
	turnWhatIf(&a.work.Options.WhatIf.OuterDelay, a.work.Plant.Model.OuterDelay, 0.5e-3, n, 0, 0.1)
}

// turnWhatIf steps a value that begins as found.
func turnWhatIf(v **float64, found, size float64, n int, low, high float64) {
	at := found
	if *v != nil {
		at = **v
	}
	at = math.Min(math.Max(at+float64(n)*size, low), high)
	if math.Abs(at-found) < size/1000 {
		*v = nil
		return
	}
	*v = &at
}

// board is the knobs' panel; the Loops and Response screens share its place.
type board struct{ at int }

// knobColumns returns the number of knobs in a row.
func knobColumns(width int) int { return min(max(width/27, 3), 5) }

// lines shows every knob with where it stands; the one in hand is marked.
func (b *board) lines(a *App, width int) []string {
	columns := knobColumns(width)
	w := width / columns
	var lines []string
	line := ""
	for i, k := range knobs {
		text := cell(k.name, 13) + " " + flush(k.value(a), w-16)
		if i == b.at {
			line += a.styles.here.draw("<"+text+">") + strings.Repeat(" ", max(w-2-narrow.StringWidth(text), 0))
		} else {
			line += cell(" "+text, w)
		}
		if (i+1)%columns == 0 || i == len(knobs)-1 {
			lines = append(lines, line)
			line = ""
		}
	}
	return lines
}

// one shows the knob in hand alone.
func (b *board) one(a *App) string {
	return "<" + knobs[b.at].name + ": " + knobs[b.at].value(a) + ">"
}

// keys are the keys that work the knobs.
func (b *board) keys() []key.Binding {
	return []key.Binding{shown(keyUp, "arrows", "knob, turn")}
}

// press works the knobs; handled is false for other keys.
func (b *board) press(a *App, msg tea.KeyMsg) (cmd tea.Cmd, handled bool) {
	if a.work.Plant == nil {
		return nil, false
	}
	switch {
	case key.Matches(msg, keyUp):
		b.at = turnRound(b.at, -1, len(knobs))
	case key.Matches(msg, keyDown):
		b.at = turnRound(b.at, 1, len(knobs))
	case key.Matches(msg, keyLeft):
		return b.turn(a, -1), true
	case key.Matches(msg, keyRight):
		return b.turn(a, 1), true
	case key.Matches(msg, keyDefault):
		knobs[b.at].reset(&a.work.Options, &a.defaults)
		return a.turned(), true
	default:
		return nil, false
	}
	return nil, true
}

func (b *board) turn(a *App, n int) tea.Cmd {
	before := a.work.Options
	if knobs[b.at].turn(a, n); a.work.Options == before {
		return nil
	}
	return a.turned()
}

// click takes the knob at a cell of the panel.
func (b *board) click(x, y, width int) bool {
	columns := knobColumns(width)
	i := y*columns + min(x/(width/columns), columns-1)
	if i < 0 || i >= len(knobs) {
		return false
	}
	b.at = i
	return true
}
