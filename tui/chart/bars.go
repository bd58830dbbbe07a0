package chart

import (
	"math"
	"strings"
)

// Interval draws a 95 % interval as a bar about its value in width cells, at a
// scale of the caller's: from and to are the ends of the strip, and limits (two
// values or none) are ticked so that a bar reaching past them shows at once. An
// end beyond the strip is drawn as an arrow head. A value or end that is not
// finite gives blanks.
func Interval(value, low, high, from, to float64, limits [2]float64, width int) string {
	if width <= 0 {
		return ""
	}
	cells := []rune(strings.Repeat(" ", width))
	if !usable(value, false) || !usable(low, false) || !usable(high, false) || !(to > from) {
		return string(cells)
	}
	at := func(v float64) int {
		return int(math.Round(math.Min(math.Max((v-from)/(to-from), -1), 2) * float64(width-1)))
	}
	put := func(i int, r rune) {
		if i >= 0 && i < width {
			cells[i] = r
		}
	}
	for _, l := range limits {
		if l != 0 {
			put(at(l), ':')
		}
	}
	for i := max(at(low), 0); i <= min(at(high), width-1); i++ {
		cells[i] = '─'
	}
	put(at(low), '├')
	put(at(high), '┤')
	if low < from {
		cells[0] = '<'
	}
	if high > to {
		cells[width-1] = '>'
	}
	put(at(value), '┼')
	return string(cells)
}

// Circle returns n+1 points of a circle, for the Nyquist plane.
func Circle(x, y, radius float64, n int) (xs, ys []float64) {
	for i := 0; i <= n; i++ {
		sin, cos := math.Sincos(2 * math.Pi * float64(i) / float64(n))
		xs, ys = append(xs, x+radius*cos), append(ys, y+radius*sin)
	}
	return xs, ys
}
