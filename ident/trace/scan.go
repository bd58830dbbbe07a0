package trace

import (
	"bytes"
	"fmt"
	"math"
	"strings"
)

// mostCells is how many cells a Reading lists; the rest is counted.
const mostCells = 20

// table is the raw content of a log: one slice of numbers per column, NaN where
// a cell holds none.
type table struct {
	layout   *layout
	cols     [][]float64
	rows     int
	rejects  int
	rejected []Cell
	text     []oddCell // first cell of text per number column, row 0 where none
	word     []oddCell // first cell per column that holds a word, or no stamp where one is needed
	ragged   int
	firstRag Cell
	skipped  int
	repeats  int
	stampTry int
}

// oddCell is a cell and where it stands in the table.
type oddCell struct {
	Cell
	at      int // row of the table
	rejects int // counted before this row
}

// scanner reads the lines of a log into a table.
type scanner struct {
	*table
	plain     [][]float64 // the columns where all hold numbers, else nil
	line      int         // number of the line being read, from 1
	before    int         // rejects counted before this line
	limit     int         // most values kept
	capacity  int
	delimiter byte
	decimal   byte
	n         int
}

func newScanner(l *layout, rowsExpected, maxValues int) *scanner {
	n := len(l.kinds)
	s := &scanner{table: &table{layout: l, text: make([]oddCell, n), word: make([]oddCell, n)}, limit: maxValues, delimiter: l.Delimiter, decimal: l.Decimal, n: n}
	s.cols = make([][]float64, n)
	s.line = l.FirstRow - 1
	s.grow(min(max(rowsExpected, 1024), max(maxValues/n, 1024)))
	return s
}

func (s *scanner) grow(capacity int) {
	for j := range s.cols {
		grown := make([]float64, capacity)
		copy(grown, s.cols[j][:s.rows])
		s.cols[j] = grown
	}
	s.capacity = capacity
	s.plain = s.cols
	for _, kind := range s.layout.kinds {
		if kind != numberColumn {
			s.plain = nil
		}
	}
}

// scan reads whole lines of data; the last may lack its line end.
func (s *scanner) scan(data []byte) error {
	for at := 0; at < len(data); {
		s.line++
		if s.rows == s.capacity {
			if s.rows*s.n >= s.limit {
				return tooLarge(s.line, fmt.Sprintf("over %d rows of %d columns", s.rows, s.n), 10, s.layout.FirstRow)
			}
			s.grow(min(2*s.capacity, s.limit/s.n+1))
		}
		if next, ok := s.plainRow(data, at); ok {
			at = next
			s.rows++
			continue
		}
		line := data[at:]
		if end := bytes.IndexByte(line, s.layout.newline); end >= 0 {
			line = line[:end]
		}
		at += len(line) + 1
		s.row(bytes.TrimSuffix(line, []byte{'\r'}))
	}
	return nil
}

// plainRow reads a line of nothing but plain numbers, as nearly all lines are, and
// returns where the next begins; whatever is not that simple is left to row. The cells
// are read in one loop over the columns: a call for each would take half as long again.
func (s *scanner) plainRow(data []byte, at int) (next int, ok bool) {
	if s.plain == nil {
		return 0, false
	}
	i, row, plain := uint(at), s.rows, s.plain // an index without sign spares a check at every byte
	for j, col := range plain {
		if i >= uint(len(data)) {
			return 0, false
		}
		negative := data[i] == '-'
		if negative {
			i++
		}
		end, mantissa := digits(data, i, 0)
		n, decimals := end-i, uint(0)
		i = end
		if i < uint(len(data)) && data[i] == s.decimal {
			end, mantissa = digits(data, i+1, mantissa)
			decimals = end - i - 1
			n += decimals
			i = end
		}
		if n == 0 || n > exactDigits || i >= uint(len(data)) {
			return 0, false
		}
		v := float64(int64(mantissa-zeroCodes[n])) / pow10[decimals]
		if negative {
			v = -v
		}
		col[row] = v
		if j+1 < len(plain) {
			if data[i] != s.delimiter {
				return 0, false
			}
			i++
		}
	}
	newline := s.layout.newline
	if i < uint(len(data)) && data[i] == '\r' && newline == '\n' {
		i++
	}
	return int(i + 1), i < uint(len(data)) && data[i] == newline
}

