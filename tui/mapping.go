package tui

import (
	"fmt"
	"maps"

	"eha/strokewise/ident/quantity"
	"eha/strokewise/ident/trace"
	"eha/strokewise/tuning/job"
)

// mapping is which column of a log holds which channel, as stated, guessed and said
// on the screen. Nothing is read with it here.
type mapping struct {
	sheet   *trace.Sheet
	stated  map[trace.Channel]trace.Column // by the machine file and the request
	guesses []trace.Guess                  // by the reader, where nothing is stated
	draft   map[trace.Channel]trace.Column // what is said beyond; it goes before stated
	// before is the draft as it was when the column in hand was taken in hand: going
	// through the channels takes none away from another column for good.
	before map[trace.Channel]trace.Column
}

// use is what a column is read as.
type use struct {
	channel trace.Channel // NoChannel for nothing
	column  trace.Column
	guess   *trace.Guess // nil where it is stated
}

func newMapping(sheet *trace.Sheet, stated, said map[trace.Channel]trace.Column) *mapping {
	m := &mapping{sheet: sheet, stated: stated, guesses: sheet.Guesses, draft: maps.Clone(said)}
	if m.draft == nil {
		m.draft = map[trace.Channel]trace.Column{}
	}
	m.settle()
	return m
}

// settle makes what is said so far the start of what is tried next.
func (m *mapping) settle() { m.before = maps.Clone(m.draft) }

// uses lists what every column is read as.
func (m *mapping) uses() []use {
	list := make([]use, len(m.sheet.Columns))
	all := job.Mapped(m.stated, m.draft)
	settled := map[trace.Channel]bool{}
	for _, c := range trace.Channels() {
		column := all[c]
		j := m.sheet.Find(column.Header)
		settled[c] = column.Header == trace.NoColumn || column.Header != "" && j >= 0
		if column.Header == "" || j < 0 || list[j].channel != trace.NoChannel {
			continue
		}
		if unit := m.sheet.Columns[j].Unit; column.Unit == "" && suits(c, unit) {
			column.Unit = unit
		}
		list[j] = use{channel: c, column: column}
	}
	for i := range m.guesses {
		g := &m.guesses[i]
		if g.Asked || settled[g.Channel] || g.Index >= len(list) || list[g.Index].channel != trace.NoChannel {
			continue
		}
		column := all[g.Channel]
		column.Header, column.Unit = m.sheet.Columns[g.Index].Name, g.Unit
		list[g.Index] = use{g.Channel, column, g}
	}
	return list
}

// take has column j read as the channel; a column that was read as it takes over
// what j was read as.
func (m *mapping) take(j int, c trace.Channel) {
	m.draft = maps.Clone(m.before)
	uses := m.uses()
	old := uses[j]
	if old.channel == c {
		return
	}
	if old.channel != trace.NoChannel {
		m.draft[old.channel] = trace.Column{Header: trace.NoColumn, Period: old.column.Period}
	}
	if c == trace.NoChannel {
		return
	}
	for i, other := range uses {
		if other.channel == c && old.channel != trace.NoChannel {
			m.draft[old.channel] = m.column(i, old.channel, other)
		}
	}
	m.draft[c] = m.column(j, c, old)
}

// column is how column j is read as the channel at first: as it was read before where
// the quantity is the same, else in the header's unit. No unit is made up.
func (m *mapping) column(j int, c trace.Channel, was use) trace.Column {
	look := m.sheet.Columns[j]
	if was.channel != trace.NoChannel && was.channel.Dimension() == c.Dimension() {
		was.column.Header = look.Name
		return was.column
	}
	column := trace.Column{Header: look.Name}
	for _, g := range m.asked(j) {
		if g.Channel == c && suits(c, g.Unit) {
			column.Unit = g.Unit
		}
	}
	if suits(c, look.Unit) {
		column.Unit = look.Unit
	} else if all := quantity.Symbols(c.Dimension()); column.Unit == "" && len(all) == 1 {
		column.Unit = all[0]
	}
	return column
}

// alter changes how column j is read.
func (m *mapping) alter(j int, change func(*trace.Column)) {
	u := m.uses()[j]
	if u.channel == trace.NoChannel {
		return
	}
	change(&u.column)
	m.draft[u.channel] = u.column
	m.settle()
}

