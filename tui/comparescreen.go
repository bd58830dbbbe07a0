package tui

import (
	"fmt"
	"strings"

	"github.com/charmbracelet/bubbles/key"
	tea "github.com/charmbracelet/bubbletea"

	"eha/strokewise/tui/chart"
	"eha/strokewise/tuning/compare"
)

// compareScreen asks: is it better than before, and what became of the machine?
type compareScreen struct {
	part comparePart
	at   [numParts]int // row in view of each part
	lens lens
}

// compareTab is the screen's place among the screens.
const compareTab = 4

// comparePart is one view of a comparison.
type comparePart int

// The parts.
const (
	movePart comparePart = iota
	machinePart
	notePart
	numParts
)

var partWords = [numParts]string{"Moves", "Machine", "Notes"}

func newCompare() *compareScreen { return &compareScreen{} }

func (s *compareScreen) title() string { return "Before/after" }

// report is the comparison in view, nil for none.
func (s *compareScreen) report(a *App) *compare.Report {
	if a.work.Comparison == nil {
		return nil
	}
	return a.work.Comparison.Report()
}

// count is the number of rows of the part in view.
func (s *compareScreen) count(r *compare.Report) int {
	return [numParts]int{len(r.Moves), len(r.Plant), len(r.Notes)}[s.part]
}

func (s *compareScreen) says(a *App) string {
	r := s.report(a)
	switch {
	case a.failures[stepCompare] != nil:
		return "Not compared: " + advise(a.failures[stepCompare])[0]
	case r == nil && a.work.Demo:
		return "The demo machine was logged again after its position loop was tuned: a compares the two."
	case r == nil && a.work.Plant == nil:
		return "Nothing to compare yet: first load logs of one state of the machine."
	case r == nil:
		return "Nothing to compare with yet: a opens the logs of the other state."
	}
	return machineSays(a.units, r) + " " + movesSay(r)
}

// machineSays names what changed in the plant.
func machineSays(u units, r *compare.Report) string {
	var names []string
	for _, c := range r.Plant {
		if c.Changed {
			names = append(names, words(c.Param.String())+" "+ratioText(u, c))
		}
	}
	switch {
	case len(r.Plant) == 0:
		return "The plants cannot be compared."
	case len(names) == 0:
		return "No change of the machine is shown."
	case len(names) > 3:
		return "Changed: " + strings.Join(names[:3], ", ") + fmt.Sprintf(" and %d more.", len(names)-3)
	}
	return "Changed: " + strings.Join(names, ", ") + "."
}

// movesSay counts the verdicts.
func movesSay(r *compare.Report) string {
	if len(r.Moves) == 0 {
		return "No move in common."
	}
	counts := map[compare.Verdict]int{}
	for _, m := range r.Moves {
		for _, d := range m.Figures {
			counts[d.Verdict]++
		}
	}
	return fmt.Sprintf("Figures of %d moves: %d better, %d worse.", len(r.Moves), counts[compare.Better], counts[compare.Worse])
}

func (s *compareScreen) next(a *App) string {
	switch {
	case a.work.Plant == nil:
		return "o opens logs of your machine"
	case a.work.Comparison == nil && a.work.Demo:
		return "a compares the demo as found with the demo as left"
	case a.work.Comparison == nil:
		return "a opens the logs of the other state, before or after"
	case len(s.report(a).Moves) == 0:
		return "log the same position_steps in both states to compare behaviour"
	}
	return "tab shows moves, machine, notes; w swaps before and after; s saves"
}

func (s *compareScreen) keys(a *App) []key.Binding {
	if a.large {
		return keysOfLens
	}
	if a.work.Comparison == nil {
		return []key.Binding{keyOther}
	}
	return []key.Binding{shown(keyTab, "tab", "part"), shown(keyUp, "up/down", "row"), keyOther, keySwap, keyLarge}
}

