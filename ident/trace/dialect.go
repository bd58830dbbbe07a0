package trace

import (
	"strings"
)

// findDelimiter chooses the delimiter under which the sample looks most like
// rows of numbers, and the decimal sign; it returns the number of columns.
func (l *layout) findDelimiter(block []byte, body []lineSpan) (columns int, ok bool) {
	best := 0.0
	for _, d := range []byte{';', '\t', ',', '|'} {
		count, share := likeness(block, body, d)
		if count >= 2 && share > best+1e-9 {
			best, columns, l.Delimiter = share, count, d
		}
	}
	if best == 0 {
		return 0, false
	}
	byColumn := make([]decimalVotes, columns)
	for _, s := range body {
		if cells := splitCells(block[s.from:s.to], l.Delimiter); len(cells) == columns {
			for j, cell := range cells {
				byColumn[j].add(cell)
			}
		}
	}
	votes := sumVotes(byColumn)
	l.Decimal = votes.decimal()
	return columns, true
}

// likeness returns the usual number of cells per line under a delimiter, and
// which share of the sample's cells are numbers in lines of that many cells.
func likeness(block []byte, body []lineSpan, delimiter byte) (columns int, share float64) {
	counts := map[int]int{}
	rows := make([][]string, len(body))
	for i, s := range body {
		rows[i] = splitCells(block[s.from:s.to], delimiter)
		counts[len(rows[i])]++
	}
	for n, times := range counts {
		if n >= 2 && (times > counts[columns] || times == counts[columns] && n > columns) {
			columns = n
		}
	}
	if columns < 2 {
		return columns, 0
	}
	good, all := 0, 0
	for _, r := range rows {
		all += columns
		if len(r) != columns {
			continue
		}
		for _, cell := range r {
			if looksNumeric(cell) {
				good++
			} else if missingWord(strings.TrimSpace(cell)) {
				all--
			}
		}
	}
	return columns, float64(good) / float64(max(all, 1))
}

// looksNumeric accepts a number with either decimal sign, or a time stamp.
func looksNumeric(cell string) bool {
	for _, decimal := range []byte{'.', ','} {
		if v, kind := slowNumber(cell, decimal); kind == cellNumber && v == v {
			return true
		}
	}
	_, _, ok := parseStamp(cell, 0)
	return ok
}

// decimalVotes gathers how commas and points are used in numbers.
type decimalVotes struct {
	both            [2]int // cells with both signs, by which comes last: point, comma
	repeated        [2]int // cells in which one sign comes twice or more, so that it groups digits
	single, grouped [2]int // cells with one sign only; those of them that could be groups of three
	bare            int    // whole numbers without a sign, up to three digits, not zero
}

// sumVotes adds the votes of the columns. Where all numbers with a sign could be groups of
// three, a column whose smaller numbers hold none groups by it: numbers with decimals
// would not all have three, or all would have them.
func sumVotes(columns []decimalVotes) decimalVotes {
	const enough, fewest = 30, 3 // cells with a sign; cells without
	var sum decimalVotes
	for _, v := range columns {
		for sign := range 2 {
			sum.both[sign] += v.both[sign]
			sum.repeated[sign] += v.repeated[sign]
			sum.single[sign] += v.single[sign]
			sum.grouped[sign] += v.grouped[sign]
		}
	}
	for _, v := range columns {
		for sign := range 2 {
			if n := v.grouped[sign]; n >= enough && v.bare >= fewest && sum.grouped[sign] == sum.single[sign] {
				sum.repeated[sign] += n
			}
		}
	}
	return sum
}

func (v *decimalVotes) add(cell string) {
	cell = strings.TrimSpace(cell)
	if !looksNumeric(cell) || strings.IndexByte(cell, ':') >= 0 {
		return
	}
	points, commas := strings.Count(cell, "."), strings.Count(cell, ",")
	switch {
	case points > 0 && commas > 0 && strings.LastIndexByte(cell, '.') > strings.LastIndexByte(cell, ','):
		v.both[0]++
	case points > 0 && commas > 0:
		v.both[1]++
	case points > 1:
		v.repeated[0]++
	case commas > 1:
		v.repeated[1]++
	case points == 1:
		v.count(0, cell, ',')
	case commas == 1:
		v.count(1, cell, '.')
	case len(strings.TrimLeft(cell, "+-")) <= 3 && strings.Trim(cell, "+-0") != "":
		v.bare++
	}
}

func (v *decimalVotes) count(sign int, cell string, other byte) {
	v.single[sign]++
	if _, kind := slowNumber(cell, other); kind == cellNumber {
		v.grouped[sign]++
	}
}

func (v *decimalVotes) decimal() byte {
	point, comma := v.both[0]+v.repeated[1], v.both[1]+v.repeated[0]
	switch {
	case point != comma:
		if comma > point {
			return ','
		}
		return '.'
	case v.single[1] == 0 || v.single[0] > 0 && v.grouped[1] == v.single[1]:
		return '.'
	}
	return ','
}
