package chart

import "math"

// Range returns the range of the abscissa that the plot shows.
func (p *Plot) Range() (lo, hi float64) {
	g := p.layout(40, 4)
	return g.x.min, g.x.max
}

// Nearest returns the ordinate of the sample nearest to x, and whether there is
// one that can be drawn: what a cursor reads.
func (s *Series) Nearest(x float64) (y float64, ok bool) {
	if s.X == nil {
		k := 0
		if s.Step > 0 {
			k = int(math.Round(math.Min(math.Max((x-s.Start)/s.Step, 0), float64(len(s.Y)))))
		}
		if k >= len(s.Y) || math.Abs(s.x(k)-x) > s.Step {
			return 0, false
		}
		return s.y(k), usable(s.y(k), false)
	}
	best := math.Inf(1)
	for i := range s.n() {
		if d := math.Abs(s.X[i] - x); d < best && usable(s.Y[i], false) {
			best, y, ok = d, s.y(i), true
		}
	}
	return y, ok
}
