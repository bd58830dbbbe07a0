package tui

import (
	"errors"
	"fmt"
	"math"
	"strings"

	"eha/strokewise/ident/quality"
	"eha/strokewise/ident/trace"
	"eha/strokewise/tui/chart"
)

// mapperHead is how many lines stand over the rows of the table.
const mapperHead = 2

// mapperWidths shares a line among the parts of a row; the curve takes what is left.
type mapperWidths struct{ name, first, span, use, curve int }

func widthsFor(width int) mapperWidths {
	w := mapperWidths{name: min(max(width/6, 14), 40), first: min(max(width/6, 14), 30), span: min(max(width/7, 13), 22), use: min(max(width/4, 24), 44)}
	w.curve = max(width-2-w.name-w.first-w.span-w.use-4, 4)
	return w
}

// tableRows is how many rows of the table are in view: all where the fields and four
// lines of what the checks say fit under them.
func (m *mapper) tableRows(a *App, width, height int) int {
	room := height - mapperHead - 1 - len(m.form(a, width)) - 4
	return min(m.rows(), max(room, 3))
}

func (m *mapper) view(a *App, width, height int) []string {
	w := widthsFor(width)
	row := func(name, first, span, curve, use string) string {
		return cell(name, w.name) + " " + cell(first, w.first) + " " + cell(span, w.span) + " " + pad(curve, w.curve) + " " + cell(use, w.use)
	}
	lines := []string{cell(m.place(), width), a.styles.faint.draw("  " + row("column", "first values", "from .. to", "over the rows", "read as"))}
	uses := m.uses()
	shown := m.tableRows(a, width, height)
	from := keep(m.row, m.rows(), shown)
	for i := from; i < min(from+shown, m.rows()); i++ {
		mark, style := "  ", a.styles.plain
		if i == m.row {
			mark, style = "> ", a.styles.strong
		}
		if i >= len(uses) {
			name := "(no time)"
			if m.counted() {
				name = "(every count)"
			}
			lines = append(lines, mark+style.draw(row(name, "", "", "", m.periodText())))
			continue
		}
		c := m.sheet.Columns[i]
		parts := row(shownName(c), firstText(c), spanText(c), curveOf(a, c, w.curve), m.useText(i, uses[i]))
		lines = append(lines, mark+style.draw(parts))
	}
	lines = append(lines, a.styles.faint.draw(strings.Repeat("─", width)))
	lines = append(lines, m.form(a, width)...)
	return append(lines, m.verdict(a, width, height-len(lines))...)
}

func shownName(c trace.SheetColumn) string {
	name := trace.Printable(c.Name)
	if c.Unit != "" && !c.Loose {
		name += " [" + c.Unit + "]"
	}
	return name
}

func firstText(c trace.SheetColumn) string {
	if !c.Numbers && len(c.First) == 0 {
		return "text"
	}
	var values []string
	for _, v := range c.First {
		values = append(values, digits(v, 3))
	}
	if len(values) == 0 {
		return "empty"
	}
	return strings.Join(values, " ")
}

func spanText(c trace.SheetColumn) string {
	if math.IsNaN(c.Low) {
		return ""
	}
	return digits(c.Low, 3) + " .. " + digits(c.High, 3)
}

// curveOf draws a column in one line.
func curveOf(a *App, c trace.SheetColumn, width int) string {
	if math.IsNaN(c.Low) {
		return ""
	}
	p := chart.Plot{Bare: true, Series: []chart.Series{{Y: c.Curve, Step: 1, Ink: chart.InkA}}}
	lines := splitLines(p.Render(width, 1, a.styles.paint))
	if len(lines) == 0 {
		return ""
	}
	return lines[0]
}

// useText says what a column is read as, in few words.
func (m *mapper) useText(j int, u use) string {
	if u.channel == trace.NoChannel {
		var names []string
		for _, g := range m.asked(j) {
			names = append(names, g.Channel.Words())
		}
		if len(names) > 0 {
			return "? " + strings.Join(names, ", ")
		}
		return "-"
	}
	text := u.channel.Words()
	switch {
	case u.column.Unit != "":
		text += ", " + u.column.Unit
	case u.channel != trace.Time:
		text += ", unit?"
	}
	if u.column.Sign < 0 {
		text += ", turned"
	}
	if u.guess != nil && u.guess.Sure < 0.8 {
		text += " ?"
	}
	return text
}

func (m *mapper) periodText() string {
	if f := m.periodField(); f.text != "" {
		return "a row every " + f.text
	}
	return "type the sample period"
}

// fieldSpot is where a field of the row in hand is drawn in the form.
type fieldSpot struct {
	text      string
	row, from int
}

