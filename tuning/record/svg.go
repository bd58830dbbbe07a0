package record

import (
	"fmt"
	"html"
	"math"
	"strings"
)

// The size of a figure in its own coordinates, and the room for labels.
const (
	figureWidth, figureHeight = 680.0, 340.0
	roomLeft, roomRight       = 72.0, 12.0
	roomTop, roomBottom       = 12.0, 64.0
)

// canvas maps values to coordinates.
type canvas struct {
	x, y                     axis
	lowX, highX, lowY, highY float64
	left, right, top, bottom float64
}

func share(v, low, high float64, log bool) float64 {
	if log {
		return math.Log(v/low) / math.Log(high/low)
	}
	return (v - low) / (high - low)
}

func (c *canvas) atX(v float64) float64 {
	return c.left + share(v, c.lowX, c.highX, c.x.log)*(c.right-c.left)
}

func (c *canvas) atY(v float64) float64 {
	return c.bottom - share(v, c.lowY, c.highY, c.y.log)*(c.bottom-c.top)
}

// svg draws the figure as a self-contained element with title and description.
// Every text is escaped; id must be unique on the page.
func (f *figure) svg(id string) string {
	c := canvas{x: f.x, y: f.y, left: roomLeft, right: figureWidth - roomRight, top: roomTop, bottom: figureHeight - roomBottom}
	c.lowX, c.highX = f.extent(f.x, func(s series, i int) []float64 { return []float64{s.x[i]} })
	c.lowY, c.highY = f.extent(f.y, func(s series, i int) []float64 {
		if s.low != nil {
			return []float64{s.y[i], s.low[i]}
		}
		return []float64{s.y[i]}
	})
	if f.y.equal {
		c.squareUp()
	}
	var b strings.Builder
	fmt.Fprintf(&b, `<svg viewBox="0 0 %g %g" role="img" aria-labelledby="%s-t %s-d"><title id="%s-t">%s</title><desc id="%s-d">%s</desc>`,
		figureWidth, figureHeight, id, id, id, html.EscapeString(f.title), id, html.EscapeString(f.about))
	fmt.Fprintf(&b, `<clipPath id="%s-c"><rect x="%g" y="%g" width="%g" height="%g"/></clipPath>`, id, c.left, c.top, c.right-c.left, c.bottom-c.top)
	c.frame(&b, f)
	fmt.Fprintf(&b, `<g clip-path="url(#%s-c)">`, id)
	for k, s := range f.series {
		c.draw(&b, s, k)
	}
	b.WriteString(`</g>`)
	c.legend(&b, f.series)
	b.WriteString(`</svg>`)
	return b.String()
}

// squareUp widens the axis that is drawn finer until both have one scale.
func (c *canvas) squareUp() {
	perX, perY := (c.highX-c.lowX)/(c.right-c.left), (c.highY-c.lowY)/(c.bottom-c.top)
	if perX > perY {
		grow := (perX*(c.bottom-c.top) - (c.highY - c.lowY)) / 2
		c.lowY, c.highY = c.lowY-grow, c.highY+grow
		return
	}
	grow := (perY*(c.right-c.left) - (c.highX - c.lowX)) / 2
	c.lowX, c.highX = c.lowX-grow, c.highX+grow
}

func (c *canvas) frame(b *strings.Builder, f *figure) {
	for _, v := range ticks(c.lowX, c.highX, f.x.log, 7) {
		x := c.atX(v)
		fmt.Fprintf(b, `<path class="grid" d="M%.1f %.1fV%.1f"/><text class="tick" x="%.1f" y="%.1f" text-anchor="middle">%s</text>`, x, c.top, c.bottom, x, c.bottom+14, tickText(v))
	}
	for _, v := range ticks(c.lowY, c.highY, f.y.log, 5) {
		y := c.atY(v)
		fmt.Fprintf(b, `<path class="grid" d="M%.1f %.1fH%.1f"/><text class="tick" x="%.1f" y="%.1f" text-anchor="end">%s</text>`, c.left, y, c.right, c.left-5, y+4, tickText(v))
	}
	fmt.Fprintf(b, `<rect class="frame" x="%g" y="%g" width="%g" height="%g"/>`, c.left, c.top, c.right-c.left, c.bottom-c.top)
	fmt.Fprintf(b, `<text class="label" x="%.1f" y="%.1f" text-anchor="middle">%s</text>`, (c.left+c.right)/2, c.bottom+32, html.EscapeString(f.x.label))
	fmt.Fprintf(b, `<text class="label" transform="translate(14 %.1f) rotate(-90)" text-anchor="middle">%s</text>`, (c.top+c.bottom)/2, html.EscapeString(f.y.label))
}