// period states the sample period of logs without time.
func (m *mapping) period(seconds float64) {
	column := m.draft[trace.Time]
	column.Period = seconds
	m.draft[trace.Time] = column
	m.settle()
}

// timed says whether a column of stamps orders the rows.
func (m *mapping) timed() bool {
	for _, u := range m.uses() {
		if u.channel != trace.Time {
			continue
		}
		_, isTime := quantity.LookupAs(u.column.Unit, quantity.Time)
		return isTime || u.column.Unit == ""
	}
	return false
}

// counted says whether rows are numbered, which takes the sample period beside.
func (m *mapping) counted() bool {
	for _, u := range m.uses() {
		if u.channel == trace.Time {
			return !m.timed()
		}
	}
	return false
}

// lacks says what must still be said of a column before the log can be read, "" for nothing.
func (m *mapping) lacks() (column int, what string) {
	for j, u := range m.uses() {
		if u.guess != nil || u.channel == trace.NoChannel {
			continue
		}
		if what := lacking(u); what != "" {
			return j, what
		}
	}
	return 0, ""
}

// lacking says what must still be said of one column.
func lacking(u use) string {
	kind := scalingOf(u.channel, u.column.Unit)
	switch {
	case u.channel == trace.Time && u.column.Unit == "":
		return "" // told from its steps
	case u.column.Unit == "" && u.column.From == u.column.To:
		return fmt.Sprintf("the %s needs its unit", u.channel.Words())
	case kind == byCounts && !(u.column.CountsPerRev > 0):
		return "type the encoder's counts per turn; its data sheet or the drive's scaling has them"
	case kind == byShare && u.column.FullScale == 0:
		return "type what 100 % stands for"
	case kind == byPoints && u.column.From == u.column.To:
		return "type two readings and what they stand for"
	}
	if err := trace.CheckUnit(u.channel, u.column); err != nil {
		return err.Error()
	}
	return ""
}

// scaling is what a unit needs beside itself to be read as a channel.
type scaling int

const (
	byUnit   scaling = iota // nothing
	byCounts                // counts per turn
	byShare                 // what 100 % stands for
	byPoints                // two points of an analogue input
)

// scalingOf says what a unit needs for a channel.
func scalingOf(c trace.Channel, unit string) scaling {
	if _, own := quantity.LookupAs(unit, c.Dimension()); own {
		return byUnit
	}
	u, _ := quantity.Lookup(unit)
	switch {
	case u.Dimension == quantity.Counts && c == trace.MotorPosition:
		return byCounts
	case u.Dimension == quantity.Counts && c == trace.Time:
		return byUnit
	case u.Dimension == quantity.Percent:
		return byShare
	case u.Dimension == quantity.Counts || u.Dimension == quantity.Voltage || u.Dimension == quantity.Current:
		return byPoints
	}
	return byUnit
}

// suits reports whether a unit can be read as the channel, with what it needs beside.
func suits(c trace.Channel, unit string) bool {
	u, ok := quantity.Lookup(unit)
	if _, own := quantity.LookupAs(unit, c.Dimension()); own || !ok {
		return own
	}
	if c == trace.Time {
		return u.Dimension == quantity.Counts
	}
	return scalingOf(c, unit) != byUnit
}

// unitsFor lists what a column of the channel may be in, the usual ones first.
func unitsFor(c trace.Channel, now string) []string {
	d := c.Dimension()
	list := []string{}
	add := func(symbols ...string) {
		for _, s := range symbols {
			known := s == "" // not stated
			for _, have := range list {
				known = known || have == s
			}
			if !known {
				list = append(list, s)
			}
		}
	}
	if c == trace.Time {
		add("s", "ms", "us", "ns", "counts", now)
		return list
	}
	if c == trace.MotorPosition {
		add("rev", "counts")
	}
	add(quantity.Display(d, quantity.Metric).Symbol, quantity.Display(d, quantity.Inch).Symbol)
	add(quantity.Symbols(d)...)
	add("counts", "%", "V")
	if d != quantity.Current {
		add("mA")
	}
	add(now)
	return list
}
