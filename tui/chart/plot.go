// Package chart draws plots of characters: numbers in, string out. It knows no
// terminal, no colour and no physics. Curves are drawn in braille dots; curves of
// one plot differ by shape as well as by ink. Whatever the numbers (NaN, infinite,
// huge, none) and whatever the size (from 0 by 0), it draws what can be drawn and
// never fails: samples that are not finite are left out.
package chart

// Shape is how a series is drawn.
type Shape int

// The shapes.
const (
	Solid   Shape = iota
	Dashed        // long dashes
	Dotted        // single dots
	Points        // one dot per sample, unconnected
	Crosses       // an x per sample
	Pluses        // a + per sample
	Rings         // an o per sample
)

// on says whether the k-th dot along a line is drawn.
func (s Shape) on(k int) bool {
	switch s {
	case Dashed:
		return k%8 < 5
	case Dotted:
		return k%4 == 0
	}
	return true
}

// joined reports whether samples are connected.
func (s Shape) joined() bool { return s <= Dotted }

// Sign returns the two characters that stand for the shape in a legend.
func (s Shape) Sign() string {
	return [...]string{"──", "- ", "··", ".:", "x ", "+ ", "o "}[s]
}

// Series is one curve or cloud of points.
type Series struct {
	Name string
	// X holds the abscissae; nil places sample i at Start + i·Step, which draws fastest.
	X, Y        []float64
	Start, Step float64
	Shape       Shape
	Ink         Ink
	// Gain and Offset convert a sample as it is drawn, so that a long log needs no
	// copy in other units: Gain·y + Offset, with a Gain of 0 taken as 1.
	Gain, Offset float64
	// Summary makes a long uniform series quick to draw; nil reads every sample.
	Summary *Summary
}

// x returns the abscissa of sample i.
func (s *Series) x(i int) float64 {
	if s.X != nil {
		return s.X[i]
	}
	return s.Start + float64(i)*s.Step
}

// y returns the ordinate of sample i.
func (s *Series) y(i int) float64 { return s.convert(s.Y[i]) }

func (s *Series) convert(v float64) float64 {
	if s.Gain == 0 {
		return v + s.Offset
	}
	return s.Gain*v + s.Offset
}

// n returns the number of usable samples.
func (s *Series) n() int {
	if s.X != nil {
		return min(len(s.X), len(s.Y))
	}
	return len(s.Y)
}

// Band is a strip between two curves over the same abscissae.
type Band struct {
	X, Low, High []float64
	Start, Step  float64 // where X is nil
}

// Rule is a straight reference line across the plot with a short label.
type Rule struct {
	At       float64
	Label    string
	Vertical bool
}

// Span is a stretch of the abscissa to shade.
type Span struct{ From, To float64 }

// Axis is one axis. With Min not less than Max the range follows the data.
type Axis struct {
	Label    string // with the unit, as "time (s)"
	Min, Max float64
	Log      bool
}

// Plot is everything that one plot shows.
type Plot struct {
	X, Y   Axis
	Series []Series
	Bands  []Band
	Rules  []Rule
	Spans  []Span
	// Cursor is the abscissa of a vertical cursor; nil draws none.
	Cursor *float64
	// Equal gives both axes the same length per unit, as the Nyquist plane needs.
	Equal bool
	// Bare leaves out axes, labels and legend.
	Bare bool
}

// geometry is where the parts of a plot lie in the sheet.
type geometry struct {
	left, top, w, h int // of the canvas, in cells
	x, y            scale
	yTicks          []float64
	yStep           float64
}

// Render draws the plot into width by height cells: exactly height lines of
// exactly width cells; an empty string if either is not positive.
func (p *Plot) Render(width, height int, paint Paint) string {
	if width <= 0 || height <= 0 {
		return ""
	}
	g := p.layout(width, height)
	s := newSheet(width, height)
	c := newCanvas(g.w, g.h)
	for _, sp := range p.Spans {
		c.shade(sp, g)
	}
	for _, b := range p.Bands {
		c.band(b, g)
	}
	for _, r := range p.Rules {
		c.rule(r, g)
	}
	for i := range p.Series {
		c.series(&p.Series[i], g)
	}
	if p.Cursor != nil {
		if x := g.x.at(*p.Cursor); x >= 0 && x < float64(2*g.w) {
			c.cursor(int(x))
		}
	}
	s.blit(c, g.left, g.top)
	if g.top > 0 {
		p.axes(s, g)
		p.legend(s, g)
	}
	return s.render(paint)
}

// ValueAt returns the abscissa under the column of cells of a plot of that size,
// and whether the column lies inside the axes: what a mouse click means.
func (p *Plot) ValueAt(width, height, column int) (float64, bool) {
	if width <= 0 || height <= 0 {
		return 0, false
	}
	g := p.layout(width, height)
	if column < g.left || column >= g.left+g.w {
		return 0, false
	}
	return g.x.value(float64(2*(column-g.left)) + 0.5), true
}
