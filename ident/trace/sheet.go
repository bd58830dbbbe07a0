package trace

import (
	"context"
	"errors"
	"io"
	"math"
)

// Sheet is a log as a table: what its columns look like before any of them counts as
// a channel, so that whoever knows the recorder can say which is which.
type Sheet struct {
	File    string
	Rows    int
	Columns []SheetColumn
	// Guesses are what the columns would be taken for, as in a Reading; a log that
	// cannot be read has them too.
	Guesses []Guess
}

// SheetColumn is the look of one column. Name is what a Column's Header states to mean
// this column and no other of the log; it is as in the file and may hold any character.
type SheetColumn struct {
	Name      string
	Header    string // whole, as in the file
	Unit      string // of the header or the units row, "" where none; Loose where it may be part of the name
	Loose     bool
	Numbers   bool      // false where the cells hold text or dates
	First     []float64 // values of the first rows that hold any, as logged
	Low, High float64   // smallest and largest value; both NaN where there is none
	// Curve is the column over the rows, thinned to the least and largest value of each
	// stretch in turn, NaN where a stretch is empty.
	Curve []float64
}

// sheetParts is how many stretches a column's curve is thinned to, and sheetFirst how
// many first values are kept: what a wide screen shows.
const sheetParts, sheetFirst = 200, 4

// Look reads a log named name as a table, with what opt states taken into account.
// It returns a *ReadError where r holds no table of numbers, and ctx.Err() if ctx ends first.
func Look(ctx context.Context, r io.Reader, name string, opt ReadOptions) (*Sheet, error) {
	sheet, err := look(ctx, r, opt)
	var fault *ReadError
	if errors.As(err, &fault) {
		named := *fault
		named.File = Printable(name)
		return nil, &named
	}
	if err != nil {
		return nil, err
	}
	sheet.File = Printable(name)
	return sheet, nil
}

func look(ctx context.Context, r io.Reader, opt ReadOptions) (*Sheet, error) {
	ctx, stop := context.WithCancel(ctx)
	defer stop()
	src, err := openSource(ctx, r, opt.Progress)
	if err != nil {
		return nil, err
	}
	t, err := readTable(src, opt)
	if err != nil {
		return nil, err
	}
	b := &builder{table: t, opt: opt, Reading: &Reading{Layout: t.layout.Layout}}
	b.name()
	s := &Sheet{Rows: t.rows}
	for j, h := range b.headings {
		c := SheetColumn{Name: h.name, Header: h.full, Unit: Printable(h.unit), Loose: h.loose, Numbers: t.layout.kinds[j] == numberColumn}
		if c.Name == "" {
			c.Name = h.full
		}
		c.survey(t.cols[j][:t.rows])
		s.Columns = append(s.Columns, c)
	}
	s.Guesses = b.guesses()
	return s, nil
}

// Find returns which column a Column's Header means, -1 for none.
func (s *Sheet) Find(header string) int {
	headings := make([]heading, len(s.Columns))
	for j, c := range s.Columns {
		headings[j] = heading{name: c.Name, full: c.Header}
	}
	return matchHeader(headings, header)
}

// survey takes the range, the first values and the curve of a column.
func (c *SheetColumn) survey(x []float64) {
	c.Low, c.High = math.NaN(), math.NaN()
	parts := min(sheetParts, len(x))
	for p := range parts {
		low, high := math.NaN(), math.NaN()
		for _, v := range x[p*len(x)/parts : (p+1)*len(x)/parts] {
			if math.IsNaN(v) {
				continue
			}
			if len(c.First) < sheetFirst {
				c.First = append(c.First, v)
			}
			if !(v >= low) {
				low = v
			}
			if !(v <= high) {
				high = v
			}
		}
		c.Curve = append(c.Curve, low, high)
		if !(low >= c.Low) && !math.IsNaN(low) {
			c.Low = low
		}
		if !(high <= c.High) && !math.IsNaN(high) {
			c.High = high
		}
	}
}

// guesses settles the columns as for a Reading; where what is stated cannot be, as if
// nothing were.
func (b *builder) guesses() []Guess {
	for _, columns := range []map[Channel]Column{b.opt.Columns, nil} {
		b.opt.Columns, b.Guesses, b.used = columns, nil, make([]bool, len(b.cols))
		if tc, err := findTime(b.headings, b.table, b.opt); err == nil && tc.index >= 0 {
			b.used[tc.index] = true
			b.Guesses = append(b.Guesses, tc.guess)
		} else if j := steadiest(b.headings, b.table); err != nil && j >= 0 {
			g := Guess{Channel: Time, Column: Printable(b.headings[j].name), Index: j, Sure: 0.5, Why: "advances in even steps", Asked: true}
			if sure, why := rateIndex(b.headings[j], b.table, j); sure > 0 {
				g.Unit, g.Why = "counts", why
			}
			b.Guesses = append(b.Guesses, g)
		}
		if _, err := b.assign(); err == nil {
			break
		}
	}
	return b.Guesses
}
