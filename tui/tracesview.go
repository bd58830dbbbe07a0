package tui

import (
	"fmt"
	"math"
	"strings"

	"eha/strokewise/ident/plant"
	"eha/strokewise/ident/quality"
	"eha/strokewise/ident/quantity"
	"eha/strokewise/ident/trace"
	"eha/strokewise/tui/chart"
)

// laneLabel is the width of what stands before a lane.
const laneLabel = 36

// laneRows is how the height is shared among the lanes.
type laneRows struct{ first, shown, each, chosen int }

func (l laneRows) height(i, lane int) int {
	if i == lane {
		return l.chosen
	}
	return l.each
}

// laneRows gives the lane in hand more room; all lanes are shown if they fit.
func (s *tracesScreen) laneRows(a *App, n, height int) laneRows {
	room := height - s.listRows(a, height) - 4
	rows := laneRows{shown: min(n, max(room-2, 1)), each: 1}
	if rows.shown > 1 {
		rows.each = min(max((room-3)/rows.shown, 1), 3)
	}
	rows.chosen = max(room-(rows.shown-1)*rows.each, 1)
	rows.first = keep(s.lane, n, rows.shown)
	return rows
}

// listRows is the height of the list below: more while the arrows move in it,
// no more than it fills.
func (s *tracesScreen) listRows(a *App, height int) int {
	entries := s.entries(a.work.Logs) + 2
	if s.inList {
		// What is in hand is read whole, beside the lane that it is about.
		return max(min(max(height/2, height-9), entries+8), 7)
	}
	return max(min(height/4, entries), 4)
}

func (s *tracesScreen) view(a *App, width, height int) []string {
	r := s.reading(a)
	if r == nil {
		return s.empty(a, width)
	}
	list := lanes(r)
	s2 := *s
	s2.lane = min(s.lane, max(len(list)-1, 0))
	if a.large && len(list) > 0 {
		return s2.largeLane(a, r, list[s2.lane], width, height)
	}
	every := digits(r.Trace.Period()*1e3, 4) + " ms"
	if !r.Clock.Has || r.Clock.Index {
		every += " as stated"
	}
	lines := []string{cell(fmt.Sprintf("Log %d of %d: %s  %d rows every %s, %s", s.log+1, len(a.work.Logs.Readings), r.Trace.Name(), r.Trace.Len(),
		every, a.units.show(r.Trace.Duration(), quantity.Time)), width)}
	rows := s2.laneRows(a, len(list), height)
	for i := rows.first; i < rows.first+rows.shown; i++ {
		lines = append(lines, s2.laneLines(a, r, list[i], i, rows.height(i, s2.lane), width)...)
	}
	from, to := s.span(r.Trace)
	for _, l := range splitLines(chart.XAxis(chart.Axis{Label: "time (s)", Min: from, Max: to}, width-laneLabel, a.styles.paint)) {
		lines = append(lines, strings.Repeat(" ", laneLabel)+l)
	}
	if len(list) > 0 {
		lines = append(lines, a.styles.faint.draw(cell("  "+guessText(list[s2.lane]), width)))
	}
	return append(lines, s.lists(a, width, height-len(lines))...)
}

// guessText says which column was taken and why.
func guessText(l lane) string {
	g := l.guess
	switch {
	case g == nil:
		return l.channel.Words()
	case g.Asked:
		return fmt.Sprintf("%s: not taken, it could be %s. m says which", l.channel.Words(), strings.Join(append([]string{g.Column}, g.Others...), " or "))
	}
	return fmt.Sprintf("column '%s' in %s, sure %.0f %%: %s", g.Column, g.Unit, 100*g.Sure, g.Why)
}

// series is a channel of a log as a chart draws it, in the units of display.
func (a *App) series(t *trace.Trace, c trace.Channel) chart.Series {
	y, _ := t.Samples(c)
	u := quantity.Display(c.Dimension(), a.units.system)
	return chart.Series{Y: y, Start: t.TimeAt(0), Step: t.Period(), Ink: chart.InkA, Gain: 1 / u.Factor, Offset: -u.Zero / u.Factor, Summary: a.summaries[t][c]}
}