// spots lays the fields of the row in hand out in lines.
func (m *mapper) spots(width int) []fieldSpot {
	fields := m.inHand()
	at := min(m.field, len(fields)-1)
	var list []fieldSpot
	row, from := 0, 2
	for i, f := range fields {
		value := f.text
		switch {
		case f.turn != nil:
			value = "< " + f.text + " >"
		case i == at && m.typed != nil:
			value = *m.typed + "_"
		case i == at:
			value += "_"
		case value == "" && f.none != "":
			value = f.none
		case value == "":
			value = "?"
		}
		text := clean(f.name + " " + value)
		text = strings.TrimRight(cell(text, min(narrow.StringWidth(text), width-2)), " ")
		n := narrow.StringWidth(text)
		if from > 2 && from+n > width {
			row, from = row+1, 2
		}
		list = append(list, fieldSpot{text, row, from})
		from += n + 2
	}
	return list
}

// form are the fields of the row in hand, what can be typed and why it is read so.
func (m *mapper) form(a *App, width int) []string {
	fields := m.inHand()
	at := min(m.field, len(fields)-1)
	lines := []string{""}
	for i, spot := range m.spots(width) {
		if spot.row == len(lines) {
			lines = append(lines, "")
		}
		if i == at {
			spot.text = a.styles.here.draw(spot.text)
		}
		lines[spot.row] += "  " + spot.text
	}
	if f := fields[at]; f.read != nil {
		lines = append(lines, a.styles.faint.draw(cell("  Type "+f.need, width)))
	}
	switch {
	case m.problem != "":
		for _, l := range inRows(2, hang("  ! ", m.problem, width), width) {
			lines = append(lines, a.styles.strong.draw(l))
		}
	case m.row < len(m.sheet.Columns):
		if why := m.why(m.row); why != "" {
			for _, l := range inRows(2, hang("  ", why, width), width) {
				lines = append(lines, a.styles.faint.draw(l))
			}
		}
	}
	return lines
}

// why says what speaks for how a column is read, or might be.
func (m *mapper) why(j int) string {
	u := m.uses()[j]
	if u.guess != nil {
		return fmt.Sprintf("Guessed, sure %.0f %%: %s.", 100*u.guess.Sure, u.guess.Why)
	}
	if u.channel != trace.NoChannel {
		return ""
	}
	var parts []string
	for _, g := range m.asked(j) {
		parts = append(parts, question(g))
	}
	return strings.Join(parts, " ")
}

// verdict says what the checks say of the logs as read now.
func (m *mapper) verdict(a *App, width, height int) []string {
	var lines []string
	head := func(text string) {
		for _, l := range wrap(text, width) {
			lines = append(lines, a.styles.strong.draw(l))
		}
	}
	j, what := m.lacks()
	switch {
	case what != "":
		head(fmt.Sprintf("Not read yet: '%s': %s.", short(trace.Printable(m.sheet.Columns[j].Name)), what))
	case m.waits(a) && m.enter:
		head("Reading the logs with these columns; they are used as soon as that is done.")
	case m.waits(a):
		head("Reading the logs with these columns...")
	case m.err != nil:
		head("Not usable yet: " + problemOf(m.err))
	case m.logs == nil:
		head("Not usable yet. Up and down take a column in hand, left and right say what it is, tab goes on to its unit.")
	default:
		head(checked(m.logs) + m.enterText())
		lines = append(lines, m.findings(a, width)...)
	}
	if len(lines) > height && height > 0 {
		lines = append(lines[:height-1:height-1], cell("  and more, on the Traces screen", width))
	}
	return lines
}

func (m *mapper) enterText() string {
	if m.changed {
		return " Enter uses it."
	}
	return ""
}

// problemOf is a fault without the advice for the command line.
func problemOf(err error) string {
	text := advise(err)[0] + "."
	var read *trace.ReadError
	if errors.As(err, &read) && read.Advice != "" && !strings.Contains(read.Advice, "--") {
		text += " " + upper(read.Advice) + "."
	}
	return text
}

// checked sums up what the checks say.
func checked(l *Logs) string {
	held := map[trace.Channel]bool{}
	for _, r := range l.Readings {
		for _, c := range r.Trace.Channels() {
			held[c] = true
		}
	}
	text := fmt.Sprintf("%s read.", plural(len(held), "channel"))
	if n := l.stops(); n > 0 {
		return text + fmt.Sprintf(" The checks stop at %s.", plural(n, "fault"))
	}
	can := 0
	for _, i := range l.Report.Identifiable {
		if i.Can {
			can++
		}
	}
	text += fmt.Sprintf(" The logs can tell %d of %d parameters.", can, len(l.Report.Identifiable))
	if lacking := l.unlogged(); len(lacking) > 0 {
		text += " Still without a column: " + strings.Join(lacking, ", ") + "."
	}
	return text
}

// findings are the faults and harmful findings, the worst first.
func (m *mapper) findings(a *App, width int) []string {
	var lines []string
	for _, f := range m.logs.Report.Findings {
		if f.Severity == quality.Note {
			continue
		}
		lines = append(lines, hang("  "+cell(severityWords[f.Severity], 5), a.units.say(f.Text), width)...)
	}
	return lines
}
