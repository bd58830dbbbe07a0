package tui

import (
	"github.com/charmbracelet/bubbles/key"
	tea "github.com/charmbracelet/bubbletea"
)

// fault says that files could not be taken while the bench stays as it was.
type fault struct {
	what  string
	lines []string
}

func (f *fault) title() string { return f.what }

func (f *fault) keys(*App) []key.Binding {
	return []key.Binding{keyReload, keyOpen, shown(keyCancel, "esc", "back to what is on the bench")}
}

func (f *fault) press(a *App, msg tea.KeyMsg) tea.Cmd {
	switch {
	case key.Matches(msg, keyReload):
		a.over = nil
		return a.reload()
	case key.Matches(msg, keyOpen):
		a.over = nil
		return a.openFiles(a.folder)
	case key.Matches(msg, keyCancel), key.Matches(msg, keyEnter), key.Matches(msg, keyQuit):
		a.over = nil
	}
	return nil
}

func (f *fault) view(a *App, width, height int) []string {
	lines := []string{""}
	for _, l := range f.lines {
		lines = append(lines, hang("  ", l, width-2)...)
	}
	stays := "The logs before are still on the bench, unchanged."
	if a.work.Demo {
		stays = "On the bench is still the DEMO MACHINE, not yours."
	}
	return append(lines, "", "  "+a.styles.strong.draw(stays), "", "  r    read them again, once the file is put right", "  o    open others", "  esc  back")
}
