package tui

import (
	"fmt"
	"maps"
	"math"
	"slices"

	tea "github.com/charmbracelet/bubbletea"

	"eha/strokewise/ident/quality"
	"eha/strokewise/ident/quantity"
	"eha/strokewise/ident/trace"
	"eha/strokewise/tuning/job"
)

// cure is a correction of how the logs are read that one key makes.
type cure struct {
	what    string // "read rod position turned round"
	columns map[trace.Channel]trace.Column
	machine bool // the machine itself may be wrong in the same way
}

// cureOf words the correction of a finding; false where this program can make none.
func (a *App) cureOf(f quality.Finding) (cure, bool) {
	c := f.Cure
	if a.work.Demo || c.Kind == quality.NoCure {
		return cure{}, false
	}
	if c.Kind == quality.Retime {
		return a.retime(c)
	}
	column, ok := a.columnOf(f.Log, c.Channel)
	if !ok {
		return cure{}, false
	}
	change := map[trace.Channel]trace.Column{}
	switch c.Kind {
	case quality.TurnSign:
		turnSign(&column)
		change[c.Channel] = column
		return cure{"read " + c.Channel.Words() + " turned round", change, true}, true
	case quality.Exchange:
		other, ok := a.columnOf(f.Log, c.With)
		if !ok {
			return cure{}, false
		}
		change[c.Channel], change[c.With] = other, column
		if c.Channel.Dimension() != c.With.Dimension() { // units stay with the quantity
			change[c.Channel], change[c.With] = renamed(column, other.Header), renamed(other, column.Header)
		}
		return cure{fmt.Sprintf("exchange the columns of %s and %s", c.Channel.Words(), c.With.Words()), change, true}, true
	case quality.Rescale:
		return rescale(c, column)
	case quality.CountTurns:
		column.Unit, column.CountsPerRev = "counts", c.Factor
		change[c.Channel] = column
		return cure{fmt.Sprintf("read motor position in counts, %.0f a turn", c.Factor), change, false}, true
	case quality.Reference:
		if !column.Absolute {
			return cure{}, false
		}
		column.Absolute = false
		change[c.Channel] = column
		return cure{"read " + c.Channel.Words() + " as gauge", change, false}, true
	}
	return cure{}, false
}

// retime finds the sample period that was meant, to three digits.
func (a *App) retime(c quality.Cure) (cure, bool) {
	column := job.Mapped(a.work.Logs.Machine.Channels, a.request.Columns)[trace.Time]
	period := column.Period
	if period == 0 {
		period = a.request.Period
	}
	text := quantity.Digits(period/c.Factor*1e3, 3) + " ms"
	period, err := quantity.Parse(text, quantity.Time)
	if err != nil || !(period > 0) {
		return cure{}, false
	}
	column.Period = period
	return cure{what: "take a row every " + text, columns: map[trace.Channel]trace.Column{trace.Time: column}}, true
}

func renamed(c trace.Column, header string) trace.Column {
	c.Header = header
	return c
}

// rescale finds the unit, or the counts per turn, in which a channel reads so many
// times less.
func rescale(c quality.Cure, column trace.Column) (cure, bool) {
	d := c.Channel.Dimension()
	now, own := quantity.LookupAs(column.Unit, d)
	if !own {
		n := math.Round(column.CountsPerRev * c.Factor)
		if scalingOf(c.Channel, column.Unit) != byCounts || !(n >= 1) {
			return cure{}, false
		}
		column.CountsPerRev = n
		return cure{fmt.Sprintf("take %.0f counts per turn", n), map[trace.Channel]trace.Column{c.Channel: column}, false}, true
	}
	for _, symbol := range unitsFor(c.Channel, "") {
		u, ok := quantity.LookupAs(symbol, d)
		if ok && u.Zero == now.Zero && math.Abs(now.Factor/u.Factor/c.Factor-1) < 0.03 {
			column.Unit = symbol
			return cure{fmt.Sprintf("read %s in %s", c.Channel.Words(), symbol), map[trace.Channel]trace.Column{c.Channel: column}, false}, true
		}
	}
	return cure{}, false
}

