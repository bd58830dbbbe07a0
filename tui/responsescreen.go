package tui

import (
	"fmt"
	"slices"

	"github.com/charmbracelet/bubbles/key"
	tea "github.com/charmbracelet/bubbletea"

	"eha/strokewise/ident/quantity"
	"eha/strokewise/tui/chart"
)

// responseScreen asks: what will the rod do when I type these?
type responseScreen struct {
	board board
	lens  lens
}

func newResponse() *responseScreen { return &responseScreen{} }

func (s *responseScreen) title() string { return "Response" }

func (s *responseScreen) says(a *App) string {
	r := a.work.Response
	switch {
	case a.failures[stepRespond] != nil:
		return "Not simulated: " + advise(a.failures[stepRespond])[0]
	case r == nil && a.searching():
		return "The settings are being searched for."
	case a.stopped():
		return "Nothing to simulate: the logs have a fault that must be put right first."
	case r == nil && a.work.Proposal == nil:
		return "Nothing to simulate yet: there are no settings."
	case r == nil && a.work.Proposal.Loops.Position == nil:
		return "Nothing to simulate: no position loop could be proposed."
	case r == nil:
		return "Simulating."
	}
	text := r.Scenario.Title + "."
	if r.Quick {
		text = "Quick look, the search goes on. " + text
	}
	for i, f := range r.Figures {
		if i < 3 {
			text += " " + upper(f.Name) + " " + a.units.value(f.Proposed, f.Quantity) + " " + a.units.symbol(f.Quantity) + "."
		}
	}
	return text
}

func (s *responseScreen) next(a *App) string {
	switch {
	case a.stopped():
		return "1 shows the fault and what to do about it"
	case a.work.Plant == nil && a.work.Logs != nil:
		return "2 says why there is no plant"
	case a.work.Plant == nil:
		return "o opens logs of your machine"
	case a.work.Proposal == nil || a.work.Proposal.Loops.Position == nil:
		return "3 says why there are no settings"
	case a.work.Options.AsFound == nil:
		return "left/right turns the knob; c takes another scenario"
	}
	return "left/right turns the knob; c takes another scenario; s saves"
}

func (s *responseScreen) keys(a *App) []key.Binding {
	if a.large {
		return keysOfLens
	}
	return append([]key.Binding{keyScene}, append(s.board.keys(), keyLarge)...)
}

func (s *responseScreen) press(a *App, msg tea.KeyMsg) tea.Cmd {
	if r := a.work.Response; r != nil && a.large {
		if p := s.plots(a, r)[0]; s.lens.press(&p, msg) {
			return nil
		}
	}
	s.lens = lens{}
	if cmd, ok := s.board.press(a, msg); ok {
		return cmd
	}
	if key.Matches(msg, keyScene) {
		return a.nextScene()
	}
	return nil
}

// nextScene takes the scenario after the one in view.
func (a *App) nextScene() tea.Cmd {
	now, ok := a.scene()
	if !ok {
		return nil
	}
	a.scenario = a.scenes[turnRound(slices.Index(a.scenes, now), 1, len(a.scenes))].ID
	if a.glance != nil {
		return a.turned()
	}
	return a.respond()
}

func (s *responseScreen) click(a *App, x, y, width, height int) tea.Cmd { return nil }

func (s *responseScreen) view(a *App, width, height int) []string {
	r := a.work.Response
	if r == nil || a.work.Proposal == nil {
		return prose("The settings run here against the fitted plant before anyone types them: steps, moves, load kicks, with sampling, delay, friction and limits, and a band for what the fit leaves open.", width)
	}
	plots := s.plots(a, r)
	if a.large {
		through := s.lens
		return through.large(a, plots[0], width, height)
	}
	knob := s.board.one(a)
	lines := []string{a.styles.here.draw(knob) + "  " + s.sceneLine(a, width-len(knob)-2)}
	table := s.figures(a, width)
	room := height - len(lines) - len(table)
	if room < 22 {
		plots = plots[:1]
	}
	for i, p := range plots {
		h := room / (len(plots) + 1)
		if i == 0 {
			h = room - h*(len(plots)-1)
		}
		lines = append(lines, splitLines(p.Render(width, h, a.styles.paint))...)
	}
	return append(lines, table...)
}

// sceneLine says which scenario of how many is in view.
func (s *responseScreen) sceneLine(a *App, width int) string {
	now, _ := a.scene()
	return cell(fmt.Sprintf("scenario %d of %d: %s", 1+slices.Index(a.scenes, now), len(a.scenes), now.Title), width)
}

// plots are the output, and motor speed and pressures where there is room, over
// the same time.
func (s *responseScreen) plots(a *App, r *Response) []chart.Plot {
	u := a.units
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
