package chart

import (
	"math"
	"strings"
)

// layout decides what fits. Below 14 by 5 cells only the curves are drawn.
func (p *Plot) layout(width, height int) geometry {
	x0, x1 := p.rangeOf(p.X, p.xExtent, 0)
	y0, y1 := p.rangeOf(p.Y, func() (float64, float64) { return p.yExtent(x0, x1) }, 0.05)
	g := geometry{w: width, h: height}
	if !p.Bare && width >= 14 && height >= 5 {
		g.top, g.h = 1, height-3
		probe := newScale(y0, y1, p.Y.Log, 4*g.h)
		g.yTicks, g.yStep = Ticks(probe.min, probe.max, max(g.h/3, 1), p.Y.Log)
		for _, t := range g.yTicks {
			g.left = max(g.left, len(tickText(t, g.yStep)))
		}
		g.left = min(max(g.left, 3), width/2) + 1
		g.w = width - g.left
	}
	g.x, g.y = newScale(x0, x1, p.X.Log, 2*g.w), newScale(y0, y1, p.Y.Log, 4*g.h)
	if p.Equal && !p.X.Log && !p.Y.Log {
		g.equalise()
		g.yTicks, g.yStep = Ticks(g.y.min, g.y.max, max(g.h/3, 1), false)
	}
	return g
}

// equalise widens the range of one axis about its middle until a dot means the
// same along both; dots are square on a usual terminal.
func (g *geometry) equalise() {
	perX, perY := (g.x.max-g.x.min)/float64(g.x.n), (g.y.max-g.y.min)/float64(g.y.n)
	widen := func(s *scale, per float64) {
		mid, half := (s.min+s.max)/2, per*float64(s.n)/2
		if !math.IsInf(half, 0) {
			s.min, s.max = mid-half, mid+half
		}
	}
	if perX < perY {
		widen(&g.x, perY)
	} else {
		widen(&g.y, perX)
	}
}

// rangeOf returns the axis's own range, or the data's with a margin on both sides.
func (p *Plot) rangeOf(a Axis, extent func() (float64, float64), margin float64) (lo, hi float64) {
	if a.Min < a.Max {
		return a.Min, a.Max
	}
	lo, hi = extent()
	if pad := (hi - lo) * margin; !a.Log && pad > 0 && !math.IsInf(hi+pad, 0) && !math.IsInf(lo-pad, 0) {
		return lo - pad, hi + pad
	}
	return lo, hi
}

// Extent returns the range of the ordinate that the plot shows.
func (p *Plot) Extent() (lo, hi float64) {
	g := p.layout(40, 4)
	return g.y.min, g.y.max
}

func (p *Plot) xExtent() (lo, hi float64) {
	lo, hi = math.Inf(1), math.Inf(-1)
	for i := range p.Series {
		s := &p.Series[i]
		if s.X == nil && s.n() > 0 {
			lo, hi = math.Min(lo, s.x(0)), math.Max(hi, s.x(s.n()-1))
			continue
		}
		lo, hi = widen(lo, hi, s.X[:s.n()], p.X.Log)
	}
	for _, b := range p.Bands {
		lo, hi = widen(lo, hi, b.X, p.X.Log)
	}
	return lo, hi
}

// yExtent returns the range of the samples whose abscissa is in view.
func (p *Plot) yExtent(x0, x1 float64) (lo, hi float64) {
	lo, hi = math.Inf(1), math.Inf(-1)
	for i := range p.Series {
		s := &p.Series[i]
		if s.X == nil {
			from, to := s.visible(x0, x1)
			if a, b := s.extremes(from, to); !p.Y.Log && usable(a, false) && usable(b, false) {
				lo, hi = math.Min(lo, a), math.Max(hi, b)
			} else {
				for k := from; k < to; k++ {
					if v := s.y(k); usable(v, p.Y.Log) {
						lo, hi = math.Min(lo, v), math.Max(hi, v)
					}
				}
			}
			continue
		}
		for k := 0; k < s.n(); k++ {
			if v := s.y(k); s.X[k] >= x0 && s.X[k] <= x1 && usable(v, p.Y.Log) {
				lo, hi = math.Min(lo, v), math.Max(hi, v)
			}
		}
	}
	for _, b := range p.Bands {
		lo, hi = widen(lo, hi, b.Low, p.Y.Log)
		lo, hi = widen(lo, hi, b.High, p.Y.Log)
	}
	for _, r := range p.Rules {
		if !r.Vertical && usable(r.At, p.Y.Log) {
			lo, hi = math.Min(lo, r.At), math.Max(hi, r.At)
		}
	}
	return lo, hi
}

