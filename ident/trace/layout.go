package trace

import (
	"bytes"
	"fmt"
	"slices"
	"strings"
	"unicode"

	"eha/strokewise/ident/quantity"
)

// columnKind says what the cells of a column hold.
type columnKind int

const (
	numberColumn columnKind = iota
	stampColumn
	textColumn
)

const mostColumns = 4096

// layout is the form of a file as found in its first block.
type layout struct {
	Layout
	newline   byte
	kinds     []columnKind
	units     []string // of the units row, "" where none
	dataStart int      // offset of the first row of data in the block
	header    []byte   // the raw header line, to know it again
}

// lineSpan is one line of a block, without its line end.
type lineSpan struct {
	from, to int
	number   int // of the line in the file, from 1; the last where a quoted cell runs over several
}

// splitLines lists the lines of a block. The last one counts only if the file
// ends with the block.
func splitLines(block []byte, newline byte, whole bool) []lineSpan {
	var lines []lineSpan
	at := 0
	for at < len(block) {
		n := bytes.IndexByte(block[at:], newline)
		if n < 0 {
			if whole {
				lines = append(lines, lineSpan{at, len(block), len(lines) + 1})
			}
			break
		}
		end := at + n
		if newline == '\n' && n > 0 && block[end-1] == '\r' {
			end--
		}
		lines = append(lines, lineSpan{at, end, len(lines) + 1})
		at += n + 1
	}
	return lines
}

// joinQuoted makes one line of those over which a quoted name runs, among the first lines.
func joinQuoted(block []byte, lines []lineSpan) []lineSpan {
	const head, longest = 200, 8 // lines
	var joined []lineSpan
	for i := 0; i < len(lines); i++ {
		line := lines[i]
		for k := i; k < min(i+longest, head, len(lines)); k++ {
			if bytes.Count(block[line.from:lines[k].to], []byte{'"'})%2 == 0 {
				line.to, line.number, i = lines[k].to, lines[k].number, k
				break
			}
		}
		joined = append(joined, line)
	}
	return joined
}

// splitCells cuts a line at the delimiters outside quotes and takes the quotes off.
func splitCells(line []byte, delimiter byte) []string {
	var cells []string
	for at := 0; ; {
		cell, next := cutCell(line, at, delimiter)
		cells = append(cells, cell)
		if next > len(line) {
			return cells
		}
		at = next
	}
}

// cutCell returns the cell that begins at line[at:] and where the next begins,
// which is beyond the line's length after the last. A quote left open ends with the line.
func cutCell(line []byte, at int, delimiter byte) (cell string, next int) {
	open := at
	for open < len(line) && line[open] == ' ' {
		open++
	}
	if open < len(line) && line[open] == '"' {
		var b strings.Builder
		i := open + 1
		for ; i < len(line); i++ {
			if line[i] != '"' {
				b.WriteByte(line[i])
			} else if i+1 < len(line) && line[i+1] == '"' {
				b.WriteByte('"')
				i++
			} else {
				i++
				break
			}
		}
		end := i
		for end < len(line) && line[end] != delimiter {
			end++
		}
		b.Write(line[i:end])
		return b.String(), end + 1
	}
	n := bytes.IndexByte(line[min(at, len(line)):], delimiter)
	if n < 0 {
		return string(line[min(at, len(line)):]), len(line) + 1
	}
	return string(line[at : at+n]), at + n + 1
}

// findLayout works out the form of a file from its first block; whole says that
// the block is all of it. text turns bytes of the file into a string.
func findLayout(block []byte, whole bool, text func([]byte) string) (*layout, error) {
	l := &layout{newline: '\n'}
	if bytes.IndexByte(block, '\n') < 0 && bytes.IndexByte(block, '\r') >= 0 {
		l.newline = '\r'
	}
	lines := splitLines(block, l.newline, whole)
	if err := tooLong(len(lines)+1, len(block)-lastLineEnd(block, l.newline)); err != nil {
		return nil, err
	}
	body := bodyLines(block, lines)
	if len(body) == 0 {
		return nil, &ReadError{Problem: "the file is empty", Advice: "export the recording again"}
	}
	n, ok := l.findDelimiter(block, body)
	if !ok {
		return nil, &ReadError{Problem: "no rows of numbers found in at least two columns (delimiters tried: comma, semicolon, tab, bar)", Advice: "export the recording as CSV with a header row"}
	}
	if n > mostColumns {
		return nil, &ReadError{Problem: fmt.Sprintf("%d columns, at most %d are read", n, mostColumns), Advice: "export the channels needed only"}
	}
	l.findKinds(block, body, n)
	lines = joinQuoted(block, lines)
	first := l.firstRow(block, lines, n)
	if first < 0 {
		return nil, &ReadError{Problem: "no rows of numbers found", Advice: "export the recording as CSV with a header row"}
	}
	l.FirstRow, l.dataStart = lines[first].number, lines[first].from
	l.readHeader(block, lines[:first], n, text)
	return l, l.misfit(block, lines[:first], n)
}

