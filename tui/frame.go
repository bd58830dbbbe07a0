package tui

import (
	"fmt"
	"strings"

	"github.com/charmbracelet/bubbles/key"
)

// The least size that the screens are laid out for.
const leastWidth, leastHeight = 80, 24

// textRows is how many rows the frame's sentences take at most: more where a fault
// stops the work, since nothing matters but to read it whole; the list of findings has
// it whole too.
func (a *App) textRows() int {
	if t, ok := a.screens[a.active].(*tracesScreen); ok && a.stopped() && a.over == nil && !a.large && !t.inList {
		return 4
	}
	return 2
}

const demoMark = " DEMO MACHINE, invented "

// View draws the whole screen: exactly as many lines as the terminal has.
func (a *App) View() string {
	if a.width < leastWidth || a.height < leastHeight {
		return a.tooSmall()
	}
	width, height := a.width, a.bodyHeight()
	var body []string
	if a.over != nil {
		body = a.over.view(a, width, height)
	} else {
		body = a.screens[a.active].view(a, width, height)
	}
	lines := append(a.head(width), box(body, width, height)...)
	lines = append(lines, a.foot(width)...)
	for i, l := range lines {
		lines[i] = strings.TrimRight(l, " ")
	}
	return strings.Join(lines, "\n")
}

// tooSmall is the plain notice below the least size; it too keeps to the terminal.
func (a *App) tooSmall() string {
	text := fmt.Sprintf("strokewise needs %d columns and %d rows, this window has %d and %d. Make it larger, or use check, fit and tune.", leastWidth, leastHeight, a.width, a.height)
	if a.invented() {
		text = "DEMO MACHINE. " + text
	}
	lines := wrap(text, a.width)
	return strings.Join(lines[:min(len(lines), max(a.height, 0))], "\n")
}

// head says where one is and what the screen says.
func (a *App) head(width int) []string {
	st := a.styles
	tabs := a.tabs()
	line := st.strong.draw(a.brand())
	used := len(a.brand())
	for i, t := range tabs {
		if i == a.active {
			line += st.here.draw(t)
		} else {
			line += t
		}
		used += len(t)
	}
	mark := ""
	if a.invented() {
		mark = demoMark
	}
	name := flush(a.benchName(width-used-3), width-used-2) + "  "
	if a.invented() {
		name = strings.Repeat(" ", max(width-used-len(mark), 0))
	}
	line += st.faint.draw(name) + st.alarm.draw(mark)
	says := a.screens[a.active].says(a)
	if a.over != nil {
		says = a.over.title()
	}
	rows := []string{line}
	for _, l := range inRows(a.textRows(), wrap(says, width), width) {
		rows = append(rows, st.strong.draw(l))
	}
	if len(rows) < 2 {
		rows = append(rows, "")
	}
	// A sentence that needs two lines takes the rule's.
	if len(rows) < 3 {
		rows = append(rows, st.faint.draw(strings.Repeat("─", width)))
	}
	return rows
}

// invented reports whether the demo machine is on the bench, as the program brings
// it or read from files that it wrote.
func (a *App) invented() bool {
	w := &a.work
	if a.mappingOthers() {
		return false
	}
	return w.Demo || w.Plant != nil && w.Plant.Demo || w.Logs != nil && w.Logs.Job != nil && w.Logs.Job.Demo
}

// brand is the program's name where there is room for it beside the screens' names.
func (a *App) brand() string {
	if a.width < 100 {
		return ""
	}
	return "strokewise "
}

// tabs are the screens' names with their numbers; the one in view stands in brackets.
func (a *App) tabs() []string {
	tabs := make([]string, len(a.screens))
	for i, s := range a.screens {
		tabs[i] = fmt.Sprintf(" %d %s ", i+1, s.title())
		if i == a.active {
			tabs[i] = fmt.Sprintf("[%d %s]", i+1, s.title())
		}
	}
	return tabs
}

// bodyHeight is what the frame leaves to a screen.
func (a *App) bodyHeight() int { return a.height - len(a.head(a.width)) - len(a.foot(a.width)) }

// foot says what is going on or what to do next, in two rows where it needs them,
// and which keys matter most.
func (a *App) foot(width int) []string {
	st := a.styles
	var lines []string
	switch {
	case a.offering():
		lines = []string{cell("Next: enter loads the marked files as one machine; space marks and unmarks", width)}
	case a.task != nil:
		lines = []string{st.strong.draw(cell(a.working(width), width))}
	case a.notice != "":
		for _, l := range inRows(2, hang("> ", a.notice, width), width) {
			lines = append(lines, st.strong.draw(l))
		}
	case a.over != nil:
		lines = []string{cell("", width)}
	default:
		lines = inRows(a.textRows(), hang("Next: ", a.screens[a.active].next(a), width), width)
	}
	return append(lines, st.faint.draw(cell(a.keyLine(), width)))
}

// offering reports whether the folder's files are offered before the demo, which is
// read meanwhile.
func (a *App) offering() bool {
	o, ok := a.over.(*opener)
	return ok && o.atOnce
}

// inRows keeps wrapped lines to at most n, the last one cut where there are more.
func inRows(n int, lines []string, width int) []string {
	if len(lines) > n {
		lines = append(lines[:n-1:n-1], cell(lines[n-1]+" "+strings.TrimSpace(lines[n]), width))
	}
	return lines
}

// working is the progress line: what is done, a bar, and how to stop it.
func (a *App) working(width int) string {
	t := a.task
	const bar = 20
	filled := strings.Repeat(".", bar)
	percent := ""
	if t.share >= 0 {
		n := int(min(max(t.share, 0), 1) * bar)
		filled = strings.Repeat("=", n) + strings.Repeat(".", bar-n)
		percent = fmt.Sprintf("%3.0f %%  ", 100*min(max(t.share, 0), 1))
	}
	return fmt.Sprintf("|%s| %s%s (esc cancels)  %s", filled, percent, upper(t.title), t.doing)
}

// keyLine lists the keys that fit.
func (a *App) keyLine() string {
	var parts []string
	for _, k := range a.keysInLine() {
		parts = append(parts, k.Help().Key+" "+k.Help().Desc)
	}
	return strings.Join(parts, keyGap)
}

const keyGap = " · "

// keysInLine are as many keys of the screen in view as fit, the program's own at the end.
func (a *App) keysInLine() []key.Binding {
	if a.over != nil {
		return a.over.keys(a)
	}
	always := []key.Binding{shown(keyOpen, "o", "open"), shown(keySave, "s", "save"), shown(keyQuit, "q", "leave"), shown(keyHelp, "?", "keys")}
	width := func(list []key.Binding) (n int) {
		for _, k := range list {
			n += narrow.StringWidth(k.Help().Key + " " + k.Help().Desc + keyGap)
		}
		return n - narrow.StringWidth(keyGap)
	}
	var list []key.Binding
	for _, k := range a.screens[a.active].keys(a) {
		if width(append(append(list[:len(list):len(list)], k), always...)) <= a.width {
			list = append(list, k)
		}
	}
	return append(list, always...)
}