func usable(v float64, log bool) bool {
	return !math.IsNaN(v) && !math.IsInf(v, 0) && (!log || v > 0)
}

// widen stretches lo and hi over the usable values.
func widen(lo, hi float64, values []float64, log bool) (float64, float64) {
	if !log {
		a, b := extremes(values)
		if !math.IsInf(a, 0) && !math.IsInf(b, 0) {
			return math.Min(lo, a), math.Max(hi, b)
		}
	}
	for _, v := range values {
		if usable(v, log) {
			lo, hi = math.Min(lo, v), math.Max(hi, v)
		}
	}
	return lo, hi
}

// extremes returns the least and greatest value, NaN left out; +Inf and -Inf
// where there is none. This is the loop that runs over every sample of a long log.
func extremes(values []float64) (lo, hi float64) {
	lo, hi = math.Inf(1), math.Inf(-1)
	lo2, hi2 := lo, hi
	// Two independent pairs keep the processor from waiting on one comparison for the next.
	for ; len(values) >= 2; values = values[2:] {
		a, b := values[0], values[1]
		if a < lo {
			lo = a
		}
		if a > hi {
			hi = a
		}
		if b < lo2 {
			lo2 = b
		}
		if b > hi2 {
			hi2 = b
		}
	}
	if len(values) > 0 && values[0] < lo {
		lo = values[0]
	}
	if len(values) > 0 && values[0] > hi {
		hi = values[0]
	}
	return math.Min(lo, lo2), math.Max(hi, hi2)
}

// axes draws the frame, ticks and labels.
func (p *Plot) axes(s *sheet, g geometry) {
	bottom := g.top + g.h
	for y := g.top; y < bottom; y++ {
		s.set(g.left-1, y, '│', InkAxis)
	}
	for _, t := range g.yTicks {
		at := g.y.at(t)
		if !(at >= 0 && at <= float64(g.y.n)) {
			continue
		}
		row := g.top + (g.y.n-1-int(math.Round(at)))/4
		text := tickText(t, g.yStep)
		s.put(g.left-1-len(text), row, text, InkAxis)
		s.set(g.left-1, row, '┤', InkAxis)
	}
	s.put(g.left-1, bottom, "└"+strings.Repeat("─", g.w), InkAxis)
	xAxis(s, p.X, g, bottom)
}

// xAxis puts ticks on row and their labels with the axis's name below it.
func xAxis(s *sheet, a Axis, g geometry, row int) {
	name := a.Label
	nameAt := g.left + g.w - narrow.StringWidth(name)
	if nameAt < g.left {
		nameAt = g.left
	}
	s.put(nameAt, row+1, name, InkAxis)
	ticks, step := Ticks(g.x.min, g.x.max, max(g.w/12, 1), a.Log)
	end := 0
	for _, t := range ticks {
		at := g.x.at(t)
		if !(at >= 0 && at < float64(g.x.n)) {
			continue
		}
		col, text := g.left+int(math.Round(at))/2, tickText(t, step)
		s.set(col, row, '┬', InkAxis)
		start := max(col-len(text)/2, 0)
		if start >= end && start+len(text) < nameAt {
			end = s.put(start, row+1, text, InkAxis) + 1
		}
	}
}

// legend writes the ordinate's name and the series' signs above the plot.
func (p *Plot) legend(s *sheet, g geometry) {
	x := s.put(0, 0, p.Y.Label, InkAxis) + 2
	for i := range p.Series {
		sr := &p.Series[i]
		if sr.Name == "" {
			continue
		}
		if x+3+narrow.StringWidth(sr.Name) > s.w {
			s.put(min(x, s.w-2), 0, "..", InkAxis)
			return
		}
		x = s.put(x, 0, sr.Shape.Sign()+" ", sr.Ink)
		x = s.put(x, 0, sr.Name, InkText) + 2
	}
}

// XAxis returns the two lines of an abscissa on its own, for plots that share
// one: the line with ticks and that with numbers and name.
func XAxis(a Axis, width int, paint Paint) string {
	if width <= 0 {
		return "\n"
	}
	s := newSheet(width, 2)
	s.put(0, 0, strings.Repeat("─", width), InkAxis)
	xAxis(s, a, geometry{w: width, x: newScale(a.Min, a.Max, a.Log, 2*width)}, 0)
	return s.render(paint)
}