// draw draws one series; its number picks the ink.
func (c *canvas) draw(b *strings.Builder, s series, k int) {
	ink := fmt.Sprintf("ink%d", k%4)
	switch s.look {
	case shade:
		c.shade(b, s, ink)
	case dots, crosses:
		c.marks(b, s, ink)
	default:
		fmt.Fprintf(b, `<path class="line %s %s" d="%s"/>`, ink, [...]string{"solid", "dashed", "dotted"}[s.look], c.path(s.x, s.y))
	}
}

// path thins a line to what a pixel column can show: its first, lowest, highest and last value.
func (c *canvas) path(xs, ys []float64) string {
	var b strings.Builder
	pen := false
	point := func(x, y float64) {
		op := "L"
		if !pen {
			op = "M"
		}
		pen = true
		fmt.Fprintf(&b, "%s%.1f %.1f", op, x, y)
	}
	for i := 0; i < len(ys); {
		if !c.drawable(xs[i], ys[i]) {
			pen = false
			i++
			continue
		}
		column := math.Floor(c.atX(xs[i]))
		first, low, high, last := i, i, i, i
		for ; i < len(ys) && c.drawable(xs[i], ys[i]) && math.Floor(c.atX(xs[i])) == column; i++ {
			if ys[i] < ys[low] {
				low = i
			}
			if ys[i] > ys[high] {
				high = i
			}
			last = i
		}
		previous := -1
		for _, k := range []int{first, min(low, high), max(low, high), last} {
			if k != previous {
				point(c.atX(xs[k]), c.atY(ys[k]))
			}
			previous = k
		}
	}
	return b.String()
}

func (c *canvas) drawable(x, y float64) bool {
	return finitePair(x, y) && (!c.x.log || x > 0) && (!c.y.log || y > 0)
}

func (c *canvas) shade(b *strings.Builder, s series, ink string) {
	n := len(s.y)
	backX, backY := make([]float64, n), make([]float64, n)
	for i := range n {
		backX[i], backY[i] = s.x[n-1-i], s.low[n-1-i]
	}
	there, back := c.path(s.x, s.y), c.path(backX, backY)
	fmt.Fprintf(b, `<path class="shade %s" d="%s%sZ"/>`, ink, there, strings.Replace(back, "M", "L", 1))
}

// marks draws at most a thousand points, evenly thinned.
func (c *canvas) marks(b *strings.Builder, s series, ink string) {
	step := max(1, len(s.y)/1000)
	var d strings.Builder
	for i := 0; i < len(s.y); i += step {
		if !c.drawable(s.x[i], s.y[i]) {
			continue
		}
		x, y := c.atX(s.x[i]), c.atY(s.y[i])
		if s.look == dots {
			fmt.Fprintf(&d, "M%.1f %.1fh0", x, y)
		} else {
			fmt.Fprintf(&d, "M%.1f %.1fl5 5m0-5l-5 5", x-2.5, y-2.5)
		}
	}
	class := "cross"
	if s.look == dots {
		class = "dot"
	}
	fmt.Fprintf(b, `<path class="%s %s" d="%s"/>`, class, ink, d.String())
}

// legend stands below the axis, each name behind a piece of its line.
func (c *canvas) legend(b *strings.Builder, all []series) {
	x, y := c.left, figureHeight-10
	for k, s := range all {
		if s.name == "" {
			continue
		}
		ink := fmt.Sprintf("ink%d", k%4)
		switch s.look {
		case shade:
			fmt.Fprintf(b, `<path class="shade %s" d="M%.1f %.1fh24v-10h-24Z"/>`, ink, x, y)
		case dots:
			fmt.Fprintf(b, `<path class="dot %s" d="M%.1f %.1fh0m9 0h0m9 0h0"/>`, ink, x+3, y-4)
		case crosses:
			fmt.Fprintf(b, `<path class="cross %s" d="M%.1f %.1fl5 5m0-5l-5 5"/>`, ink, x+9, y-7)
		default:
			fmt.Fprintf(b, `<path class="line %s %s" d="M%.1f %.1fh24"/>`, ink, [...]string{"solid", "dashed", "dotted"}[s.look], x, y-4)
		}
		fmt.Fprintf(b, `<text class="tick" x="%.1f" y="%.1f">%s</text>`, x+29, y, html.EscapeString(s.name))
		x += 29 + 8.2*float64(len([]rune(s.name))) + 14
	}
}
