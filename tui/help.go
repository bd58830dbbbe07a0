package tui

import (
	"fmt"

	"github.com/charmbracelet/bubbles/key"
	tea "github.com/charmbracelet/bubbletea"
)

// help is the list of keys of the screen it was called from.
type help struct{ from int }

func (h *help) title() string { return "Keys of this screen" }

func (h *help) keys(*App) []key.Binding {
	return []key.Binding{shown(keyDown, "up/down", "scroll"), shown(keyCancel, "esc", "back")}
}

func (h *help) press(a *App, msg tea.KeyMsg) tea.Cmd {
	switch {
	case key.Matches(msg, keyUp):
		h.from = max(h.from-1, 0)
	case key.Matches(msg, keyDown):
		h.from++
	default:
		a.over = nil
	}
	return nil
}

func (h *help) click(*App, int, int, int, int) tea.Cmd { return nil }

func (h *help) view(a *App, width, height int) []string {
	s := a.screens[a.active]
	lines := []string{a.styles.strong.draw("On " + s.title())}
	row := func(k key.Binding) {
		lines = append(lines, "  "+a.styles.strong.draw(cell(k.Help().Key, 14))+cell(k.Help().Desc, width-16))
	}
	for _, k := range s.keys(a) {
		row(k)
	}
	lines = append(lines, a.styles.strong.draw("Everywhere"))
	for _, k := range []key.Binding{shown(keyNext, fmt.Sprintf("1 to %d", len(a.screens)), "go to a screen; n next, b before"), keyOpen, keySave, keyReload,
		shown(keyCancel, "esc", "cancel what is running"), keyQuit} {
		row(k)
	}
	lines = append(lines, "", a.styles.faint.draw(cell("Cyan was measured, magenta computed; line kinds say so without colour.", width)))
	return window(lines, h.from, height)
}
