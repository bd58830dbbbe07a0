package chart

import "math"

// canvas is a grid of character cells of 2 by 4 dots each. A cell has one ink:
// the newest mark's. Everything outside is cut.
type canvas struct {
	w, h  int // cells
	dots  []uint8
	inks  []Ink
	marks []rune // a character in place of the dots; 0 for none
}

func newCanvas(w, h int) *canvas {
	w, h = max(w, 0), max(h, 0)
	return &canvas{w: w, h: h, dots: make([]uint8, w*h), inks: make([]Ink, w*h), marks: make([]rune, w*h)}
}

// braille holds the bit of each dot of a cell, by row and column (Unicode
// standard, block U+2800).
var braille = [4][2]uint8{{0x01, 0x08}, {0x02, 0x10}, {0x04, 0x20}, {0x40, 0x80}}

// dot sets the dot at column x and row y, counted from the top left.
func (c *canvas) dot(x, y int, ink Ink) {
	if x < 0 || y < 0 || x >= 2*c.w || y >= 4*c.h {
		return
	}
	i := (y/4)*c.w + x/2
	c.dots[i] |= braille[y%4][x%2]
	c.inks[i] = ink
}

// mark puts a character into the cell that holds the dot.
func (c *canvas) mark(x, y int, r rune, ink Ink) {
	if x < 0 || y < 0 || x >= 2*c.w || y >= 4*c.h {
		return
	}
	i := (y/4)*c.w + x/2
	c.marks[i], c.inks[i] = r, ink
}

// run sets the dots of column x from row y0 to row y1, in either order.
func (c *canvas) run(x, y0, y1 int, ink Ink) {
	if y0 > y1 {
		y0, y1 = y1, y0
	}
	for y := max(y0, 0); y <= min(y1, 4*c.h-1); y++ {
		c.dot(x, y, ink)
	}
}

// line draws from (x0, y0) to (x1, y1) in dots with the shape's pattern and
// returns the pattern's phase at the end, so that a dashed curve of short
// segments stays dashed. The line is cut to the canvas before it is stepped along.
func (c *canvas) line(x0, y0, x1, y1 float64, shape Shape, phase int, ink Ink) int {
	x0, y0, x1, y1, ok := cut(x0, y0, x1, y1, float64(2*c.w-1), float64(4*c.h-1))
	if !ok {
		return phase
	}
	steps := int(math.Ceil(math.Max(math.Abs(x1-x0), math.Abs(y1-y0))))
	for k := 0; k <= steps; k++ {
		t := 0.0
		if steps > 0 {
			t = float64(k) / float64(steps)
		}
		if shape.on(phase + k) {
			c.dot(int(math.Round(x0+t*(x1-x0))), int(math.Round(y0+t*(y1-y0))), ink)
		}
	}
	return phase + steps
}

// cut returns the part of a segment inside 0..w, 0..h (Liang and Barsky, "A New
// Concept and Method for Line Clipping", ACM Transactions on Graphics 3(1), 1984),
// and false if nothing is left or an end is not a finite number.
func cut(x0, y0, x1, y1, w, h float64) (a, b, c, d float64, ok bool) {
	dx, dy := x1-x0, y1-y0
	if w < 0 || h < 0 || math.IsNaN(dx+dy) || math.IsInf(dx, 0) || math.IsInf(dy, 0) {
		return 0, 0, 0, 0, false
	}
	from, to := 0.0, 1.0
	for _, edge := range [4][2]float64{{-dx, x0}, {dx, w - x0}, {-dy, y0}, {dy, h - y0}} {
		p, q := edge[0], edge[1]
		switch {
		case p == 0 && q < 0:
			return 0, 0, 0, 0, false
		case p < 0:
			from = math.Max(from, q/p)
		case p > 0:
			to = math.Min(to, q/p)
		}
	}
	if from > to {
		return 0, 0, 0, 0, false
	}
	inside := func(v, limit float64) float64 { return math.Min(math.Max(v, 0), limit) }
	return inside(x0+from*dx, w), inside(y0+from*dy, h), inside(x0+to*dx, w), inside(y0+to*dy, h), true
}
