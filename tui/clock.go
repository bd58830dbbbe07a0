package tui

import (
	"maps"
	"strings"

	"github.com/charmbracelet/bubbles/key"
	tea "github.com/charmbracelet/bubbletea"

	"eha/strokewise/ident/quantity"
	"eha/strokewise/ident/trace"
)

// clock asks for the sample period of logs that hold no time.
type clock struct{ form typing }

// askPeriod opens the question, for the logs on the bench or for those that could
// not be read without an answer.
func (a *App) askPeriod() {
	if len(a.tried.Paths) == 0 {
		a.notice = "A sample period belongs to logs without time: o opens some"
		return
	}
	if l := a.work.Logs; l != nil && a.over == nil && len(l.Readings) > 0 && !untimed(l) {
		a.notice = "These logs hold their own time; a sample period is typed only where one does not"
		return
	}
	c := &clock{}
	c.form.entries = []entry{{name: "from sample to sample"}}
	if p := a.tried.Period; p > 0 {
		c.form.entries[0].text = quantity.Digits(p*1e3, 6) + " ms"
	}
	a.over = c
}

// untimed reports whether a log's time is a stated period.
func untimed(l *Logs) bool {
	for _, r := range l.Readings {
		if !r.Clock.Has || r.Clock.Index {
			return true
		}
	}
	return false
}

func (c *clock) title() string {
	return "What is the recorder's sample period? These logs hold no time, or only a count of samples."
}

func (c *clock) keys(*App) []key.Binding {
	return []key.Binding{shown(keyEnter, "enter", "read again so"), shown(keyErase, "backspace", "erase"), shown(keyCancel, "esc", "leave as it was")}
}

func (c *clock) press(a *App, msg tea.KeyMsg) tea.Cmd {
	return c.form.answer(a, msg, c.apply)
}

// apply reads the logs with the period; it is kept with the corrected columns.
func (c *clock) apply(a *App) tea.Cmd {
	period, err := quantity.Parse(strings.Replace(c.form.entries[0].text, ",", ".", 1), quantity.Time)
	if err != nil || !(period > 0) {
		c.form.problem = "A time with its unit is needed, such as 2 ms or 500 us."
		return nil
	}
	req := a.tried
	req.Period = period
	req.Columns = maps.Clone(req.Columns)
	if req.Columns == nil {
		req.Columns = map[trace.Channel]trace.Column{}
	}
	column := req.Columns[trace.Time]
	column.Period = period
	req.Columns[trace.Time] = column
	a.over = nil
	a.remember()
	return a.load(req)
}

func (c *clock) click(*App, int, int, int, int) tea.Cmd { return nil }

func (c *clock) view(a *App, width, height int) []string {
	lines := append([]string{""}, c.form.lines(a, width)...)
	lines = append(lines, "")
	for _, l := range wrap("The recorder's settings name it as sample time, or as a rate: 500 samples a second is 2 ms. Every speed, gain and frequency scales with it, so a wrong one makes every setting wrong.", width-4) {
		lines = append(lines, "  "+l)
	}
	return append(lines, "", cell("  s then keeps it in the machine file, for the next logs of this recorder.", width))
}