// laneLines is one lane: name, value under the cursor, range and strip.
func (s *tracesScreen) laneLines(a *App, r *trace.Reading, l lane, i, height, width int) []string {
	st := a.styles
	mark, style := "  ", st.plain
	if i == s.lane {
		mark, style = "> ", st.strong
		if s.inList {
			mark = "- "
		}
	}
	d := l.channel.Dimension()
	value := ""
	if y, ok := r.Trace.Samples(l.channel); ok && !math.IsNaN(s.cursor) {
		k := int(math.Round((s.cursor - r.Trace.TimeAt(0)) / r.Trace.Period()))
		if k >= 0 && k < len(y) {
			value = quantity.Format(y[k], d, a.units.system)
		}
	} else if ok {
		value = a.units.symbol(d)
	}
	sure := ""
	if l.guess != nil && l.guess.Sure < 0.8 {
		sure = "?"
	}
	if faulty(a.work.Logs.Report.Findings, r.Trace.Name(), l.channel) {
		sure += " !"
	}
	left := make([]string, height)
	left[0] = style.draw(cell(mark+l.channel.Words()+sure, 21)) + flush(value, laneLabel-22) + " "
	if !l.held {
		return box([]string{left[0] + "which column? m"}, width, height)
	}
	p := s.lanePlot(a, r, l.channel)
	p.Bare = true
	if height >= 3 {
		lo, hi := p.Extent()
		left[height-1] = flush(digits(lo, 3), laneLabel-1) + " "
		left[1] = flush(digits(hi, 3), laneLabel-1) + " "
		left[height-1], left[1] = st.faint.draw(left[height-1]), st.faint.draw(left[1])
	}
	return beside(left, laneLabel, "", splitLines(p.Render(width-laneLabel, height, st.paint)))
}

// faulty reports whether a finding beyond a note concerns the channel of a log.
func faulty(findings []quality.Finding, log string, c trace.Channel) bool {
	for _, f := range findings {
		if f.Channel == c && f.Severity > quality.Note && (f.Log == log || f.Log == "") {
			return true
		}
	}
	return false
}

// lanePlot is the strip of one channel with gaps and the finding under the arrow shaded.
func (s *tracesScreen) lanePlot(a *App, r *trace.Reading, c trace.Channel) chart.Plot {
	from, to := s.span(r.Trace)
	p := chart.Plot{X: chart.Axis{Label: "time (s)", Min: from, Max: to}, Series: []chart.Series{a.series(r.Trace, c)}}
	if !math.IsNaN(s.cursor) {
		p.Cursor = &s.cursor
	}
	for _, g := range r.Trace.Gaps() {
		p.Spans = append(p.Spans, chart.Span{From: r.Trace.TimeAt(g.From), To: r.Trace.TimeAt(g.To)})
	}
	if found := a.work.Logs.Report.Findings; s.inList && s.list == findingList && s.at < len(found) {
		if f := found[s.at]; f.Channel == c && f.Log == r.Trace.Name() && a.partly(f) {
			p.Spans = append(p.Spans, chart.Span{From: f.From, To: f.To})
		}
	}
	return p
}

