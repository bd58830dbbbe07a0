package tui

import (
	"slices"

	"github.com/charmbracelet/bubbles/key"
	tea "github.com/charmbracelet/bubbletea"

	"eha/strokewise/tui/chart"
)

// responseScreen asks: what will the rod do when I type these, and is the
// simulation to be believed?
type responseScreen struct {
	board board
	lens  lens
	plot  int // which plot is on top
}

func newResponse() *responseScreen { return &responseScreen{} }

func (s *responseScreen) title() string { return "Response" }

func (s *responseScreen) says(a *App) string {
	r := a.work.Response
	_, replays := a.replaying()
	switch {
	case a.failures[stepRespond] != nil && replays:
		return "Not replayed: " + advise(a.failures[stepRespond])[0]
	case a.failures[stepRespond] != nil:
		return "Not simulated: " + advise(a.failures[stepRespond])[0]
	case replays:
		return a.replaySays()
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
	text := a.units.say(r.Scenario.Title) + "."
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
	_, replays := a.replaying()
	switch {
	case a.stopped():
		return "1 shows the fault and what to do about it"
	case a.work.Plant == nil && a.work.Logs != nil:
		return "2 says why there is no plant"
	case a.work.Plant == nil:
		return "o opens logs of your machine"
	case a.work.Proposal == nil || a.work.Proposal.Loops.Position == nil:
		return "3 says why there are no settings"
	case replays:
		return a.replayNext()
	case a.work.Options.AsFound == nil && len(a.closedLoop()) > 0:
		return "i asks for the settings in use then: is the simulation to be believed?"
	}
	return "left/right turns the knob; c takes another scenario, tab another plot"
}

func (s *responseScreen) keys(a *App) []key.Binding {
	if a.large {
		return keysOfLens
	}
	list := []key.Binding{keyScene, shown(keyTab, "tab", "plot")}
	if _, replays := a.replaying(); !replays {
		list = append(append(list, s.board.keys()...), keyDefault)
	}
	return append(list, keyInUse, keyLarge)
}

func (s *responseScreen) press(a *App, msg tea.KeyMsg) tea.Cmd {
	if a.large {
		if plots := s.plots(a); len(plots) > 0 && s.lens.press(&plots[0], msg) {
			return nil
		}
	}
	s.lens = lens{}
	if _, replays := a.replaying(); !replays {
		if cmd, ok := s.board.press(a, msg); ok {
			return cmd
		}
	}
	switch {
	case key.Matches(msg, keyScene):
		return a.nextScene()
	case key.Matches(msg, keyTab):
		s.plot++
	case key.Matches(msg, keyTabBack):
		s.plot--
	case key.Matches(msg, keyInUse):
		a.askInUse()
	}
	return nil
}

// responseTab is the screen's place among the screens.
const responseTab = 3

// nextScene takes the scenario after the one in view.
func (a *App) nextScene() tea.Cmd {
	now, ok := a.scene()
	if !ok {
		return nil
	}
	a.scenario = a.scenes[turnRound(slices.Index(a.scenes, now), 1, len(a.scenes))].ID
	a.screens[responseTab].(*responseScreen).plot = 0
	if a.glance != nil {
		return a.turned()
	}
	return a.respond()
}

func (s *responseScreen) click(a *App, x, y, width, height int) tea.Cmd { return nil }

func (s *responseScreen) view(a *App, width, height int) []string {
	if a.work.Response == nil || a.work.Proposal == nil {
		return prose("The settings run here against the fitted plant before anyone types them: steps, moves, load kicks, with sampling, delay, friction and limits, and a band for what the fit leaves open.", width)
	}
	plots := s.plots(a)
	if a.large && len(plots) > 0 {
		through := s.lens
		return through.large(a, plots[0], width, height)
	}
	lines, table := []string{s.head(a, width)}, s.table(a, width)
	room := height - len(lines) - len(table)
	if room < 22 {
		plots = plots[:min(1, len(plots))]
	}
	plots = plots[:min(3, len(plots))]
	for i, p := range plots {
		h := room / (len(plots) + 1)
		if i == 0 {
			h = room - h*(len(plots)-1)
		}
		lines = append(lines, splitLines(p.Render(width, h, a.styles.paint))...)
	}
	return append(lines, table...)
}

// head is the knob in hand, or the settings of a replay, and the scenario.
func (s *responseScreen) head(a *App, width int) string {
	mark := s.board.one(a)
	if _, replays := a.replaying(); replays {
		mark = inUseText(a.work.Options.AsFound)
	}
	return a.styles.here.draw(mark) + "  " + s.sceneLine(a, width-len(mark)-2)
}

// plots are those of the scenario in view, the one chosen first.
func (s *responseScreen) plots(a *App) []chart.Plot {
	var list []chart.Plot
	if _, replays := a.replaying(); replays {
		if a.replay != nil {
			list = a.replay.plots(a.units)
		}
	} else if a.work.Response != nil {
		list = responsePlotsOf(a.units, a.work.Response)
	}
	if len(list) == 0 {
		return nil
	}
	first := turnRound(s.plot, 0, len(list))
	return append(list[first:len(list):len(list)], list[:first]...)
}

// table stands under the plots.
func (s *responseScreen) table(a *App, width int) []string {
	_, replays := a.replaying()
	switch {
	case replays && a.replay != nil:
		return a.replay.table(a, width)
	case replays:
		return prose("A replay runs the commands of a closed-loop log through the fitted plant under the settings that were in use then, and lays the outcome over what was recorded. Where the two agree, the predictions for the proposed settings can be believed.", width)
	}
	return s.figures(a, width)
}