func (s *compareScreen) press(a *App, msg tea.KeyMsg) tea.Cmd {
	if key.Matches(msg, keyOther) {
		return a.openOther()
	}
	r := s.report(a)
	if r == nil {
		return nil
	}
	if a.large && len(r.Moves) > 0 {
		if p := s.plot(a, r); s.lens.press(&p, msg) {
			return nil
		}
	}
	s.lens = lens{}
	at := &s.at[s.part]
	switch {
	case key.Matches(msg, keyTab):
		s.part = (s.part + 1) % numParts
	case key.Matches(msg, keyTabBack):
		s.part = (s.part + numParts - 1) % numParts
	case key.Matches(msg, keyUp):
		*at = max(*at-1, 0)
	case key.Matches(msg, keyDown):
		*at = min(*at+1, max(s.count(r)-1, 0))
	case key.Matches(msg, keySwap):
		a.work.Comparison.BenchBefore = !a.work.Comparison.BenchBefore
	}
	return nil
}

func (s *compareScreen) click(*App, int, int, int, int) tea.Cmd { return nil }

func (s *compareScreen) view(a *App, width, height int) []string {
	r := s.report(a)
	if r == nil {
		return s.empty(a, width)
	}
	if a.large && len(r.Moves) > 0 {
		through := s.lens
		return through.large(a, s.plot(a, r), width, height)
	}
	lines := []string{s.sides(a, width), s.parts(a, width)}
	room := height - len(lines)
	switch s.part {
	case movePart:
		return append(lines, s.moves(a, r, width, room)...)
	case machinePart:
		return append(lines, s.machine(a, r, width, room)...)
	}
	return append(lines, s.notes(a, r, width, room)...)
}

func (s *compareScreen) empty(a *App, width int) []string {
	if err := a.failures[stepCompare]; err != nil {
		var lines []string
		for _, l := range advise(err) {
			lines = append(lines, prose(l, width)...)
		}
		return lines
	}
	return append(prose("Two sets of logs of one machine, before and after a change, side by side: how the same moves went, and what changed in the machine itself, said only where the logs show it.", width),
		prose("Load the logs of one state (o), then those of the other (a). w says which of them was before. Behaviour needs the same moves in both, each at least twice, four times or more for a verdict that holds.", width)...)
}

// sides names the two sets.
func (s *compareScreen) sides(a *App, width int) string {
	before, after := setName(a.work.Comparison.Other), setName(a.work.Logs)
	if a.work.Comparison.BenchBefore {
		before, after = after, before
	}
	return cell("before: "+before, width/2) + cell("after: "+after, width-width/2)
}

// setName is the first log of a set and how many stand beside it.
func setName(l *Logs) string {
	switch {
	case l == nil:
		return "the plant on the bench"
	case l.Plant != nil:
		return "plant file, " + l.Machine.Name
	case len(l.Readings) > 1:
		return fmt.Sprintf("%s and %d more", l.Readings[0].Trace.Name(), len(l.Readings)-1)
	}
	return l.Readings[0].Trace.Name()
}

// parts is the line of the parts with the one in view in brackets.
func (s *compareScreen) parts(a *App, width int) string {
	line := ""
	for i, w := range partWords {
		if comparePart(i) == s.part {
			line += a.styles.here.draw("[" + w + "]")
		} else {
			line += " " + w + " "
		}
	}
	return pad(line, width)
}

// plot lays the repeats' mean courses of the move in view over each other.
func (s *compareScreen) plot(a *App, r *compare.Report) chart.Plot {
	m := r.Moves[min(s.at[movePart], len(r.Moves)-1)]
	o := m.Overlay
	series := func(name string, y []float64, shape chart.Shape, ink chart.Ink) chart.Series {
		return chart.Series{Name: name, X: o.Time, Y: a.units.all(y, lengthOf), Shape: shape, Ink: ink}
	}
	p := chart.Plot{X: chart.Axis{Label: "time (s)"}, Y: chart.Axis{Label: "rod " + a.units.symbol(lengthOf)}}
	p.Series = []chart.Series{series("before", o.Before, chart.Dashed, chart.InkA), series("after", o.After, chart.Solid, chart.InkB)}
	if o.Command != nil {
		p.Series = append(p.Series, series("wanted", o.Command, chart.Dotted, chart.InkText))
	}
	return p
}
