package motion

import (
	"math"
	"sort"

	"eha/strokewise/ident/trace"
)

// Periodic is a stretch in which a wide-band signal repeats, a multisine as a rule.
type Periodic struct {
	Span    trace.Span // whole periods exactly, the last ones
	Extent  trace.Span // all of the stretch that repeats, its ends good to some 0.1 s
	Period  int        // samples
	Periods int        // at least 2
	Channel trace.Channel
}

// The periods looked for (s) and how well one must repeat: the correlation of
// the differenced signal with itself one period later. A slow position correction
// on top, or ramp or bias, is taken away by differencing; common practice, no source.
const (
	minPeriod     = 0.5
	maxPeriod     = 10.0
	minRepeat     = 0.8
	searchRate    = 50.0 // Hz, of the thinned signal in which periods are searched
	cellTime      = 0.5  // s, length of the pieces that are compared
	minExcited    = 2.0  // s, all periods together: ringing and hunting repeat for shorter
	minCrossings  = 8    // sign changes of the differenced signal in a period: wide-band, not a repeated move
	maxStandstill = 0.4  // share of samples that hardly change: a repeated step stands still between
)

// PeriodicSpans finds periodic excitation in the speed command, or without one in
// the motor position: stretches that repeat with a period of 0.5 to 10 s at least
// once, whatever ramp or bias lies under them. A part that is faded in or out does
// not repeat and is left out, so that a played period or two may be lost. Repeated steps, reversals and moves
// are not excitation in this sense and are left out: they stand still most of
// the time or have but a few turning points.
//
// The cost is samples thinned to 50 Hz times the 475 lags looked at, some 10 ms
// for ten minutes of log.
func PeriodicSpans(t *trace.Trace) []Periodic {
	channel := trace.SpeedCommand
	u, ok := t.Samples(channel)
	if !ok {
		channel = trace.MotorPosition
		if u, ok = MotorSpeed(t); !ok {
			return nil
		}
	}
	thin := max(1, int(math.Round(1/(searchRate*t.Period()))))
	rate := 1 / (float64(thin) * t.Period())
	var found []Periodic
	for _, part := range Stretches(t, int(2*minPeriod/t.Period())) {
		d := thinnedDifference(u[part.From:part.To], thin)
		for _, c := range repeats(d, rate) {
			coarse := trace.Span{From: part.From + c.span.From*thin, To: min(part.From+c.span.To*thin, part.To)}
			if p, ok := refine(u, part, coarse, c.lag*thin, thin); ok {
				p.Channel = channel
				found = append(found, p)
			}
		}
	}
	sort.Slice(found, func(i, j int) bool { return found[i].Span.From < found[j].Span.From })
	return found
}

// thinnedDifference returns the differences between successive means of k samples.
func thinnedDifference(u []float64, k int) []float64 {
	out := make([]float64, len(u)/k)
	last := 0.0
	for i := range out {
		m := mean(u[i*k : (i+1)*k])
		if i > 0 {
			out[i] = m - last
		}
		last = m
	}
	return out
}

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

// refine finds period and ends to the sample. The period is the lag about the
// coarse one with the smallest mean square difference of the differenced signal;
// the ends are where the signal stops repeating.
func refine(u []float64, part, coarse trace.Span, lag, thin int) (Periodic, bool) {
	gap := max(1, thin/4) // difference over a quarter frame: less noise than one sample
	diff := func(i int) float64 { return u[i+gap] - u[i] }
	best, bestSum := lag, math.Inf(1)
	for l := max(1, lag-thin); l <= lag+thin; l++ {
		var sum float64
		count := 0
		for i := coarse.From + thin; i+l+gap < min(coarse.To-thin, part.To); i += max(1, thin/7) {
			e := diff(i+l) - diff(i)
			sum += e * e
			count++
		}
		if count > 0 && sum/float64(count) < bestSum {
			best, bestSum = l, sum/float64(count)
		}
	}
	from, to := ends(diff, part, coarse, best, gap, 4*bestSum)
	periods := int(math.Floor(float64(to-from)/float64(best) + 0.02)) // ends are good to a frame
	if periods < 2 {
		return Periodic{}, false
	}
	extent := trace.Span{From: from, To: to}
	// The last whole periods: the first carry the response's start.
	from = to - periods*best
	if from < part.From {
		from = part.From
		if from+periods*best > part.To {
			periods--
		}
	}
	return Periodic{Span: trace.Span{From: from, To: from + periods*best}, Extent: extent, Period: best, Periods: periods}, periods >= 2
}

// ends walks outwards from the middle of the stretch that repeats, while over a
// block of some 100 ms the mean square mismatch stays under limit or a fifth of the signal's own.
func ends(diff func(int) float64, part, coarse trace.Span, lag, gap int, limit float64) (from, to int) {
	block := 20 * gap
	repeatsAt := func(i int) bool {
		var miss, own float64
		for k := i; k < i+block; k++ {
			a, b := diff(k), diff(k+lag)
			miss += (b - a) * (b - a)
			own += max(a*a, b*b)
		}
		return own > 0 && (miss < limit*float64(block) || miss < 0.2*own)
	}
	mid := (coarse.From + max(coarse.From, coarse.To-lag)) / 2
	from, to = mid, mid
	for from-gap >= part.From && from-gap+block+lag+gap <= part.To && (from > coarse.From+block || repeatsAt(from-gap)) {
		from -= gap
	}
	for to+block+lag+2*gap <= part.To && (to+block < coarse.To-lag-block || repeatsAt(to+gap)) {
		to += gap
	}
	// A block that touches the jump at an end fails whole: go on in small steps, while
	// the mismatch stays below the signal's own size.
	size := 0.0
	for i := mid; i < mid+block; i++ {
		size += diff(i) * diff(i) / float64(block)
	}
	fits := func(i int) bool { e := diff(i+lag) - diff(i); return e*e < 0.5*size }
	last := to + block
	for k := 0; k < block && from > part.From && fits(from-1); k++ {
		from--
	}
	for k := 0; k < block && last+lag+gap < part.To && fits(last); k++ {
		last++
	}
	return from, min(last+lag, part.To)
}
