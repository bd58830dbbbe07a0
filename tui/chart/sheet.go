package chart

import (
	"strings"

	"github.com/mattn/go-runewidth"
)

// Ink says what a mark stands for; the caller's Paint turns it into a colour, or
// into nothing. No meaning rests on it alone: shapes differ too.
type Ink uint8

// The inks.
const (
	InkText   Ink = iota // labels, values
	InkAxis              // axes, grid, reference lines
	InkA                 // first series
	InkB                 // second series
	InkC                 // third series
	InkBand              // bands of doubt, shaded spans
	InkCursor            // the cursor
)

// Paint colours a run of text that holds no escape sequences. Nil leaves it plain.
type Paint func(Ink, string) string

// skip stands in the cell that the second half of a wide character covers.
const skip rune = -1

// narrow measures characters as a Western terminal draws them, whatever the locale.
var narrow = &runewidth.Condition{EastAsianWidth: false}

// sheet is a grid of character cells on which text, axes and canvases are put.
type sheet struct {
	w, h  int
	runes []rune
	inks  []Ink
}

func newSheet(w, h int) *sheet {
	w, h = max(w, 0), max(h, 0)
	return &sheet{w: w, h: h, runes: make([]rune, w*h), inks: make([]Ink, w*h)}
}

func (s *sheet) set(x, y int, r rune, ink Ink) {
	if x < 0 || y < 0 || x >= s.w || y >= s.h {
		return
	}
	s.runes[y*s.w+x], s.inks[y*s.w+x] = r, ink
}

// put writes text from cell x on and returns the cell after it. Characters that
// would move the terminal's cursor become '?', and text is cut at the right edge.
func (s *sheet) put(x, y int, text string, ink Ink) int {
	for _, r := range text {
		w := narrow.RuneWidth(r)
		switch {
		case r < ' ' || r == 0x7f || (r >= 0x80 && r < 0xa0) || r == 0xfffd:
			r, w = '?', 1
		case w == 0:
			continue
		}
		if x+w > s.w {
			return s.w
		}
		s.set(x, y, r, ink)
		if w == 2 {
			s.set(x+1, y, skip, ink)
		}
		x += w
	}
	return x
}

// blit copies the canvas's marks into the sheet with its corner at (x, y).
func (s *sheet) blit(c *canvas, x, y int) {
	for row := 0; row < c.h; row++ {
		for col := 0; col < c.w; col++ {
			i := row*c.w + col
			switch {
			case c.marks[i] != 0:
				s.set(x+col, y+row, c.marks[i], c.inks[i])
			case c.dots[i] != 0:
				s.set(x+col, y+row, 0x2800+rune(c.dots[i]), c.inks[i])
			}
		}
	}
}

// render returns the sheet's lines, each exactly as wide as the sheet.
func (s *sheet) render(paint Paint) string {
	var b strings.Builder
	b.Grow(len(s.runes)*3 + s.h)
	var run []rune
	for y := 0; y < s.h; y++ {
		if y > 0 {
			b.WriteByte('\n')
		}
		row, inks := s.runes[y*s.w:(y+1)*s.w], s.inks[y*s.w:(y+1)*s.w]
		for x := 0; x < s.w; {
			ink, blank := inks[x], row[x] == 0
			run = run[:0]
			for ; x < s.w && (row[x] == 0) == blank && (blank || inks[x] == ink); x++ {
				switch row[x] {
				case 0:
					run = append(run, ' ')
				case skip:
				default:
					run = append(run, row[x])
				}
			}
			if blank || paint == nil {
				b.WriteString(string(run))
			} else {
				b.WriteString(paint(ink, string(run)))
			}
		}
	}
	return b.String()
}
