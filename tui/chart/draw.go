package chart

import "math"

// series draws one series.
func (c *canvas) series(s *Series, g geometry) {
	n := s.n()
	switch {
	case n == 0:
	case !s.Shape.joined():
		c.scatter(s, g)
	case s.X == nil && s.Step > 0 && !g.x.log && !g.y.log && g.w > 0 && s.dense(g):
		c.columns(s, g)
	default:
		c.curve(s, g)
	}
}

// dense reports whether there are more samples in view than dot columns.
func (s *Series) dense(g geometry) bool {
	from, to := s.visible(g.x.min, g.x.max)
	return to-from > 2*g.x.n
}

// visible returns the range of samples of a uniform series between two abscissae.
func (s *Series) visible(x0, x1 float64) (from, to int) {
	n := len(s.Y)
	if !(s.Step > 0) {
		return 0, n
	}
	clamp := func(v float64) int {
		switch {
		case !(v > 0):
			return 0
		case v > float64(n):
			return n
		}
		return int(v)
	}
	from = clamp(math.Floor((x0 - s.Start) / s.Step))
	return from, max(clamp(math.Ceil((x1-s.Start)/s.Step)+1), from)
}

// columns draws a uniform series with many samples per dot column as the run
// from least to greatest value of each column, so no peak is lost.
func (c *canvas) columns(s *Series, g geometry) {
	perDot := (g.x.max - g.x.min) / float64(g.x.n-1)
	for col := 0; col < g.x.n; col++ {
		x := g.x.min + (float64(col)-0.5)*perDot
		from, to := s.visible(x, x+perDot)
		if from >= to || !s.Shape.on(col) || x+perDot < s.Start {
			continue
		}
		lo, hi := s.extremes(from, to)
		a, b := g.y.at(lo), g.y.at(hi)
		if math.IsNaN(a) || math.IsNaN(b) || math.IsInf(lo, 1) || math.IsInf(hi, -1) || b < a || b < 0 || a > float64(g.y.n) {
			continue
		}
		c.run(col, g.row(b), g.row(a), s.Ink)
	}
}

// row returns the dot row, from the top, of a dot height; far out of range it
// stops just outside.
func (g geometry) row(at float64) int {
	return g.y.n - 1 - int(math.Round(math.Min(math.Max(at, -2), float64(g.y.n)+2)))
}

// curve joins the samples by straight lines; a sample that has no place breaks it.
func (c *canvas) curve(s *Series, g geometry) {
	phase, had := 0, false
	var px, py float64
	from, to := 0, s.n()
	if s.X == nil {
		from, to = s.visible(g.x.min, g.x.max)
	}
	top := float64(g.y.n - 1)
	for i := from; i < to; i++ {
		x, y := g.x.at(s.x(i)), top-g.y.at(s.y(i))
		ok := !math.IsNaN(x+y) && !math.IsInf(x, 0) && !math.IsInf(y, 0)
		if ok && had {
			phase = c.line(px, py, x, y, s.Shape, phase, s.Ink)
		} else if ok {
			c.line(x, y, x, y, s.Shape, phase, s.Ink)
		}
		px, py, had = x, y, ok
	}
}

// scatter draws one mark per sample.
func (c *canvas) scatter(s *Series, g geometry) {
	sign := map[Shape]rune{Crosses: 'x', Pluses: '+', Rings: 'o'}[s.Shape]
	for i := 0; i < s.n(); i++ {
		x, y := g.x.at(s.x(i)), g.y.at(s.y(i))
		if !(x >= -0.5 && x < float64(g.x.n) && y >= -0.5 && y < float64(g.y.n)) {
			continue
		}
		if sign != 0 {
			c.mark(int(math.Round(x)), g.row(y), sign, s.Ink)
		} else {
			c.dot(int(math.Round(x)), g.row(y), s.Ink)
		}
	}
}

