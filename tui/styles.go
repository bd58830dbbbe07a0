package tui

import (
	"strings"

	"github.com/charmbracelet/lipgloss"

	"eha/strokewise/tui/chart"
)

// pen puts a style around plain text. The escape sequences are made once, since
// a frame holds hundreds of styled runs.
type pen struct{ before, after string }

func newPen(s lipgloss.Style) pen {
	before, after, _ := strings.Cut(s.Render("x"), "x")
	return pen{before, after}
}

func (p pen) draw(text string) string {
	if text == "" {
		return ""
	}
	return p.before + text + p.after
}

// Styles is the program's whole palette. Two hues only, of the terminal's own
// sixteen, so that they read on dark and light: cyan is what was measured,
// magenta what was computed from it. Weight and inversion say what to read first.
// Every style can be dropped without losing a meaning.
type Styles struct {
	plain, strong, faint, here pen
	measured, computed, alarm  pen
}

// newStyles builds the palette for the colours the terminal was found to have.
func newStyles() *Styles {
	s := lipgloss.NewStyle
	return &Styles{
		plain:    pen{},
		strong:   newPen(s().Bold(true)),
		faint:    newPen(s().Faint(true)),
		here:     newPen(s().Reverse(true)),
		measured: newPen(s().Foreground(lipgloss.Color("6"))),
		computed: newPen(s().Foreground(lipgloss.Color("5"))),
		alarm:    newPen(s().Bold(true).Reverse(true)),
	}
}

// paint colours a chart.
func (s *Styles) paint(ink chart.Ink, text string) string {
	switch ink {
	case chart.InkAxis, chart.InkBand:
		return s.faint.draw(text)
	case chart.InkA:
		return s.measured.draw(text)
	case chart.InkB:
		return s.computed.draw(text)
	case chart.InkCursor:
		return s.strong.draw(text)
	}
	return text
}