// misfit refuses names of columns that are not as many as the cells of a row: then
// nobody knows which name is whose. A decimal comma between commas parts each number in
// two; a comma within a name makes one name two.
func (l *layout) misfit(block []byte, before []lineSpan, n int) error {
	at := len(before) - 1
	for at >= 0 && (blank(block[before[at].from:before[at].to]) || before[at].number == l.UnitsRow && l.HeaderRow > 0) {
		at--
	}
	if at < 0 {
		return nil
	}
	cells := splitCells(block[before[at].from:before[at].to], l.Delimiter)
	for len(cells) > 0 && strings.TrimSpace(cells[len(cells)-1]) == "" {
		cells = cells[:len(cells)-1]
	}
	fault := &ReadError{Row: before[at].number, Problem: fmt.Sprintf("names %d columns, but the rows below hold %d cells", len(cells), n)}
	switch names := len(cells); {
	case l.HeaderRow == before[at].number && names > n:
		fault.Advice = "export with a delimiter that no name holds, or with quotes"
	case l.HeaderRow == 0 && l.Delimiter == ',' && names >= 3 && n <= 2*names && n >= 2*names-2 && l.namesColumns(block, before[at], names):
		fault.Advice = "a decimal comma needs another delimiter: export with semicolons or tabs, or with decimal points"
	default:
		return nil
	}
	return fault
}

// tooLong refuses a line of that number whose end is not found within length bytes.
func tooLong(line, length int) error {
	if length < longestLine {
		return nil
	}
	return &ReadError{Row: line, Problem: fmt.Sprintf("a line longer than %d bytes", longestLine), Advice: "this is not a recorder's CSV"}
}

// bodyLines returns the last lines of the block that are not blank, far from any
// preamble, as a sample of the data.
func bodyLines(block []byte, lines []lineSpan) []lineSpan {
	const sample = 100
	var body []lineSpan
	for i := len(lines) - 1; i >= 0 && len(body) < sample; i-- {
		if !blank(block[lines[i].from:lines[i].to]) {
			body = append(body, lines[i])
		}
	}
	return body
}

// findKinds decides per column whether it holds numbers, time stamps or text.
func (l *layout) findKinds(block []byte, body []lineSpan, n int) {
	numbers, stamps, filled := make([]int, n), make([]int, n), make([]int, n)
	for _, s := range body {
		cells := splitCells(block[s.from:s.to], l.Delimiter)
		if len(cells) != n || !slices.ContainsFunc(cells, looksNumeric) {
			continue
		}
		for j, cell := range cells {
			if _, kind := slowNumber(cell, l.Decimal); kind == cellNumber {
				numbers[j]++
			} else if kind == cellEmpty {
				continue
			} else if _, _, ok := parseStamp(cell, 0); ok {
				stamps[j]++
			}
			filled[j]++
		}
	}
	l.kinds = make([]columnKind, n)
	for j := range l.kinds {
		switch {
		case 2*numbers[j] >= filled[j]:
		case 2*stamps[j] >= filled[j]:
			l.kinds[j] = stampColumn
		default:
			l.kinds[j] = textColumn
		}
	}
}

