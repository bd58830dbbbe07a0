package tui

import (
	"context"
	"fmt"
	"slices"
	"strings"

	tea "github.com/charmbracelet/bubbletea"

	"eha/strokewise/ident/trace"
)

// mapper shows a log as the table that it is and lets the user say which column is
// which. What is said is tried at once: the logs are read with it and judged, while
// the bench stays as it is until enter.
type mapper struct {
	*mapping
	req     Request // the logs to read, with the mapping as it was
	path    string  // of the log in view
	fault   error   // why the logs could not be read before; nil where they could
	row     int     // column in hand; past the last one the sample period
	field   int
	typed   *string // into the field in hand, nil while it is as it was
	problem string  // with what was typed

	changed bool // something was said here
	logs    *Logs
	tried   Request
	sums    summaries
	err     error // what came of reading with what is said
	enter   bool  // to be taken as soon as it has been read
}

type (
	// lookedMsg is a log as a table.
	lookedMsg struct {
		req    Request
		path   string
		sheet  *trace.Sheet
		stated map[trace.Channel]trace.Column
		fault  error // why the table is looked at
		err    error
		hand   trace.Channel // whose column to take in hand
		from   *mapper       // the table before, of another log with the same mapping; nil for none
	}
	// triedMsg is what came of reading logs with what is said.
	triedMsg struct {
		id   int
		req  Request
		logs *Logs
		sums summaries
		err  error
	}
)

const stepLook = "looking at the columns"

// lookAt reads a log as a table and shows it.
func (a *App) lookAt(msg lookedMsg) tea.Cmd {
	look := a.services.Look
	return a.begin(stepLook, func(ctx context.Context, progress Progress) tea.Msg {
		msg.sheet, msg.stated, msg.err = look(ctx, msg.req, msg.path, progress)
		return msg
	})
}

// tabled shows the table of a log; where there is none, the fault it was looked at for.
func (a *App) tabled(msg lookedMsg) tea.Cmd {
	switch {
	case msg.err != nil && msg.fault != nil:
		a.unread(msg.fault)
		return nil
	case msg.err != nil:
		a.notice = strings.Join(advise(msg.err), " ")
		return nil
	}
	m := &mapper{mapping: newMapping(msg.sheet, msg.stated, msg.req.Columns), req: msg.req, path: msg.path, fault: msg.fault}
	if old := msg.from; old != nil {
		m.draft, m.changed, m.logs, m.tried, m.sums, m.err, m.fault = old.draft, old.changed, old.logs, old.tried, old.sums, old.err, old.fault
		m.settle()
	}
	if l := a.work.Logs; m.logs == nil && msg.fault == nil && l != nil {
		m.logs, m.tried = l, msg.req
	}
	m.adopt()
	m.row = m.first(msg.hand)
	a.show(0)
	a.over, a.aside, a.table = m, nil, nil
	if msg.fault != nil && msg.from == nil {
		a.table = &msg
	}
	if a.empty() && msg.fault != nil {
		a.failures[stepLoad] = msg.fault
	}
	return nil
}

// first is the row to take in hand: the one of a channel or that may be it; without a
// channel the first that is asked about, else not read, else the sample period, if one of them is there.
func (m *mapper) first(hand trace.Channel) int {
	asked, free := -1, -1
	for j, u := range m.uses() {
		switch {
		case hand != trace.NoChannel && (u.channel == hand || u.channel == trace.NoChannel && asks(m.asked(j), hand)):
			return j
		case u.channel != trace.NoChannel || hand != trace.NoChannel:
		case asked < 0 && len(m.asked(j)) > 0:
			asked = j
		case free < 0:
			free = j
		}
	}
	switch {
	case asked >= 0:
		return asked
	case free >= 0:
		return free
	case hand == trace.NoChannel:
		return m.rows() - 1
	}
	return 0
}

func asks(list []trace.Guess, c trace.Channel) bool {
	return slices.ContainsFunc(list, func(g trace.Guess) bool { return g.Channel == c })
}

// adopt takes the guesses of the log in view as they were when it was last read.
func (m *mapper) adopt() {
	if m.logs == nil || m.logs.Job == nil {
		return
	}
	for i, r := range m.logs.Readings {
		// The columns of joined recordings are counted through; the table's are not.
		if i < len(m.logs.Paths) && m.logs.Paths[i] == m.path {
			m.guesses = r.Guesses
		}
	}
}

// asked lists the channels that column j could hold and for which it was not taken.
func (m *mapping) asked(j int) []trace.Guess {
	var list []trace.Guess
	for _, g := range m.guesses {
		if g.Asked && (g.Index == j || slices.Contains(g.Others, trace.Printable(m.sheet.Columns[j].Name))) {
			list = append(list, g)
		}
	}
	return list
}

// leave sets aside what was said, so that m brings it back.
func (m *mapper) leave(a *App) {
	a.trying.stop()
	a.over = nil
	if m.changed {
		a.aside = m
		a.notice = "The columns are as they were; m brings back what was said of them"
	}
}

// nextLog shows the next log's columns under the same mapping.
func (m *mapper) nextLog(a *App) tea.Cmd {
	files := m.req.files()
	if len(files) < 2 {
		return nil
	}
	m.settle()
	next := turnRound(slices.Index(files, m.path), 1, len(files))
	return a.lookAt(lookedMsg{req: m.req, path: files[next], fault: m.fault, from: m})
}

// place names the log in view among those to read.
func (m *mapper) place() string {
	text := fmt.Sprintf("%s: %d rows, %s", m.sheet.File, m.sheet.Rows, plural(len(m.sheet.Columns), "column"))
	if files := m.req.files(); len(files) > 1 {
		text = fmt.Sprintf("File %d of %d, %s", slices.Index(files, m.path)+1, len(files), text)
	}
	return text
}
