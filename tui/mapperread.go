package tui

import (
	"context"
	"maps"

	tea "github.com/charmbracelet/bubbletea"

	"eha/strokewise/ident/quantity"
	"eha/strokewise/ident/trace"
)

// request is what to read with what is said.
func (m *mapper) request() Request {
	req := m.req
	req.Columns = maps.Clone(m.draft)
	if p := m.draft[trace.Time].Period; p > 0 {
		req.Period = p
	}
	return req
}

// try reads the logs with what is said, once nothing has been changed for a moment.
// What is still being read is given up first, so that long logs are not read twice at once.
func (m *mapper) try(a *App) tea.Cmd {
	m.changed, m.enter = true, false
	a.trying.stop()
	if _, what := m.lacks(); what != "" || !a.ahead.want() {
		return nil
	}
	return m.read(a)
}

func (m *mapper) read(a *App) tea.Cmd {
	id, ctx := a.trying.begin(a.ctx)
	load, req, patience := a.services.Load, m.request(), a.patience
	return func() tea.Msg {
		msg := triedMsg{id: id, req: req, err: context.Canceled}
		if !wait(ctx, patience) {
			return msg
		}
		msg.logs, msg.err = guarded(func() (*Logs, error) { return load(ctx, req, func(string, float64) {}) })
		if msg.err == nil {
			msg.sums = summarise(msg.logs)
		}
		return msg
	}
}

// waits reports whether what is said has still to be read.
func (m *mapper) waits(a *App) bool { return a.trying.busy() || a.ahead.again }

// heard shows what came of reading with what is said, or reads again where more was
// said meanwhile.
func (a *App) heard(msg triedMsg) tea.Cmd {
	again, current := a.ahead.done(), a.trying.done(msg.id)
	m, ok := a.over.(*mapper)
	if !ok {
		return nil
	}
	if again {
		if _, what := m.lacks(); what == "" && a.ahead.want() {
			return m.read(a)
		}
		return nil
	}
	if !current {
		return nil
	}
	m.logs, m.tried, m.sums, m.err = msg.logs, msg.req, msg.sums, msg.err
	if msg.err == nil {
		m.adopt()
	}
	if m.enter {
		return m.take(a)
	}
	return nil
}

// take puts the logs as read with what is said on the bench, as soon as they are.
func (m *mapper) take(a *App) tea.Cmd {
	row, what := m.lacks()
	switch {
	case m.typed != nil && m.problem != "":
	case what != "":
		field := 1
		if m.uses()[row].column.Unit != "" {
			field = 2 // what the unit needs beside
		}
		m.hold(row, field)
		m.problem = upper(what) + "."
	case m.waits(a):
		m.enter = true
	case !m.changed && m.fault == nil:
		a.over = nil
	case !m.changed || m.err != nil || m.logs == nil:
		m.problem = "These columns cannot be read yet, as said below."
	default:
		a.over = nil
		a.abandon()
		a.remember()
		m.timeUnit()
		a.tried = m.tried
		a.notice = "s keeps these columns in the machine file, for the next logs of this recorder; u undoes"
		return a.loaded(loadedMsg{m.logs, m.tried, m.sums})
	}
	return nil
}

// timeUnit says the unit that time was read in, so that the machine file holds it for
// logs of another rate too.
func (m *mapper) timeUnit() {
	column := m.tried.Columns[trace.Time]
	if column.Header == "" || column.Unit != "" {
		return
	}
	for _, g := range m.guesses {
		if _, known := quantity.LookupAs(g.Unit, quantity.Time); known && g.Channel == trace.Time && !g.Asked {
			column.Unit = g.Unit
			m.tried.Columns[trace.Time] = column
		}
	}
}