// firstRow returns the index of the first line that reads as a row of data, or -1. Rows
// of numbers in a preamble are passed over where names of the columns follow them.
func (l *layout) firstRow(block []byte, lines []lineSpan, n int) int {
	const longestPreamble = 200 // lines of it that may read as rows
	first, last := -1, -1       // last line that is not blank
	for i, s := range lines {
		if first >= 0 && i > longestPreamble {
			break
		}
		line := block[s.from:s.to]
		if blank(line) {
			continue
		}
		row := bytes.Count(line, []byte{l.Delimiter}) >= n-1 && l.isRow(splitCells(line, l.Delimiter), n)
		switch {
		case row && first < 0:
			if first = i; last >= 0 && l.namesColumns(block, lines[last], n) {
				return first
			}
		case !row && first >= 0 && l.namesColumns(block, s, n):
			first = -1
		}
		last = i
	}
	return first
}

func blank(line []byte) bool { return len(bytes.Trim(line, " \t\r")) == 0 }

// namesColumns reports whether a line has a text of its own for nearly every column.
func (l *layout) namesColumns(block []byte, line lineSpan, n int) bool {
	cells := splitCells(block[line.from:line.to], l.Delimiter)
	if len(cells) < n {
		return false
	}
	named := 0
	for _, cell := range cells[:n] {
		if strings.ContainsFunc(cell, unicode.IsLetter) && !looksNumeric(cell) {
			named++
		}
	}
	return 10*named >= 8*n
}

func (l *layout) isRow(cells []string, n int) bool {
	if len(cells) < n || len(cells) > n+1 || len(cells) == n+1 && strings.TrimSpace(cells[n]) != "" {
		return false
	}
	values := 0
	for j, cell := range cells[:n] {
		switch l.kinds[j] {
		case numberColumn:
			_, kind := slowNumber(cell, l.Decimal)
			if kind == cellText || kind == cellWord {
				return false
			}
			if kind == cellNumber {
				values++
			}
		case stampColumn:
			if _, _, ok := parseStamp(cell, 0); !ok {
				return false
			}
			values++
		}
	}
	return values > 0
}

// readHeader takes header, units row and preamble from the lines before the data.
func (l *layout) readHeader(block []byte, before []lineSpan, n int, text func([]byte) string) {
	cells := func(i int) []string {
		parts := splitCells(block[before[i].from:before[i].to], l.Delimiter)
		for j := range parts {
			parts[j] = strings.Join(strings.Fields(strings.ReplaceAll(text([]byte(parts[j])), "\ufeff", "")), " ")
		}
		if strings.HasPrefix(parts[0], "#") || strings.HasPrefix(parts[0], "%") { // a remark's sign before the first name
			parts[0] = strings.Trim(parts[0], `#%" `)
		}
		return parts
	}
	at := len(before) - 1
	for at >= 0 && blank(block[before[at].from:before[at].to]) {
		at--
	}
	l.units = make([]string, n)
	l.Headers = make([]string, n)
	unitsAt := func(i int) bool {
		row := cells(i)
		if len(row) < n || !isUnitsRow(row) {
			return false
		}
		copy(l.units, row)
		l.UnitsRow = before[i].number
		return true
	}
	if at > 0 && len(cells(at-1)) >= n && unitShare(cells(at-1)) < 0.5 && unitsAt(at) {
		at--
	}
	if at >= 0 {
		if row := cells(at); len(row) >= n {
			copy(l.Headers, row)
			l.HeaderRow = before[at].number
			l.header = append([]byte(nil), block[before[at].from:before[at].to]...)
			at--
		}
	}
	if at >= 0 && l.HeaderRow > 0 && l.UnitsRow == 0 && unitsAt(at) { // above the names
		at--
	}
	for i := 0; i <= at && len(l.Preamble) < 40; i++ {
		line := text(block[before[i].from:before[i].to])
		if strings.TrimSpace(line) != "" {
			l.Preamble = append(l.Preamble, Printable(line))
		}
	}
}

// isUnitsRow reports whether a row holds units: nearly all cells that are not empty are
// units, so that one that nobody knows does not make the row a header.
func isUnitsRow(row []string) bool {
	return unitShare(row) > 0.6
}

// unitShare returns which share of the cells that are not empty are units.
func unitShare(row []string) float64 {
	known, filled := 0.0, 0.0
	for _, cell := range row {
		cell = strings.Trim(cell, "[](){}<> ")
		if cell == "" || cell == "-" {
			continue
		}
		filled++
		if _, ok := quantity.Lookup(cell); ok {
			known++
		}
	}
	if filled == 0 {
		return 0
	}
	return known / filled
}
