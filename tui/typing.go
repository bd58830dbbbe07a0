package tui

import (
	"strconv"
	"strings"

	"github.com/charmbracelet/bubbles/key"
	tea "github.com/charmbracelet/bubbletea"
)

// typing is a few lines to type into.
type typing struct {
	entries []entry
	at      int
	typed   bool // into the entry in hand; the first character replaces what stood there
	problem string
}

// entry is one line of a form.
type entry struct{ name, text string }

// keysOfForm are the keys of a form, with what enter does.
func keysOfForm(take string) []key.Binding {
	return []key.Binding{shown(keyUp, "up/down", "line"), shown(keyEnter, "enter", take), shown(keyErase, "backspace", "erase"), shown(keyCancel, "esc", "leave as it was")}
}

// answer leaves the form, has it applied or takes the key.
func (f *typing) answer(a *App, msg tea.KeyMsg, apply func(*App) tea.Cmd) tea.Cmd {
	switch {
	case key.Matches(msg, keyCancel), msg.Type == tea.KeyCtrlC:
		a.over = nil
	case key.Matches(msg, keyEnter):
		return apply(a)
	default:
		f.press(msg)
	}
	return nil
}

// press moves between the lines and types into the one in hand.
func (f *typing) press(msg tea.KeyMsg) {
	switch {
	case key.Matches(msg, keyUp), key.Matches(msg, keyTabBack):
		f.take(turnRound(f.at, -1, len(f.entries)))
	case key.Matches(msg, keyDown), key.Matches(msg, keyTab):
		f.take(turnRound(f.at, 1, len(f.entries)))
	default:
		e := &f.entries[f.at]
		if !f.typed && msg.Type == tea.KeyRunes {
			e.text = ""
		}
		e.text, f.typed, f.problem = edit(e.text, msg), true, ""
	}
}

// take goes to a line.
func (f *typing) take(i int) {
	if i >= 0 && i < len(f.entries) {
		f.at, f.typed = i, false
	}
}

// number reads what was typed at a line; a decimal comma counts as a point.
func (f *typing) number(i int) (v float64, ok bool) {
	v, err := strconv.ParseFloat(strings.Replace(strings.TrimSpace(f.entries[i].text), ",", ".", 1), 64)
	return v, err == nil
}

// lines shows the form, its problem under it.
func (f *typing) lines(a *App, width int) []string {
	var lines []string
	for i, e := range f.entries {
		text := "  " + cell(e.name, 30) + clean(e.text)
		if i == f.at {
			lines = append(lines, a.styles.here.draw(cell(">"+text[1:]+"_", width)))
		} else {
			lines = append(lines, cell(text, width))
		}
	}
	for _, l := range hang("! ", f.problem, width) {
		lines = append(lines, a.styles.strong.draw(l))
	}
	return lines
}
