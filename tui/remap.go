package tui

import (
	"fmt"
	"maps"
	"strconv"

	"github.com/charmbracelet/bubbles/key"
	tea "github.com/charmbracelet/bubbletea"

	"eha/strokewise/ident/quantity"
	"eha/strokewise/ident/trace"
)

// noColumn names no column of any log: a channel stated so is absent.
const noColumn = "none"

// remapper corrects how one channel is read: which column, unit and sign.
type remapper struct {
	channel trace.Channel
	columns []string
	units   []string
	column  int // 0 for none
	unit    int
	flipped bool
	counts  string // counts per revolution as typed
	at      int
	base    trace.Column // what the machine file says beside these
	problem string
	old     trace.Column          // as it is read now; no header where it is not
	users   map[int]trace.Channel // which channel reads a column now, by entry of columns
}

// remap opens the correction of the channel in view.
func (s *tracesScreen) remap(a *App, r *trace.Reading) tea.Cmd {
	if a.work.Demo {
		a.notice = "The demo machine's columns are right; o opens your own logs"
		return nil
	}
	list := lanes(r)
	if s.lane >= len(list) {
		return nil
	}
	l := list[s.lane]
	m := &remapper{channel: l.channel, columns: append([]string{noColumn}, r.Layout.Headers...), units: quantity.Symbols(l.channel.Dimension()), base: a.work.Logs.Machine.Channels[l.channel]}
	if c, ok := a.request.Columns[l.channel]; ok {
		m.base = c
	}
	m.users = map[int]trace.Channel{}
	for _, g := range r.Guesses {
		if g.Channel != l.channel && !g.Asked {
			m.users[g.Index+1] = g.Channel
		}
	}
	if l.guess != nil && !l.guess.Asked {
		m.old = trace.Column{Header: l.guess.Column, Unit: l.guess.Unit}
	}
	if l.channel == trace.MotorPosition {
		m.units = append(m.units, "counts")
	}
	if l.guess != nil {
		for i, c := range m.columns {
			if i > 0 && i-1 == l.guess.Index {
				m.column = i
			} else if c == l.guess.Column && m.column == 0 {
				m.column = i
			}
		}
		for i, u := range m.units {
			if u == l.guess.Unit {
				m.unit = i
			}
		}
	}
	m.flipped = m.base.Sign < 0
	if m.base.CountsPerRev > 0 {
		m.counts = strconv.FormatFloat(m.base.CountsPerRev, 'f', -1, 64)
	}
	a.over = m
	return nil
}

func (m *remapper) title() string {
	return "How is " + m.channel.Words() + " to be read? All logs on the bench are read again with it."
}

func (m *remapper) keys(*App) []key.Binding {
	return []key.Binding{shown(keyUp, "up/down", "line"), shown(keyLeft, "left/right", "change"), shown(keyEnter, "enter", "read again so"), shown(keyCancel, "esc", "leave as it was")}
}

// inCounts reports whether the unit needs the encoder's counts.
func (m *remapper) inCounts() bool { return m.units[m.unit] == "counts" }

func (m *remapper) rows() int {
	if m.inCounts() {
		return 4
	}
	return 3
}

func (m *remapper) press(a *App, msg tea.KeyMsg) tea.Cmd {
	turn := 0
	switch {
	case key.Matches(msg, keyCancel), key.Matches(msg, keyQuit):
		a.over = nil
	case key.Matches(msg, keyUp):
		m.at = turnRound(m.at, -1, m.rows())
	case key.Matches(msg, keyDown):
		m.at = turnRound(m.at, 1, m.rows())
	case key.Matches(msg, keyLeft):
		turn = -1
	case key.Matches(msg, keyRight), key.Matches(msg, keySpace):
		turn = 1
	case key.Matches(msg, keyEnter):
		return m.apply(a)
	case m.at == 3:
		m.counts = edit(m.counts, msg)
	}
	if turn == 0 {
		return nil
	}
	switch m.at {
	case 0:
		m.column = turnRound(m.column, turn, len(m.columns))
	case 1:
		m.unit = turnRound(m.unit, turn, len(m.units))
	case 2:
		m.flipped = !m.flipped
	}
	return nil
}

// click goes to a line; a click on the one in hand changes it.
func (m *remapper) click(a *App, x, y, width, height int) tea.Cmd {
	switch i := y - 1; {
	case i < 0 || i >= m.rows():
	case i == m.at:
		return m.press(a, tea.KeyMsg{Type: tea.KeyRight})
	default:
		m.at = i
	}
	return nil
}

// apply reads the logs again with the correction.
func (m *remapper) apply(a *App) tea.Cmd {
	column := m.base
	column.Header, column.Unit, column.Sign = m.columns[m.column], m.units[m.unit], 1
	if m.flipped {
		column.Sign = -1
	}
	if m.inCounts() {
		n, err := strconv.ParseFloat(m.counts, 64)
		if err != nil || !(n > 0) {
			m.problem = "Counts per revolution must be a positive number; the encoder's data sheet or the drive's scaling has it."
			return nil
		}
		column.CountsPerRev = n
	}
	if err := trace.CheckUnit(m.channel, column); err != nil {
		m.problem = err.Error()
		return nil
	}
	req := a.request
	req.Columns = maps.Clone(req.Columns)
	if req.Columns == nil {
		req.Columns = map[trace.Channel]trace.Column{}
	}
	req.Columns[m.channel] = column
	// A column that another channel reads is exchanged, not shared.
	if other, taken := m.users[m.column]; taken && m.old.Header != "" {
		swap := a.work.Logs.Machine.Channels[other]
		if c, ok := a.request.Columns[other]; ok {
			swap = c
		}
		swap.Header, swap.Unit = m.old.Header, m.old.Unit
		req.Columns[other] = swap
	}
	a.over = nil
	a.unsaved["mapping"] = true
	return a.load(req)
}

func (m *remapper) view(a *App, width, height int) []string {
	sign := "as logged"
	if m.flipped {
		sign = "turned round"
	}
	rows := [][2]string{{"column", m.columns[m.column]}, {"unit", m.units[m.unit]}, {"sign", sign}}
	if m.inCounts() {
		rows = append(rows, [2]string{"counts per rev", m.counts + "_"})
	}
	lines := []string{""}
	for i, r := range rows {
		text := fmt.Sprintf("  %-16s < %s >", r[0], clean(r[1]))
		if i == m.at {
			lines = append(lines, a.styles.here.draw(cell(text, width)))
		} else {
			lines = append(lines, cell(text, width))
		}
	}
	lines = append(lines, "", "  Extending counts as positive, and so does a force that pushes the rod out.")
	if other, taken := m.users[m.column]; taken && m.old.Header != "" {
		lines = append(lines, cell(fmt.Sprintf("  %s reads that column now: the two are exchanged.", upper(other.Words())), width))
	}
	for _, l := range wrap("This changes how the log is read, nothing else. What is wrong in the controller too has to be put right there before any loop is closed: a wrong sign is a runaway.", width-4) {
		lines = append(lines, "  "+a.styles.strong.draw(l))
	}
	if m.problem != "" {
		for _, l := range wrap(m.problem, width-4) {
			lines = append(lines, "  "+a.styles.strong.draw(l))
		}
	}
	return lines
}
