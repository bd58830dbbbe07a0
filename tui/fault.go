package tui

import (
	"errors"
	"path/filepath"
	"slices"
	"strings"

	"github.com/charmbracelet/bubbles/key"
	tea "github.com/charmbracelet/bubbletea"

	"eha/strokewise/tuning/job"
)

// fault says that files could not be taken while the bench stays as it was.
type fault struct {
	what     string
	lines    []string
	timeless bool   // a sample period typed would do
	drop     string // the log that is to blame, where there are others; "" where not
}

func (f *fault) title() string { return f.what }

func (f *fault) keys(*App) []key.Binding {
	var list []key.Binding
	if f.timeless {
		list = append(list, shown(keyPeriod, "t", "type the sample period"))
	}
	if f.drop != "" {
		list = append(list, shown(keyDrop, "x", "without it"))
	}
	return append(list, keyReload, keyOpen, shown(keyCancel, "esc", "back"))
}

func (f *fault) press(a *App, msg tea.KeyMsg) tea.Cmd {
	switch {
	case key.Matches(msg, keyPeriod) && f.timeless:
		a.askPeriod()
	case key.Matches(msg, keyDrop) && f.drop != "":
		a.over = nil
		return a.load(a.tried.without(f.drop))
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

// answers are the lines to choose from, by key.
func (f *fault) answers() [][2]string {
	list := [][2]string{{"r", "read them again, once the file is put right"}, {"o", "open others"}, {"esc", "back"}}
	if f.drop != "" {
		list = append([][2]string{{"x", "put that file aside and read the others"}}, list...)
	}
	if f.timeless {
		list = append([][2]string{{"t", "type the sample period"}}, list...)
	}
	return list
}

// said is what stands over the answers.
func (f *fault) said(a *App, width int) []string {
	lines := []string{""}
	for _, l := range f.lines {
		lines = append(lines, hang("  ", l, width-2)...)
	}
	stays := "The logs before are still on the bench, unchanged."
	switch {
	case a.empty():
		stays = "Nothing is on the bench."
	case a.work.Demo:
		stays = "On the bench is still the DEMO MACHINE, not yours."
	}
	return append(lines, "", "  "+a.styles.strong.draw(stays), "")
}

func (f *fault) click(a *App, x, y, width, height int) tea.Cmd {
	if i := y - len(f.said(a, width)); i >= 0 && i < len(f.answers()) {
		return f.press(a, keyNamed(f.answers()[i][0]))
	}
	return nil
}

func (f *fault) view(a *App, width, height int) []string {
	lines := f.said(a, width)
	for _, answer := range f.answers() {
		lines = append(lines, "  "+cell(answer[0], 5)+answer[1])
	}
	return lines
}

// without is the request less one of its logs.
func (r Request) without(path string) Request {
	paths := r.Paths
	r.Paths = nil
	for _, p := range paths {
		if p != path {
			r.Paths = append(r.Paths, p)
		}
	}
	return r
}

// toBlame is the log of a request that a fault is about, where there are others; ""
// where it is none.
func (r Request) toBlame(err error) string {
	var file *job.FileError
	if len(r.Paths) < 2 || !errors.As(err, &file) {
		return ""
	}
	for _, p := range r.Paths {
		if slices.Contains(parts(p), file.Path) {
			return p
		}
	}
	return ""
}

// parts are the files of a log as named: two where recordings are joined with "+".
func parts(path string) []string {
	if first, second, joined := strings.Cut(path, "+"); joined && filepath.Ext(first) != "" && filepath.Ext(second) != "" {
		return []string{first, second}
	}
	return []string{path}
}

// files are the files of all logs of a request.
func (r Request) files() []string {
	var list []string
	for _, p := range r.Paths {
		list = append(list, parts(p)...)
	}
	return list
}
