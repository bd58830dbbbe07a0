package tui

import (
	"fmt"

	"eha/strokewise/ident/quantity"
	"eha/strokewise/tuning/law"
)

// form is a way that controllers hold the position gains.
type form int

// The forms.
const (
	formRate    form = iota // gain 1/s, integral gain 1/s²
	formTime                // gain 1/s, integral time s
	formSpeed               // motor speed per travel of error
	formPerUnit             // share of the speed limit per share of the stroke
	numForms
)

var formWords = [...]string{"gain in 1/s", "gain, integral time", "speed per error", "per unit"}

// setting is one line of what to type: one text, or one per direction.
type setting struct{ name, extend, retract string }

// settings lists what to type for one loop of a set in a form.
func settings(u units, l law.Loops, loop string, f form, stroke float64) []setting {
	switch {
	case loop == "force" && l.Force != nil:
		return forceSettings(u, l.Force)
	case loop == "position" && l.Position != nil:
		return append(positionGains(u, l.Position, f, stroke), positionRest(u, l.Position)...)
	}
	return nil
}

func pair(name string, extend, retract string) setting { return setting{name, extend, retract} }

func positionGains(u units, p *law.Position, f form, stroke float64) []setting {
	e, r := p.Kp.Extend, p.Kp.Retract
	ie, ir := p.Ki.Extend, p.Ki.Retract
	num := func(v float64) string { return digits(v, 4) }
	switch f {
	case formTime:
		ti := func(kp, ki float64) string {
			if ki == 0 {
				return "off"
			}
			return digits(kp/ki, 4)
		}
		return []setting{pair("gain (1/s)", num(e), num(r)), pair("integral time (s)", ti(e, ie), ti(r, ir))}
	case formSpeed:
		// rad/s per m -> rpm per unit of length on display.
		per := func(k, turns float64) string { return num(u.from(k*turns, quantity.AngularSpeed) * lengthUnit(u)) }
		unit := "rpm/" + u.symbol(quantity.Length)
		return []setting{pair("gain ("+unit+")", per(e, p.Turns.Extend), per(r, p.Turns.Retract)),
			pair("integral ("+unit+"/s)", per(ie, p.Turns.Extend), per(ir, p.Turns.Retract))}
	case formPerUnit:
		if stroke > 0 && p.SpeedLimit > 0 {
			per := func(k, turns float64) string { return num(k * turns * stroke / p.SpeedLimit) }
			return []setting{pair("gain (per unit)", per(e, p.Turns.Extend), per(r, p.Turns.Retract)),
				pair("integral (per unit/s)", per(ie, p.Turns.Extend), per(ir, p.Turns.Retract)),
				pair(" stroke as base", u.show(stroke, quantity.Length), "")}
		}
	}
	return []setting{pair("gain (1/s)", num(e), num(r)), pair("integral gain (1/s2)", num(ie), num(ir))}
}

// lengthUnit is one unit of length on display in m.
func lengthUnit(u units) float64 { return quantity.Display(quantity.Length, u.system).Factor }

func positionRest(u units, p *law.Position) []setting {
	num := func(v float64, d Quantity) string { return digits(u.from(v, d), 4) }
	list := []setting{
		pair("feed-forward of speed", digits(p.Feedforward, 3), ""),
		pair("turns ("+u.symbol(quantity.TurnsPerTravel)+")", num(p.Turns.Extend, quantity.TurnsPerTravel), num(p.Turns.Retract, quantity.TurnsPerTravel)),
	}
	switch {
	case p.Table != nil:
		list[1] = pair("turns", fmt.Sprintf("table of %d points", len(p.Table.Position)), "")
	case p.ByChamber:
		list[1].name = "turns, cap and rod side"
	}
	if p.PressureDamping != 0 {
		// rad/(s·Pa) is the dimension of slip.
		list = append(list, pair("pressure damping", u.show(p.PressureDamping, quantity.Slip), ""),
			pair(" its high-pass", u.show(p.Highpass*hertz, quantity.Frequency), ""))
	} else {
		list = append(list, pair("pressure damping", "off", ""))
	}
	low := "off"
	if p.Lowpass > 0 {
		low = u.show(p.Lowpass*hertz, quantity.Frequency)
	}
	return append(list,
		pair("speed low-pass", low, ""),
		pair("speed limit", u.show(p.SpeedLimit, quantity.AngularSpeed), ""),
		pair("in-position window", u.given(p.Window, quantity.Length), ""),
		pair(" held for", u.given(p.WindowTime, quantity.Time), ""),
		pair("loop period", u.show(p.Period*1e3, quantity.Number)+" ms", ""))
}

func forceSettings(u units, f *law.Force) []setting {
	low := "off"
	if f.Lowpass > 0 {
		low = u.show(f.Lowpass*hertz, quantity.Frequency)
	}
	return []setting{
		pair("presses while", f.Presses.String()+"ing", ""),
		pair("force gain", u.show(f.Kp, quantity.ForceGain), ""),
		pair("force integral", u.show(f.Ki, quantity.ForceGainRate), ""),
		pair("rate feed-forward", u.show(f.RateFeedforward, quantity.TurnsPerForce), ""),
		pair("force low-pass", low, ""),
		pair("approach speed", u.show(f.ApproachSpeed, quantity.Speed), ""),
		pair("travel limit", u.show(f.TravelLimit, quantity.Length), ""),
		pair("speed limit in force", u.show(f.SpeedLimit, quantity.AngularSpeed), ""),
	}
}

// settingLines lays the settings out, with the as-found ones beside where given
// and where there is room.
func settingLines(a *App, loop string, width int) []string {
	f := a.form
	p := a.shown()
	stroke := p.Model.Stroke
	list := settings(a.units, p.Loops, loop, f, stroke)
	var was []setting
	if found := a.work.Options.AsFound; found != nil && width >= 62 {
		was = settings(a.units, *found, loop, f, stroke)
	}
	name := 22
	column := (width - name) / 2
	if was != nil {
		column = (width - name) / 4
	}
	title := "TYPE THESE"
	switch {
	case a.glance != nil:
		title = "QUICK LOOK, WAIT"
	case a.searching():
		title = "SEARCHING, WAIT"
	}
	head := cell(title, name) + flush("extend", column) + flush("retract", column)
	if was != nil {
		head += flush("found: ext.", column) + flush("retract", column)
	}
	lines := []string{a.styles.strong.draw(cell(head, width))}
	for _, s := range list {
		line := cell(s.name, name) + a.styles.computed.draw(both(s, column))
		for _, w := range was {
			if w.name == s.name {
				line += both(w, column)
			}
		}
		lines = append(lines, line)
	}
	return lines
}

// given shows a setting that typed settings may lack.
func (u units) given(si float64, d Quantity) string {
	if si == 0 {
		return "not given"
	}
	return u.show(si, d)
}

// both writes one value per direction, or one across both columns.
func both(s setting, column int) string {
	if s.retract == "" {
		return flush(s.extend, 2*column)
	}
	return flush(s.extend, column) + flush(s.retract, column)
}
