package tui

import (
	"strings"

	"eha/strokewise/ident/plant"
)

// rows returns the first parameter shown and how many there is room for.
func (s *plantScreen) rows(height int) (from, rows int) {
	n := len(stages[s.stage].params)
	rows = min(n, max(5, (height-4)/3))
	return keep(s.param, n, rows), rows
}

func (s *plantScreen) view(a *App, width, height int) []string {
	p := a.work.Plant
	if p == nil {
		return s.empty(a, width)
	}
	if e, ok := s.inView(a); ok && a.large && e.text == nil {
		through := s.lens
		return append([]string{a.styles.strong.draw(cell(e.title, width))}, through.large(a, e.plot, width, height-1)...)
	}
	lines := s.chain(a, width)
	warning := ""
	if len(p.Warnings) > 0 {
		warning = "! " + upper(a.units.say(plain(p.Warnings[0])))
	}
	lines = append(lines, a.styles.strong.draw(cell(warning, width)))
	from, rows := s.rows(height)
	for i := from; i < from+rows; i++ {
		lines = append(lines, s.row(a, i, width))
	}
	for _, l := range inRows(2, hang("   ", a.units.say(s.reason(p)), width), width) {
		lines = append(lines, a.styles.faint.draw(l))
	}
	return append(lines, s.plotLines(a, width, height-len(lines))...)
}

// reason says where the parameter in view comes from.
func (s *plantScreen) reason(p *plant.Plant) string {
	info, e := s.current().Info(), p.Est(s.current())
	switch {
	case !e.Known() && e.From != "":
		return "To find it, log " + e.From + ". It is the " + info.Meaning
	case e.From != "":
		return "From " + e.From + ": " + info.Meaning
	}
	return info.Meaning
}

// chain draws the stations in the order of the power, each over its two figures.
func (s *plantScreen) chain(a *App, width int) []string {
	w := width / len(stages)
	lines := []string{"", "", ""}
	for i, st := range stages {
		name, tail := " "+st.name+" ", strings.Repeat("─", max(w-len(st.name)-5, 0))+"> "
		if i == len(stages)-1 {
			tail = ""
		}
		if i == s.stage {
			name = ">" + st.name + "<"
			lines[0] += a.styles.here.draw(name)
		} else {
			lines[0] += name
		}
		lines[0] += a.styles.faint.draw(cell(" "+tail, w-len(name)))
		for k, param := range st.heads {
			e := a.work.Plant.Est(param)
			text := "not identified"
			if e.Known() {
				text = shortName[param] + a.units.brief(param, e)
			}
			lines[1+k] += cell(" "+text, w)
		}
	}
	return lines
}

// shortName stands before a chain figure whose unit does not say what it is.
var shortName = map[plant.Param]string{plant.StrokePerTurnExtend: "ext ", plant.StrokePerTurnRetract: "ret ", plant.DeadTime: "dead ", plant.BulkModulus: "oil ", plant.CoulombFriction: "rubs ", plant.PressingStiffness: "press "}

// brief is an estimate without its interval.
func (u units) brief(p plant.Param, e plant.Estimate) string {
	symbol, shown := u.param(p)
	return strings.TrimSpace(shownTo(shown(e.Value), 3) + " " + symbol)
}

// row is one parameter: name, value with doubt, its bar and its status.
func (s *plantScreen) row(a *App, i, width int) string {
	st := a.styles
	param := stages[s.stage].params[i]
	e := a.work.Plant.Est(param)
	mark, style := "  ", st.plain
	if i == s.param {
		mark, style = "> ", st.strong
	}
	const bar = 15
	line := style.draw(cell(mark+words(param.String()), 25)) + style.draw(flush(a.units.estimate(param, e), 27)) + " "
	line += st.computed.draw(intervalBar(param, e, bar)) + " "
	status := e.Status.String()
	if e.Status == plant.Weak || e.Status == plant.Missing {
		return line + st.strong.draw(status)
	}
	return line + status
}

func (s *plantScreen) empty(a *App, width int) []string {
	lines := []string{""}
	say := func(text string) {
		for _, l := range wrap(text, width-4) {
			lines = append(lines, "  "+l)
		}
	}
	switch {
	case a.failures[stepFit] != nil:
		for _, l := range advise(a.failures[stepFit]) {
			say(l)
		}
	case a.stopped():
		f, _ := a.work.Logs.stop()
		say(a.units.say(f.Text))
		say("Do: " + a.units.say(f.Do))
	case a.task != nil:
		say("The way is: read the logs, judge them, fit the plant, propose the loops. Each screen fills as soon as its part is done.")
	default:
		say("A plant is the machine as numbers: how far the rod moves per motor turn, what slips, how soft the oil is, what moves and rubs, how quick the drive is.")
		say("It is fitted from logs of the drive's recorder (CSV) and, where there is one, a machine file with the nameplate.")
	}
	return lines
}
