package tui

import (
	"fmt"
	"strings"

	"github.com/charmbracelet/bubbles/key"
	tea "github.com/charmbracelet/bubbletea"

	"eha/strokewise/ident/plant"
)

// stage is one station on the way of the power from drive to work, with the
// parameters that live there.
type stage struct {
	name   string
	params []plant.Param
	heads  []plant.Param // the two figures that stand for it in the chain
}

// stages follow the power through the machine, and the plots that show evidence
// hang on the station they belong to.
var stages = []stage{
	{"DRIVE", []plant.Param{plant.DriveBandwidth, plant.DriveDamping, plant.DeadTime, plant.OuterDelay, plant.AccelerationLimit, plant.TransducerDelay, plant.PressureLag},
		[]plant.Param{plant.DriveBandwidth, plant.DeadTime}},
	{"PUMP", []plant.Param{plant.StrokePerTurnExtend, plant.StrokePerTurnRetract, plant.StrokePerTurnCap, plant.StrokePerTurnRod, plant.Slip, plant.LostMotion},
		[]plant.Param{plant.StrokePerTurnExtend, plant.StrokePerTurnRetract}},
	{"OIL", []plant.Param{plant.HydraulicFrequency, plant.HydraulicDamping, plant.BulkModulus, plant.BulkModulusCap, plant.BulkModulusRod, plant.ComplianceCap, plant.ComplianceRod, plant.LineLoss},
		[]plant.Param{plant.HydraulicFrequency, plant.BulkModulus}},
	{"ROD", []plant.Param{plant.MovingMass, plant.AxialLoad, plant.CoulombFriction, plant.ViscousFriction, plant.BreakawayForce, plant.StribeckSpeed},
		[]plant.Param{plant.MovingMass, plant.CoulombFriction}},
	{"WORK", []plant.Param{plant.ContactStiffness, plant.PressingStiffness},
		[]plant.Param{plant.ContactStiffness, plant.PressingStiffness}},
}

// plantScreen asks: what is this machine, and why should I believe it?
type plantScreen struct {
	stage, param, plot int
}

func newPlant() *plantScreen { return &plantScreen{} }

// stopped reports whether a finding forbids to go on with the logs on the bench.
func (a *App) stopped() bool {
	if a.work.Logs == nil {
		return false
	}
	_, stopped := a.work.Logs.stop()
	return stopped
}

func (s *plantScreen) title() string { return "Plant" }

func (s *plantScreen) says(a *App) string {
	p := a.work.Plant
	switch {
	case p == nil && a.task != nil:
		return "The plant is being worked out."
	case p == nil && a.stopped():
		return "No plant yet: the logs have a fault that must be put right first."
	case p == nil && a.failures[stepFit] != nil:
		return "The plant could not be fitted."
	case p == nil:
		return "No plant yet."
	}
	found, weak := 0, 0
	for _, e := range p.Params {
		switch e.Status {
		case plant.Identified:
			found++
		case plant.Weak:
			weak++
		}
	}
	text := fmt.Sprintf("%d parameters identified, %d weak.", found, weak)
	if found+weak == 0 {
		text = "Nothing could be identified from these logs."
	}
	if v := p.Validation.Verdict; v != "" {
		text += " " + v
	}
	return text
}

func (s *plantScreen) next(a *App) string {
	p := a.work.Plant
	switch {
	case p == nil && a.stopped():
		return "1 shows the fault and what to do about it"
	case p == nil:
		return "o opens logs of your machine"
	}
	if e := p.Est(s.current()); !e.Known() && e.From != "" {
		return "for " + words(s.current().String()) + ": log " + e.From
	}
	return "3 shows the loop settings for this plant"
}

func (s *plantScreen) keys(*App) []key.Binding {
	return []key.Binding{shown(keyLeft, "left/right", "station"), shown(keyUp, "up/down", "parameter"), shown(keyTab, "tab", "next plot"), keyLarge}
}

func (s *plantScreen) current() plant.Param { return stages[s.stage].params[s.param] }

func (s *plantScreen) press(a *App, msg tea.KeyMsg) tea.Cmd {
	n := len(stages)
	switch {
	case key.Matches(msg, keyLeft):
		s.stage, s.param, s.plot = (s.stage+n-1)%n, 0, 0
	case key.Matches(msg, keyRight):
		s.stage, s.param, s.plot = (s.stage+1)%n, 0, 0
	case key.Matches(msg, keyUp):
		s.move(a, max(s.param-1, 0))
	case key.Matches(msg, keyDown):
		s.move(a, min(s.param+1, len(stages[s.stage].params)-1))
	case key.Matches(msg, keyTab):
		s.plot++
	case key.Matches(msg, keyTabBack):
		s.plot--
	}
	return nil
}

// move goes to a parameter and the plot that shows it best.
func (s *plantScreen) move(a *App, to int) {
	s.param = to
	for i, e := range s.evidence(a) {
		if e.of(s.current()) {
			s.plot = i
			return
		}
	}
}

func (s *plantScreen) click(a *App, x, y, width, height int) tea.Cmd {
	if a.work.Plant == nil || a.large {
		return nil
	}
	if y < 3 {
		if at := x / (width / len(stages)); at < len(stages) {
			s.stage, s.param, s.plot = at, 0, 0
		}
		return nil
	}
	from, rows := s.rows(height)
	if at := from + y - 4; y >= 4 && y < 4+rows && at < len(stages[s.stage].params) {
		s.move(a, at)
	}
	return nil
}

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
	if a.large {
		return s.plotLines(a, width, height)
	}
	lines := s.chain(a, width)
	warning := ""
	if len(p.Warnings) > 0 {
		warning = "! " + p.Warnings[0]
	}
	lines = append(lines, a.styles.strong.draw(cell(warning, width)))
	from, rows := s.rows(height)
	for i := from; i < from+rows; i++ {
		lines = append(lines, s.row(a, i, width))
	}
	lines = append(lines, a.styles.faint.draw(cell("   "+s.reason(p), width)))
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
	e.Low, e.High = e.Value, e.Value
	value := e.Value * p.Info().Factor
	symbol := p.Info().Unit
	if d := paramQuantity(p); u.system != 0 {
		value, symbol = u.from(e.Value, d), u.symbol(d)
	}
	if symbol == "1" {
		symbol = ""
	}
	return strings.TrimSpace(digits(value, 3) + " " + symbol)
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
		say(f.Text)
		say("Do: " + f.Do)
	case a.task != nil:
		say("The way is: read the logs, judge them, fit the plant, propose the loops. Each screen fills as soon as its part is done.")
	default:
		say("A plant is the machine as numbers: how far the rod moves per motor turn, what slips, how soft the oil is, what moves and rubs, how quick the drive is.")
		say("It is fitted from logs of the drive's recorder (CSV) and, where there is one, a machine file with the nameplate.")
	}
	return lines
}