// largeLane is one channel over the whole body, with axes; a command is drawn
// with what follows it.
func (s *tracesScreen) largeLane(a *App, r *trace.Reading, l lane, width, height int) []string {
	p := s.lanePlot(a, r, l.channel)
	p.Y.Label = a.units.label(l.channel.Words(), l.channel.Dimension())
	p.Series[0].Name = l.channel.Words()
	for other, of := range map[trace.Channel]trace.Channel{trace.MotorSpeed: trace.SpeedCommand, trace.RodPosition: trace.PositionCommand, trace.CapPressure: trace.RodPressure} {
		if l.channel == other && r.Trace.Has(of) {
			second := a.series(r.Trace, of)
			second.Name, second.Shape, second.Ink = of.Words(), chart.Dotted, chart.InkC
			p.Series = append(p.Series, second)
		}
	}
	at := ""
	if y, ok := r.Trace.Samples(l.channel); ok && !math.IsNaN(s.cursor) {
		k := min(max(int(math.Round((s.cursor-r.Trace.TimeAt(0))/r.Trace.Period())), 0), len(y)-1)
		at = fmt.Sprintf("at %s: %s", a.units.show(s.cursor, quantity.Time), quantity.Format(y[k], l.channel.Dimension(), a.units.system))
	}
	return append(splitLines(p.Render(width, height-1, a.styles.paint)), a.styles.strong.draw(cell(at, width)))
}

// lists are the findings, what the logs can tell or what they leave to be asked, under
// the lanes.
func (s *tracesScreen) lists(a *App, width, height int) []string {
	l := a.work.Logs
	able, asked := l.abilities(), l.questions()
	names := [lists]string{fmt.Sprintf("Findings (%d)", len(l.Report.Findings)), fmt.Sprintf("What these logs can tell (%d)", len(able)), fmt.Sprintf("Questions (%d)", len(asked))}
	head := ""
	for i, n := range names {
		if i == s.list {
			head += a.styles.strong.draw("[" + n + "]")
		} else {
			head += a.styles.faint.draw(" " + n + " ")
		}
	}
	lines := []string{head}
	switch s.list {
	case findingList:
		return append(lines, s.findings(a, width, height-1)...)
	case questionList:
		return append(lines, s.asked(a, asked, width, height-1)...)
	}
	from := keep(s.at, len(able), height-1)
	for i := from; i < min(from+height-1, len(able)); i++ {
		lines = append(lines, s.entry(a, i, cell(words(able[i].param.String()), 24)+a.abilityText(able[i]), width))
	}
	return lines
}

// abilityText says whether a parameter can be told, and if not which move would do it.
func (a *App) abilityText(able ability) string {
	text := "yes"
	switch {
	case able.Expect == plant.Weak:
		text = "roughly"
	case !able.Can:
		text = "no"
	}
	if able.Move != "" && !able.Can {
		text += ", log " + words(able.Move)
	}
	if able.Why != "" {
		text += ": " + a.units.say(able.Why)
	}
	return text
}

// asked lists the questions, the one under the arrow whole.
func (s *tracesScreen) asked(a *App, list []asking, width, height int) []string {
	if len(list) == 0 {
		return []string{"  Nothing is left to be asked."}
	}
	var lines []string
	chosen := 0
	for i, q := range list {
		if i != s.at || !s.inList {
			lines = append(lines, s.entry(a, i, a.units.say(q.text), width))
			continue
		}
		chosen = len(lines)
		for k, l := range hang("> ", a.units.say(q.text), width) {
			if k == 0 {
				l = a.styles.here.draw(cell(l, width))
			}
			lines = append(lines, l)
		}
		if q.channel != trace.NoChannel {
			lines = append(lines, cell("  enter: say which in the table of columns", width))
		}
	}
	return window(lines, keep(chosen, len(lines), height), height)
}

// findings lists what was found; the one under the arrow whole: what, where, what it
// spoils, what to do and which key does it.
func (s *tracesScreen) findings(a *App, width, height int) []string {
	found := a.work.Logs.Report.Findings
	if len(found) == 0 {
		return []string{"  Nothing to complain about."}
	}
	var lines []string
	chosen := 0
	for i, f := range found {
		if i == s.at {
			chosen = len(lines)
		}
		line := cell(severityWords[f.Severity], 5) + cell(words(f.ID), 18)
		switch {
		case i == s.at && s.inList:
			lines = append(lines, s.entry(a, i, line+s.placeText(a, f), width))
			lines = append(lines, s.whole(a, f, width)...)
		case i == s.at && f.Do != "":
			lines = append(lines, s.entry(a, i, line+a.units.say(f.Text), width), cell("       do: "+a.units.say(f.Do), width))
		default:
			lines = append(lines, s.entry(a, i, line+a.units.say(f.Text), width))
		}
	}
	return window(lines, min(chosen, max(len(lines)-height, 0)), height)
}

