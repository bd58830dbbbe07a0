package trace

import (
	"fmt"
	"sort"
	"strings"

	"eha/strokewise/ident/quantity"
)

// taken is a channel with its column.
type taken struct {
	channel Channel
	index   int
	column  Column
}

// lacks reports whether a column is stated by its header and no heading is that.
func (b *builder) lacks(col Column) bool {
	return col.Header != "" && col.Header != NoColumn && matchHeader(b.headings, col.Header) < 0
}

// assign settles which column holds which channel: stated ones first, then guesses.
func (b *builder) assign() ([]taken, error) {
	var list []taken
	stated := map[Channel]bool{}
	hints := map[Channel]Column{}
	motor := -1
	for _, c := range Channels() {
		col, ok := b.opt.Columns[c]
		if !ok {
			continue
		}
		if b.lacks(col) {
			b.Absent = append(b.Absent, c)
		}
		if c == Time {
			continue // findTime has settled it
		}
		if col.Header == "" {
			hints[c] = col
			continue
		}
		j := matchHeader(b.headings, col.Header)
		stated[c] = j >= 0 || col.Header == NoColumn
		if j < 0 || emptyColumn(b.cols[j][:b.rows]) && b.text[j].Row == 0 && b.layout.kinds[j] == numberColumn {
			continue // absent in this log
		}
		t, err := b.takeStated(c, col, j)
		if err != nil {
			return nil, err
		}
		list = append(list, t)
		if c == MotorPosition {
			motor = j
		}
	}
	for _, g := range choose(b.headings, b.layout.kinds, b.table, stated, hints, motor, b.opt.Columns[MotorPosition], b.used) {
		b.Guesses = append(b.Guesses, g)
		if g.Asked {
			continue
		}
		if err := b.checkText(g.Index, g.Channel); err != nil {
			return nil, err
		}
		col := hints[g.Channel]
		col.Header, col.Unit = g.Column, g.Unit
		list = append(list, taken{g.Channel, g.Index, col})
	}
	if err := b.wrongUnit(list); err != nil {
		return nil, err
	}
	sort.Slice(list, func(i, j int) bool { return list[i].channel < list[j].channel })
	for j, h := range b.headings {
		if !b.used[j] {
			b.Unused = append(b.Unused, Printable(h.full))
		}
	}
	return list, nil
}

func (b *builder) takeStated(c Channel, col Column, j int) (taken, error) {
	h := b.headings[j]
	why := "stated"
	if col.Unit == "" {
		col.Unit = h.unit
	} else if from, ok := inHeaderUnit(col, h); ok {
		why = fmt.Sprintf("stated; the log's header says %s, and the scaling follows it", Printable(h.unit))
		col.From, col.Unit = from, h.unit
	} else if h.unit != "" && !h.loose && !sameUnit(col.Unit, h.unit) {
		why = fmt.Sprintf("stated; the log's header says %s", Printable(h.unit))
	}
	fault := &ReadError{Column: Printable(h.full)}
	if col.Unit == "" && col.From == col.To {
		fault.Problem = "no unit stated for " + c.Words()
		fault.Advice = fmt.Sprintf("state it, such as --channel '%s=%s[%s]'", c, Printable(h.name), exampleUnit(c))
		return taken{}, fault
	}
	if err := CheckUnit(c, col); err != nil {
		fault.Problem = c.Words() + ": " + err.Error()
		return taken{}, fault
	}
	if b.layout.kinds[j] != numberColumn {
		fault.Problem = "holds text, needed numbers for " + c.Words()
		return taken{}, fault
	}
	if err := b.checkText(j, c); err != nil {
		return taken{}, err
	}
	if b.used[j] {
		fault.Problem = "stated for " + c.Words() + " and for another channel"
		fault.Advice = "state each column once"
		return taken{}, fault
	}
	b.used[j] = true
	b.Guesses = append(b.Guesses, Guess{Channel: c, Column: Printable(h.name), Index: j, Unit: Printable(col.Unit), Sure: 1, Why: why, Stated: true})
	return taken{c, j, col}, nil
}

// inHeaderUnit brings the readings of a scaled input, stated in one unit, into another of
// the same kind that the log's header names: 0.5 V are 500 where it says mV.
func inHeaderUnit(col Column, h heading) (from [2]float64, ok bool) {
	if col.From == col.To || h.unit == "" || h.loose {
		return from, false
	}
	stated, known := quantity.Lookup(col.Unit)
	written, found := quantity.LookupAs(h.unit, stated.Dimension)
	if !known || !found || written == stated {
		return from, false
	}
	for i, v := range col.From {
		from[i] = written.From(stated.SI(v))
	}
	return from, true
}

// checkText refuses a column that a channel is read from if a cell holds text. Words
// without a digit are counted as rejects, except in the column that orders the rows.
func (b *builder) checkText(j int, c Channel) error {
	cell := b.text[j]
	if cell.Row == 0 && c == Time && b.layout.kinds[j] == numberColumn {
		cell = b.word[j]
	}
	if cell.Row == 0 {
		return nil
	}
	return &ReadError{Row: cell.Row, Column: c.Words(), Problem: fmt.Sprintf("%q is not a number", cell.Text),
		Advice: "correct or empty that cell, or export again"}
}

func (b *builder) tooFew() error {
	var asked []string
	for _, g := range b.Guesses {
		if g.Asked {
			asked = append(asked, fmt.Sprintf("%s (%s: %s)", g.Column, g.Channel, g.Why))
		}
	}
	problem := "no column could be taken for a channel of the machine; headers: " + strings.Join(clipList(b.Layout.Headers, 8), ", ")
	if len(asked) > 0 {
		problem += "; unclear: " + strings.Join(clipList(asked, 4), ", ")
	}
	return &ReadError{Problem: problem,
		Advice: fmt.Sprintf("say which column is which, such as --channel '%s', or open the log in the terminal program and press m", b.example())}
}

// example states a column as on a command line: one that was asked about, else the
// last that holds numbers, which is less often time than the first.
func (b *builder) example() string {
	c, name := RodPosition, "COLUMN"
	for j, h := range b.headings {
		if !b.used[j] && b.layout.kinds[j] == numberColumn {
			name = Printable(h.name)
		}
	}
	for _, g := range b.Guesses {
		if g.Asked {
			c, name = g.Channel, g.Column
			break
		}
	}
	return fmt.Sprintf("%s=%s[%s]", c, name, exampleUnit(c))
}

func clipList(list []string, n int) []string {
	if len(list) > n {
		return append(append([]string(nil), list[:n]...), fmt.Sprintf("and %d more", len(list)-n))
	}
	return list
}