// band fills between two curves with a sparse pattern.
func (c *canvas) band(b Band, g geometry) {
	n := min(len(b.Low), len(b.High))
	if b.X != nil {
		n = min(n, len(b.X))
	}
	abscissa := func(i int) float64 {
		if b.X != nil {
			return b.X[i]
		}
		return b.Start + float64(i)*b.Step
	}
	lo, hi := make([]float64, g.x.n), make([]float64, g.x.n)
	for i := range lo {
		lo[i], hi[i] = math.Inf(1), math.Inf(-1)
	}
	spread := func(x, y0, y1 float64) {
		if x > -0.5 && x < float64(g.x.n)-0.5 {
			k := int(math.Round(x))
			lo[k], hi[k] = math.Min(lo[k], y0), math.Max(hi[k], y1)
		}
	}
	for i := 0; i < n; i++ {
		x, y0, y1 := g.x.at(abscissa(i)), g.y.at(b.Low[i]), g.y.at(b.High[i])
		if math.IsNaN(x+y0+y1) || math.IsInf(x, 0) {
			continue
		}
		spread(x, y0, y1)
		if i == 0 {
			continue
		}
		// Between far samples the edges run straight.
		xp, p0, p1 := g.x.at(abscissa(i-1)), g.y.at(b.Low[i-1]), g.y.at(b.High[i-1])
		if math.IsNaN(xp+p0+p1) || math.IsInf(xp, 0) {
			continue
		}
		for k := math.Max(math.Ceil(xp), 0); k < math.Min(x, float64(g.x.n)); k++ {
			t := (k - xp) / (x - xp)
			spread(k, p0+t*(y0-p0), p1+t*(y1-p1))
		}
	}
	for k := range lo {
		if !(hi[k] >= lo[k]) || hi[k] < 0 || lo[k] > float64(g.y.n) {
			continue
		}
		for y := max(g.row(hi[k]), 0); y <= min(g.row(lo[k]), g.y.n-1); y++ {
			if (k+2*y)%4 == 0 {
				c.dot(k, y, InkBand)
			}
		}
	}
}

// shade fills a stretch of the abscissa with sparse dots.
func (c *canvas) shade(sp Span, g geometry) {
	limit := func(v float64) int { return int(math.Min(math.Max(v, 0), float64(g.x.n-1))) }
	from, to := g.x.at(sp.From), g.x.at(sp.To)
	if !(to >= 0 && from < float64(g.x.n)) {
		return
	}
	for x := limit(math.Floor(from)); x <= limit(math.Ceil(to)); x++ {
		for y := x % 2; y < g.y.n; y += 2 {
			if (x+y)%4 == 0 {
				c.dot(x, y, InkBand)
			}
		}
	}
}

// rule draws a reference line of spaced dots and its label at the far end.
func (c *canvas) rule(r Rule, g geometry) {
	if r.Vertical {
		x := g.x.at(r.At)
		if !(x >= 0 && x < float64(g.x.n)) {
			return
		}
		for y := 0; y < g.y.n; y += 3 {
			c.dot(int(x), y, InkAxis)
		}
		c.label(int(x)/2+1, 0, r.Label)
		return
	}
	y := g.y.at(r.At)
	if !(y >= 0 && y < float64(g.y.n)) {
		return
	}
	for x := 0; x < g.x.n; x += 3 {
		c.dot(x, g.row(y), InkAxis)
	}
	c.label(c.w-len([]rune(r.Label)), g.row(y)/4, r.Label)
}

// label writes plain text into cells.
func (c *canvas) label(col, row int, text string) {
	for _, r := range text {
		if col >= 0 && col < c.w && row >= 0 && row < c.h && narrow.RuneWidth(r) == 1 {
			c.marks[row*c.w+col], c.inks[row*c.w+col] = r, InkAxis
		}
		col++
	}
}

// cursor draws the vertical cursor in cells that hold no mark.
func (c *canvas) cursor(x int) {
	for y := 0; y < 4*c.h; y++ {
		c.dot(x, y, InkCursor)
	}
}