// whole is all that is known of a finding.
func (s *tracesScreen) whole(a *App, f quality.Finding, width int) []string {
	part := func(name, text string) []string {
		if text == "" {
			return nil
		}
		return hang("       "+name, a.units.say(text), width)
	}
	lines := part("", f.Text)
	if c, ok := a.cureOf(f); ok {
		lines = append(lines, part("c: ", c.what+", here only.")...)
	}
	name := "spoils: "
	if f.Severity == quality.Note {
		name = "bears on: "
	}
	lines = append(lines, part(name, spoilsText(f))...)
	return append(lines, part("do: ", f.Do)...)
}

// placeText says which part of which log a finding concerns.
func (s *tracesScreen) placeText(a *App, f quality.Finding) string {
	switch {
	case f.Log == "":
		return "in all logs"
	case !a.partly(f):
		return "all of " + f.Log
	}
	if f.To <= f.From {
		return fmt.Sprintf("%s at %.3f s; enter shows it", f.Log, f.From)
	}
	text := fmt.Sprintf("%s, %.3f to %.3f s; enter shows it", f.Log, f.From, f.To)
	if !a.work.Demo {
		text += ", e leaves it out"
	}
	return text
}

// partly reports whether a finding concerns a part of its log, which can be shown.
func (a *App) partly(f quality.Finding) bool {
	for _, r := range a.work.Logs.Readings {
		if r.Trace.Name() == f.Log {
			return f.To-f.From < wholeLog*(r.Trace.TimeAt(r.Trace.Len()-1)-r.Trace.TimeAt(0))
		}
	}
	return false
}

// wholeLog is the share of a log from which on a stretch counts as all of it.
const wholeLog = 0.9

// spoilsText says what suffers and how badly.
func spoilsText(f quality.Finding) string {
	var names []string
	for _, p := range f.Affects {
		names = append(names, words(p.String()))
	}
	if n := len(names) - 4; n > 1 {
		names = append(names[:4:4], fmt.Sprintf("and %d more", n))
	}
	switch {
	case f.Severity == quality.Stop && len(names) == 0:
		return "everything: nothing is fitted until it is cleared"
	case f.Severity == quality.Stop:
		return strings.Join(names, ", ") + "; nothing is fitted until it is cleared"
	case f.Severity == quality.Harm && len(names) > 0:
		return strings.Join(names, ", ") + ": wrong or in doubt"
	}
	return strings.Join(names, ", ")
}

var severityWords = [...]string{"note", "harm", "STOP"}

// entry is one line of a list.
func (s *tracesScreen) entry(a *App, i int, text string, width int) string {
	if i == s.at && s.inList {
		return a.styles.here.draw(cell("> "+text, width))
	}
	return cell("  "+text, width)
}

func (s *tracesScreen) empty(a *App, width int) []string {
	lines := []string{""}
	say := func(text string) {
		for _, l := range wrap(text, width-4) {
			lines = append(lines, "  "+l)
		}
	}
	if err := a.failures[stepLoad]; err != nil && a.table != nil {
		say(problemOf(err))
		say("Do: m shows the file as a table, to say which column is which.")
		return lines
	} else if err != nil {
		for _, l := range advise(err) {
			say(l)
		}
		return lines
	}
	if a.task != nil {
		say(upper(a.task.doing))
		return lines
	}
	say("A log is a recording of the drive as CSV: time, speed command, motor position, rod position, and both chamber pressures where there are sensors.")
	say("Column names and units are found from the header row and can be corrected here. A machine file gives bore, rod, stroke and limits.")
	return lines
}
