package tui

import (
	"context"
	"fmt"
	"maps"
	"slices"
	"strings"

	"github.com/charmbracelet/bubbles/key"
	tea "github.com/charmbracelet/bubbletea"

	"eha/strokewise/ident/quantity"
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

func (m *mapper) title() string {
	if m.fault != nil && m.logs == nil {
		return "Which column is which? " + advise(m.fault)[0]
	}
	return "Which column is which? What is said here holds for all logs on the bench."
}

func (m *mapper) keys(*App) []key.Binding {
	list := []key.Binding{shown(keyUp, "up/down", "column"), shown(keyLeft, "left/right", "or"), keyLetters, shown(keyTab, "tab", "unit"), shown(keyEnter, "enter", "use"), shown(keyCancel, "esc", "leave")}
	if len(m.req.files()) > 1 {
		list = append(list, keyLogOn)
	}
	return list
}

// rows counts the columns, and the sample period where it is to be typed.
func (m *mapper) rows() int {
	if m.timed() {
		return len(m.sheet.Columns)
	}
	return len(m.sheet.Columns) + 1
}

// inHand are the fields of the row in hand.
func (m *mapper) inHand() []mapField { return m.fields(m.row) }

func (m *mapper) press(a *App, msg tea.KeyMsg) tea.Cmd {
	fields := m.inHand()
	f := fields[min(m.field, len(fields)-1)]
	m.enter = m.enter && key.Matches(msg, keyEnter)
	switch {
	case key.Matches(msg, keyCancel), msg.Type == tea.KeyCtrlC:
		m.leave(a)
	case key.Matches(msg, keyUp):
		m.hold(m.row-1, 0)
	case key.Matches(msg, keyDown):
		m.hold(m.row+1, 0)
	case key.Matches(msg, keyPageUp):
		m.hold(max(m.row-10, 0), 0)
	case key.Matches(msg, keyPageDn):
		m.hold(min(m.row+10, m.rows()-1), 0)
	case key.Matches(msg, keyTab):
		m.hold(m.row, turnRound(m.field, 1, len(fields)))
	case key.Matches(msg, keyTabBack):
		m.hold(m.row, turnRound(m.field, -1, len(fields)))
	case key.Matches(msg, keyLogOn):
		return m.nextLog(a)
	case key.Matches(msg, keyEnter):
		return m.take(a)
	case f.turn != nil:
		return m.turn(a, f, msg)
	default:
		return m.typing(a, f, msg)
	}
	return nil
}

// hold takes a row and a field in hand.
func (m *mapper) hold(row, field int) {
	if row != m.row {
		m.settle()
	}
	m.row, m.field, m.typed, m.problem = turnRound(row, 0, m.rows()), field, nil, ""
}

// turn changes a field that is chosen.
func (m *mapper) turn(a *App, f mapField, msg tea.KeyMsg) tea.Cmd {
	m.problem = ""
	switch {
	case key.Matches(msg, keyLeft):
		f.turn(-1)
	case key.Matches(msg, keyRight), key.Matches(msg, keySpace):
		f.turn(1)
	case m.field == 0 && key.Matches(msg, keyErase):
		m.mapping.take(m.row, trace.NoChannel)
	case m.field == 0 && msg.Type == tea.KeyRunes && !msg.Paste:
		m.letter(m.row, strings.ToLower(string(msg.Runes)))
	default:
		return nil
	}
	return m.try(a)
}

// typing changes a field that is typed; what cannot be read leaves it as it was.
func (m *mapper) typing(a *App, f mapField, msg tea.KeyMsg) tea.Cmd {
	text := ""
	if m.typed != nil || key.Matches(msg, keyErase) {
		text = f.text
	}
	if m.typed != nil {
		text = *m.typed
	}
	text = edit(text, msg)
	m.typed, m.problem = &text, ""
	if !f.read(text) {
		m.problem = upper(f.name) + ": " + f.need + "."
		return nil
	}
	return m.try(a)
}

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

// click goes to a row or to a field; a click on the field in hand changes it.
func (m *mapper) click(a *App, x, y, width, height int) tea.Cmd {
	shown := m.tableRows(a, width, height)
	row := y - mapperHead
	if i := row + keep(m.row, m.rows(), shown); row >= 0 && row < shown && i < m.rows() {
		m.hold(i, 0)
		return nil
	}
	for i, spot := range m.spots(width) {
		if spot.row != row-shown-1 || x < spot.from || x >= spot.from+narrow.StringWidth(spot.text) {
			continue
		}
		if i == m.field {
			return m.press(a, tea.KeyMsg{Type: tea.KeyRight})
		}
		m.hold(m.row, i)
	}
	return nil
}

// place names the log in view among those to read.
func (m *mapper) place() string {
	text := fmt.Sprintf("%s: %d rows, %s", m.sheet.File, m.sheet.Rows, plural(len(m.sheet.Columns), "column"))
	if files := m.req.files(); len(files) > 1 {
		text = fmt.Sprintf("File %d of %d, %s", slices.Index(files, m.path)+1, len(files), text)
	}
	return text
}
