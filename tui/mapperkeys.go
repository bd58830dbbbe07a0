package tui

import (
	"strings"

	"github.com/charmbracelet/bubbles/key"
	tea "github.com/charmbracelet/bubbletea"

	"eha/strokewise/ident/trace"
)

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
