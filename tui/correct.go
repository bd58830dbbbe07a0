package tui

import (
	"fmt"
	"maps"
	"slices"

	tea "github.com/charmbracelet/bubbletea"

	"eha/strokewise/ident/trace"
)

// Corrections of how logs are read: each is a new request for the same logs, so that
// the one before is the way back.

// mapColumns shows the table of the log in view, or what was said of it before.
func (s *tracesScreen) mapColumns(a *App) tea.Cmd {
	if m := a.aside; m != nil {
		a.over, a.aside = m, nil
		return m.try(a)
	}
	r := s.reading(a)
	switch {
	case a.table != nil:
		return a.tabled(*a.table)
	case r == nil:
		a.notice = "No log to map: o opens some"
	case a.work.Demo:
		a.notice = "The demo machine's columns are right; o opens your own logs"
	default:
		hand := trace.NoChannel
		if list := lanes(r); s.lane < len(list) {
			hand = list[s.lane].channel
		}
		return a.lookAt(lookedMsg{req: a.request, path: parts(a.work.Logs.Paths[s.log])[0], hand: hand})
	}
	return nil
}

// remember keeps the way back from the correction that is about to be made.
func (a *App) remember() {
	if a.work.Logs != nil && !a.work.Demo {
		a.undo = append(a.undo, a.request)
	}
}

// takeBack reads the logs as before the last correction.
func (a *App) takeBack() tea.Cmd {
	if len(a.undo) == 0 {
		a.notice = "Nothing was corrected since these logs were opened or the machine file saved"
		return nil
	}
	req := a.undo[len(a.undo)-1]
	a.undo = a.undo[:len(a.undo)-1]
	return a.load(req)
}

// mappingUnsaved reports whether something said of the columns is in no file yet.
func (a *App) mappingUnsaved() bool { return !maps.Equal(a.request.Columns, a.kept) }

// leftOutFlags writes what is left out of the logs as on a command line.
func (a *App) leftOutFlags() []string {
	var list []string
	for _, path := range slices.Sorted(maps.Keys(a.request.LeftOut)) {
		for _, s := range a.request.LeftOut[path] {
			list = append(list, fmt.Sprintf("--leave-out '%s=%.3fs..%.3fs'", path, s.From, s.To))
		}
	}
	return list
}

// mappingOthers reports whether the columns in view are of other logs than those on
// the bench, which stay there meanwhile.
func (a *App) mappingOthers() bool {
	m, ok := a.over.(*mapper)
	return ok && !slices.Equal(m.req.Paths, a.request.Paths)
}