// columnOf returns how a channel of a log is read now.
func (a *App) columnOf(log string, c trace.Channel) (trace.Column, bool) {
	column := job.Mapped(a.work.Logs.Machine.Channels, a.request.Columns)[c]
	for _, r := range a.work.Logs.Readings {
		if r.Trace.Name() != log && log != "" {
			continue
		}
		for _, g := range r.Guesses {
			if g.Channel == c && !g.Asked {
				column.Header, column.Unit = g.Column, g.Unit
				return column, true
			}
		}
	}
	return column, column.Header != ""
}

// correct makes the correction of the finding in hand, or of the one that stops the work.
func (s *tracesScreen) correct(a *App) tea.Cmd {
	f, ok := s.finding(a)
	if !ok {
		a.notice = "Nothing to correct here: tab goes to the findings"
		return nil
	}
	c, ok := a.cureOf(f)
	if !ok {
		return s.point(a, f)
	}
	a.remember()
	req := a.request
	req.Columns = maps.Clone(req.Columns)
	if req.Columns == nil {
		req.Columns = map[trace.Channel]trace.Column{}
	}
	maps.Copy(req.Columns, c.columns)
	if t, said := c.columns[trace.Time]; said && t.Period > 0 {
		req.Period = t.Period
	}
	cmd := a.load(req)
	a.notice = upper(c.what) + ": done for all logs. u undoes, s keeps it in the machine file."
	if c.machine {
		a.notice = upper(c.what) + ": done. Where the controller has it so too, put it right there before any loop is closed: a wrong sign is a runaway. u undoes."
	}
	return cmd
}

// point opens the columns at the channel of a finding that only the user can correct.
func (s *tracesScreen) point(a *App, f quality.Finding) tea.Cmd {
	if f.Channel == trace.NoChannel || a.work.Demo {
		a.notice = "No change of the columns would clear this; what to do stands with it"
		return nil
	}
	for i, r := range a.work.Logs.Readings {
		if r.Trace.Name() == f.Log {
			s.log = i
		}
	}
	for i, ln := range lanes(s.reading(a)) {
		if ln.channel == f.Channel {
			s.lane = i
		}
	}
	return s.mapColumns(a)
}

// finding is the one under the arrow; outside the list the one that stops the work.
func (s *tracesScreen) finding(a *App) (quality.Finding, bool) {
	l := a.work.Logs
	if l == nil {
		return quality.Finding{}, false
	}
	if s.inList && s.list == findingList && s.at < len(l.Report.Findings) {
		return l.Report.Findings[s.at], true
	}
	return l.stop()
}

// stretchInHand is the part of the log in view that can be left out: that of the
// finding under the arrow where it is a part, else what is zoomed in on.
func (s *tracesScreen) stretchInHand(a *App) (log int, part trace.Stretch, ok bool) {
	r := s.reading(a)
	if r == nil || a.work.Demo {
		return 0, part, false
	}
	log = s.log
	first, last := r.Trace.TimeAt(0), r.Trace.TimeAt(r.Trace.Len()-1)
	part.From, part.To = s.span(r.Trace)
	if f, in := s.finding(a); in && s.inList {
		for i, other := range a.work.Logs.Readings {
			if other.Trace.Name() == f.Log {
				log, first, last = i, other.Trace.TimeAt(0), other.Trace.TimeAt(other.Trace.Len()-1)
			}
		}
		part = trace.Stretch{From: f.From, To: f.To}
	}
	return log, part, part.To-part.From < wholeLog*(last-first)
}

// leaveOut reads the logs again without the stretch in hand.
func (s *tracesScreen) leaveOut(a *App) tea.Cmd {
	log, part, ok := s.stretchInHand(a)
	switch {
	case a.work.Demo:
		a.notice = "The demo machine's logs stay whole; o opens your own"
		return nil
	case !ok:
		a.notice = "What is in hand is the whole log: zoom in on a stretch (+), or tab to a finding that has one; x puts the log aside"
		return nil
	}
	a.remember()
	path := a.work.Logs.Paths[log]
	req := a.request
	req.LeftOut = maps.Clone(req.LeftOut)
	if req.LeftOut == nil {
		req.LeftOut = map[string][]trace.Stretch{}
	}
	req.LeftOut[path] = append(slices.Clone(req.LeftOut[path]), part)
	cmd := a.load(req)
	a.notice = fmt.Sprintf("%.3f to %.3f s of %s are left out of everything. u undoes", part.From, part.To, a.work.Logs.Readings[log].Trace.Name())
	return cmd
}