// row reads one line into the next row of the table. A line of another shape
// leaves the table as it was.
func (s *scanner) row(line []byte) {
	at, j, values := 0, 0, 0
	s.before = s.rejects
	for j < s.n {
		if v, next, ok := s.plainCell(line, at); ok && s.layout.kinds[j] == numberColumn {
			s.cols[j][s.rows] = v
			at = next + 1
			values++
			j++
			if at > len(line) {
				break
			}
			continue
		}
		var cell string
		cell, at = cutCell(line, at, s.delimiter)
		if s.cell(j, cell) {
			values++
		}
		j++
		if at > len(line) {
			break
		}
	}
	rest := at <= len(line) && len(bytes.Trim(line[at:], " \t\r"+string(s.delimiter))) > 0
	if j < s.n || rest || values == 0 {
		s.oddLine(line, values)
		return
	}
	s.rows++
}

// plainCell reads a cell that holds a plain number, in quotes and spaces perhaps,
// and returns where its delimiter stands or the line ends.
func (s *scanner) plainCell(line []byte, at int) (v float64, next int, ok bool) {
	for at < len(line) && line[at] == ' ' {
		at++
	}
	quoted := at < len(line) && line[at] == '"'
	if quoted {
		at++
	}
	v, next, ok = fastNumber(line, at, s.decimal)
	if quoted && next < len(line) && line[next] == '"' {
		next++
		quoted = false
	}
	for next < len(line) && line[next] == ' ' {
		next++
	}
	return v, next, ok && !quoted && (next == len(line) || line[next] == s.delimiter)
}

// cell reads a cell that is not a plain number and reports whether it has a value.
// What it counts is taken back by oddLine if the line turns out not to be a row.
func (s *scanner) cell(j int, cell string) bool {
	value := math.NaN()
	switch s.layout.kinds[j] {
	case stampColumn:
		if v, form, ok := parseStamp(cell, s.stampTry); ok {
			value, s.stampTry = v, form
		} else if !missingWord(strings.TrimSpace(cell)) {
			s.reject(j, cell)
			s.note(s.word, j, cell)
		}
	case numberColumn:
		v, kind := slowNumber(cell, s.decimal)
		value = v
		switch kind {
		case cellReject:
			s.reject(j, cell)
		case cellWord:
			s.reject(j, cell)
			s.note(s.word, j, cell)
		case cellText:
			s.note(s.text, j, cell)
		}
	}
	s.cols[j][s.rows] = value
	return value == value
}

// reject counts a cell that holds no usable number.
func (s *scanner) reject(j int, cell string) {
	s.rejects++
	if len(s.rejected) < mostCells {
		s.rejected = append(s.rejected, s.cellAt(j, cell))
	}
}

// note keeps the first cell of its kind in a column.
func (s *scanner) note(first []oddCell, j int, cell string) {
	if first[j].Row == 0 {
		first[j] = oddCell{s.cellAt(j, cell), s.rows, s.before}
	}
}

func (s *scanner) cellAt(j int, cell string) Cell {
	return Cell{s.line, s.columnName(j), Printable(strings.TrimSpace(cell))}
}

// forget takes back what was noted of cells from a line on, with the rejects counted before it.
func (t *table) forget(line, rejects int) {
	for j := range t.text {
		for _, first := range []*oddCell{&t.text[j], &t.word[j]} {
			if first.Row >= line {
				*first = oddCell{}
			}
		}
	}
	t.rejects = rejects
	for n := len(t.rejected); n > 0 && t.rejected[n-1].Row >= line; n-- {
		t.rejected = t.rejected[:n-1]
	}
}

func (s *scanner) columnName(j int) string { return Printable(s.layout.Headers[j]) }

// oddLine accounts for a line that is not a row: blank, a header met again, a
// remark, or a row of the wrong length.
func (s *scanner) oddLine(line []byte, values int) {
	s.forget(s.line, s.before) // text in a line without any number is a remark
	s.skipped++
	switch {
	case len(s.layout.header) > 0 && bytes.Equal(bytes.TrimSpace(line), bytes.TrimSpace(s.layout.header)):
		s.repeats++
	case values > 0:
		s.ragged++
		if s.ragged == 1 {
			cells := bytes.Count(line, []byte{s.delimiter}) + 1
			s.firstRag = Cell{Row: s.line, Text: fmt.Sprintf("%d cells", cells)}
		}
	}
}
