package tui

import (
	"fmt"
	"strings"

	"github.com/charmbracelet/bubbles/key"
	tea "github.com/charmbracelet/bubbletea"

	"eha/strokewise/ident/quantity"
	"eha/strokewise/tuning"
)

// loopsScreen asks: what do I type, and how close to trouble is it?
type loopsScreen struct {
	board  board
	force  bool // the force loop's settings are shown
	page   int
	scroll int
}

func newLoops() *loopsScreen { return &loopsScreen{} }

func (s *loopsScreen) title() string { return "Loops" }

func (s *loopsScreen) says(a *App) string {
	t := a.shown()
	state := ""
	switch {
	case a.glance != nil:
		state = "Quick look, the search goes on. "
	case a.searching() && t != nil:
		state = "Searching for settings. "
	}
	switch {
	case a.failures[stepPropose] != nil:
		return state + "No settings: " + advise(a.failures[stepPropose])[0]
	case t == nil && a.searching():
		return "The settings are being searched for."
	case a.stopped():
		return "No settings: the logs have a fault that must be put right first."
	case t == nil:
		return "No settings yet: they need a plant."
	case t.Loops.Position == nil:
		return state + "No position loop can be proposed from these logs."
	}
	if len(t.Foremost) > 0 {
		first, _, _ := strings.Cut(t.Foremost[0], ". ")
		return state + a.units.say(first) + ". Page Limits says what to do."
	}
	w, ok := least(t.Margins, "position")
	if !ok {
		return state + "Position loop proposed."
	}
	return state + fmt.Sprintf("Least gain margin %s dB (asked %.1f), %sing at %s.", decibelText(w.GainMargin), decibels(t.Targets.GainMargin), w.Direction, a.units.show(w.Position, quantity.Length)) + a.units.say(limitText(t))
}

// limitText names what holds the loop back most; its page says the rest.
func limitText(t *tuning.Proposal) string {
	if len(t.Limits) == 0 {
		return ""
	}
	what, _, _ := strings.Cut(t.Limits[0].What, ", which")
	return " Limited by " + what + "."
}

func (s *loopsScreen) next(a *App) string {
	t := a.work.Proposal
	switch {
	case a.stopped():
		return "1 shows the fault and what to do about it"
	case a.work.Plant == nil && a.work.Logs != nil:
		return "2 says why there is no plant"
	case a.work.Plant == nil:
		return "o opens logs of your machine"
	case t == nil && a.searching():
		return "a moment; they appear here"
	case a.searching():
		return "wait for the search before typing anything; turn on as you like"
	case t == nil:
		return "2 shows what the plant lacks"
	case t.Loops.Position == nil:
		return a.units.say(t.NotProposed["position"])
	case pages[s.page%len(pages)].name == "Bring-up":
		return "follow the steps from the top; z shows them large; s saves the settings"
	}
	return "4 shows what the rod will do with these; tab turns to the bring-up steps"
}

func (s *loopsScreen) keys(*App) []key.Binding {
	return append(s.board.keys(), shown(keyTab, "tab", "page"), keyForm, keyLoop, shown(keyPageDn, "pgup/pgdn", "scroll"), keyDefault, keyLarge)
}

func (s *loopsScreen) press(a *App, msg tea.KeyMsg) tea.Cmd {
	if cmd, ok := s.board.press(a, msg); ok {
		return cmd
	}
	switch {
	case key.Matches(msg, keyTab):
		s.page, s.scroll = turnRound(s.page, 1, len(pages)), 0
	case key.Matches(msg, keyTabBack):
		s.page, s.scroll = turnRound(s.page, -1, len(pages)), 0
	case key.Matches(msg, keyForm):
		a.form = form(turnRound(int(a.form), 1, int(numForms)))
	case key.Matches(msg, keyLoop):
		s.force = !s.force
	case key.Matches(msg, keyPageUp):
		s.scroll = max(s.scroll-5, 0)
	case key.Matches(msg, keyPageDn):
		s.scroll = min(s.scroll+5, 500)
	}
	return nil
}

func (s *loopsScreen) click(a *App, x, y, width, height int) tea.Cmd {
	rows := len(s.board.lines(a, width))
	switch {
	case a.work.Plant == nil || a.large:
	case y < rows:
		s.board.click(x, y, width)
	case y == rows:
		at := leftWidth(width) + 3
		for i, p := range pages {
			if w := len(p.name) + 2; x >= at && x < at+w {
				s.page, s.scroll = i, 0
			} else {
				at += w
			}
		}
	}
	return nil
}

// leftWidth is the settings' share of the width.
func leftWidth(width int) int { return min(max(width*45/100, 40), 84) }

func (s *loopsScreen) view(a *App, width, height int) []string {
	if a.work.Plant == nil {
		return prose("Settings are proposed as soon as there is a plant: gains per direction, turns per travel, limits, with their margins over stroke, direction and load, what holds them back, and how to bring them up.", width)
	}
	if a.large {
		return s.pageLines(a, width, height)
	}
	lines := s.board.lines(a, width)
	left := leftWidth(width)
	caution := hang("! ", tuning.ShortCaution, width)
	room := height - len(lines) - len(caution)
	body := beside(box(s.left(a, left, room), left, room), left, " │ ", box(s.pageLines(a, width-left-3, room), width-left-3, room))
	lines = append(lines, body...)
	for _, l := range caution {
		lines = append(lines, a.styles.strong.draw(l))
	}
	return lines
}

// left is the sheet to type from, or why there is none.
func (s *loopsScreen) left(a *App, width, height int) []string {
	t := a.shown()
	switch err := a.failures[stepPropose]; {
	case err != nil:
		return wrap(strings.Join(advise(err), " "), width)
	case t == nil:
		return []string{"The settings are being searched for."}
	}
	var lines []string
	loop := "position"
	if s.force {
		loop = "force"
	}
	if why, missing := t.NotProposed[loop]; missing {
		lines = hang("No "+loop+" loop: ", a.units.say(why), width)
	} else {
		lines = settingLines(a, loop, width)
	}
	lines = window(lines, 0, height-1)
	if s.force {
		return append(lines, a.styles.faint.draw(cell("g: position loop's settings", width)))
	}
	return append(lines, a.styles.faint.draw(cell("f: "+formWords[a.form]+"; g: force", width)))
}

// pageLines is the page in view under the pages' names.
func (s *loopsScreen) pageLines(a *App, width, height int) []string {
	head, wide := "", 0
	for i, p := range pages {
		if wide += len(p.name) + 2; i == s.page {
			head += a.styles.here.draw("[" + p.name + "]")
		} else {
			head += " " + p.name + " "
		}
	}
	if width < wide+len(" pgdn 10/99") {
		head = a.styles.here.draw("["+pages[s.page].name+"]") + a.styles.faint.draw(fmt.Sprintf(" page %d of %d, tab", s.page+1, len(pages)))
	}
	if a.work.Proposal == nil {
		return []string{head}
	}
	lines := pages[s.page].lines(a, width, height-1)
	if a.glance != nil && !pages[s.page].quick {
		lines = append([]string{a.styles.strong.draw(cell("Of the settings before the turn:", width))}, lines...)
	}
	if hidden := len(lines) - (height - 1); hidden > 0 {
		s := min(s.scroll, hidden)
		lines = window(lines, s, height-1)
		head += a.styles.faint.draw(fmt.Sprintf(" pgdn %d/%d", s, hidden))
	}
	return append([]string{head}, lines...)
}
