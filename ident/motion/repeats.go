package motion

import (
	"math"

	"eha/strokewise/ident/trace"
)

type repeat struct {
	span trace.Span
	lag  int
}

// repeats searches d for stretches that correlate with themselves a lag later.
// The products are summed by cells of cellTime; a lag holds over a run of cells.
// Longest runs are taken first, of equal ones the shortest lag, and no two overlap.
func repeats(d []float64, rate float64) []repeat {
	cell := max(4, int(cellTime*rate))
	cells := len(d) / cell
	energy := make([]float64, len(d)+1)
	for i, v := range d {
		energy[i+1] = energy[i] + v*v
	}
	floor := energy[len(d)] / float64(len(d)+1) * float64(cell) * 1e-4 // a silent cell repeats nothing
	var candidates []repeat
	products := newCellProducts(d, energy, cell, floor)
	for lag := int(minPeriod * rate); lag <= int(maxPeriod*rate) && lag+cell < len(d); lag++ {
		products.fill(lag)
		run := 0
		for c := 0; c <= cells; c++ {
			if c < cells && products.holds(c) {
				run++
				continue
			}
			if run > 0 && (run+1)*cell >= lag {
				candidates = append(candidates, repeat{trace.Span{From: (c - run) * cell, To: min(c*cell+lag, len(d))}, lag})
			}
			run = 0
		}
	}
	return choose(candidates, d, rate)
}

// cellProducts holds, for one lag, the sums of d(i)·d(i+lag) and both energies
// up to each cell.
type cellProducts struct {
	d, energy     []float64
	cell, count   int // samples of a cell, cells at this lag
	floor         float64
	dot           []float64
	first, second []float64
}

func newCellProducts(d, energy []float64, cell int, floor float64) *cellProducts {
	n := len(d)/cell + 1
	return &cellProducts{d: d, energy: energy, cell: cell, floor: floor, dot: make([]float64, n), first: make([]float64, n), second: make([]float64, n)}
}

func (p *cellProducts) fill(lag int) {
	p.count = (len(p.d) - lag) / p.cell
	for c := range p.count {
		at := c * p.cell
		var sum float64
		b := p.d[at+lag : at+lag+p.cell]
		for i, v := range p.d[at : at+p.cell] {
			sum += v * b[i]
		}
		p.dot[c+1] = p.dot[c] + sum
		p.first[c+1] = p.first[c] + p.energy[at+p.cell] - p.energy[at]
		p.second[c+1] = p.second[c] + p.energy[at+lag+p.cell] - p.energy[at+lag]
	}
}

// holds reports whether the signal repeats about cell c: over it and a neighbour
// each side, so that a quiet cell does not break a run.
func (p *cellProducts) holds(c int) bool {
	if c >= p.count {
		return false
	}
	from, to := max(c-1, 0), min(c+2, p.count)
	dot, ea, eb := p.dot[to]-p.dot[from], p.first[to]-p.first[from], p.second[to]-p.second[from]
	floor := p.floor * float64(to-from)
	return ea > floor && eb > floor && dot > minRepeat*math.Sqrt(ea*eb)
}

// choose takes the candidates that are excitation, longest span first (to a
// twentieth), then shortest lag, without overlap.
func choose(candidates []repeat, d []float64, rate float64) []repeat {
	var chosen []repeat
	for {
		best := -1
		for i, c := range candidates {
			if c.lag == 0 {
				continue
			}
			if best < 0 || better(c, candidates[best], d) {
				best = i
			}
		}
		if best < 0 {
			return chosen
		}
		b := candidates[best]
		if part := d[b.span.From:b.span.To]; float64(b.span.Len()) >= minExcited*rate && wideBand(part, b.lag) && !tone(part, b.lag) {
			chosen = append(chosen, b)
		}
		for i, c := range candidates {
			if c.span.From < b.span.To && b.span.From < c.span.To {
				candidates[i].lag = 0
			}
		}
	}
}

// better prefers the clearly longer run of repeats (span less lag counts, or a
// long lag would win by its length alone), then the better correlation.
func better(a, b repeat, d []float64) bool {
	la, lb := float64(a.span.Len()-a.lag), float64(b.span.Len()-b.lag)
	if la > 1.1*lb || lb > 1.1*la {
		return la > lb
	}
	return correlation(d, a.span, a.lag) > correlation(d, b.span, b.lag)
}

func correlation(d []float64, s trace.Span, lag int) float64 {
	var dot, ea, eb float64
	for i := s.From; i+lag < min(s.To, len(d)); i++ {
		dot += d[i] * d[i+lag]
		ea += d[i] * d[i]
		eb += d[i+lag] * d[i+lag]
	}
	if ea == 0 || eb == 0 {
		return 0
	}
	return dot / math.Sqrt(ea*eb)
}

// wideBand reports whether the differenced signal keeps moving and turns often enough.
func wideBand(d []float64, lag int) bool {
	var sum float64
	for _, v := range d {
		sum += v * v
	}
	rms := math.Sqrt(sum / float64(len(d)))
	still, crossings, side := 0, 0, 0.0
	for _, v := range d {
		if math.Abs(v) < 0.1*rms {
			still++
		}
		// Turning points with a dead band, so that noise does not count.
		if math.Abs(v) > 0.3*rms && v*side <= 0 {
			if side != 0 {
				crossings++
			}
			side = v
		}
	}
	return float64(still) < maxStandstill*float64(len(d)) && crossings*lag >= minCrossings*len(d)
}

// repeatedMove reports whether the position command moves and is not wide-band itself:
// a loop that hunts along repeated moves repeats its hunting as well.
func repeatedMove(demand []float64, lag, thin int) bool {
	return spread(demand) > 0 && !wideBand(thinnedDifference(thinnedDifference(demand, thin), 1), lag)
}

// tone reports whether one period of d is made of one frequency, as ringing and
// hunting are: it then correlates with itself at some lag well below the period.
func tone(d []float64, lag int) bool {
	one := d[:min(lag, len(d)/2)]
	var energy float64
	for _, v := range one {
		energy += v * v
	}
	for k := len(one) / 4; k <= len(one)/2; k++ {
		var dot float64
		for i, v := range one {
			dot += v * d[i+k]
		}
		if dot > minRepeat*energy {
			return true
		}
	}
	return false
}
