package trace

import (
	"math"

	"gonum.org/v1/gonum/mat"
)

const (
	windowLength = 2.0 // s, of a stretch that gives one lag, and of a short recording the least
	leastWindow  = 0.5 // s
	leastSamples = 100 // in a window
	usualWindows = 8   // in a recording too short for windows of full length
	mostWindows  = 60
	leastShared  = 0.4  // of the motion, below which an overlap proves little
	leastRest    = 1e-5 // of the changes squared: less is noise and interpolation, no other move
	alikeFor     = 0.1  // s, over which what a fit leaves over is alike
	leastMoving  = 0.05 // of the usual stretch's motion, below which one gives no lag
)

// lag is what one stretch of motion says of the clocks: what to add to the second
// recording's time (s), at which of its times (s), and the standard error of that (s).
type lag struct{ time, lag, sigma float64 }

// aligner holds what two recordings are aligned on, as changes on grids of one period.
type aligner struct {
	period         float64 // s
	startA, startB float64 // s, of the grids
	main           []float64
	target         []float64
	// What else the target depends on, logged by the first and by the second recording.
	besideA, besideB [][]float64
	// capSide is 1 where the cap side carries the load, on the grid of the recording that
	// holds both pressures: a turn then gives another travel. nil where neither does.
	capSide  []float64
	capSideA bool // it is the first's
}

// newAligner takes the channels aligned and, encoder against transducer, the
// pressures: the oil that they compress is turns without travel.
func newAligner(a, b *Trace, on [2]Channel) *aligner {
	g := &aligner{period: math.Max(a.Period(), b.Period())}
	g.main, g.startA = changes(a, on[0], g.period)
	g.target, g.startB = changes(b, on[1], g.period)
	for _, c := range oilChannels(a, b, on) {
		if b.Has(c) {
			p, _ := changes(b, c, g.period)
			g.besideB = append(g.besideB, p)
		} else {
			p, _ := changes(a, c, g.period)
			g.besideA = append(g.besideA, p)
		}
	}
	if on[0] != on[1] && a.Has(CapPressure, RodPressure) {
		g.capSide, g.capSideA = carrying(a, g.period, len(g.main)), true
	} else if on[0] != on[1] && b.Has(CapPressure, RodPressure) {
		g.capSide = carrying(b, g.period, len(g.target))
	}
	return g
}

// carrying returns 1 where the cap side's pressure is the higher one, on the grid of changes.
func carrying(t *Trace, period float64, n int) []float64 {
	pc, _ := t.Samples(CapPressure)
	pr, _ := t.Samples(RodPressure)
	side := make([]float64, n)
	edge := math.Ceil(changeOver / 2 / period)
	for i := range side {
		at := (edge + float64(i)) * period / t.Period()
		if interpolateAt(pc, at) > interpolateAt(pr, at) {
			side[i] = 1
		}
	}
	return side
}

// oilChannels lists the pressures that explain the difference of turns and travel,
// none where one channel is aligned on itself.
func oilChannels(a, b *Trace, on [2]Channel) []Channel {
	if on[0] == on[1] {
		return nil
	}
	var list []Channel
	for _, c := range []Channel{CapPressure, RodPressure} {
		if a.Has(c) && moves(a, c) || b.Has(c) && moves(b, c) {
			list = append(list, c)
		}
	}
	return list
}

// lags finds the lag of each stretch of motion about a first offset.
func (g *aligner) lags(offset float64) []lag {
	length := g.window()
	stride := max(length, len(g.target)/mostWindows)
	least := leastMoving * energyOf(g.target) * float64(length) / float64(len(g.target))
	var lags []lag
	drift := 0.0
	for from := 0; from+length <= len(g.target); from += stride {
		if energyOf(g.target[from:from+length]) <= least {
			continue
		}
		start := g.startB + float64(from)*g.period
		// The lags found so far say where to look: clocks drift.
		if n := len(lags); n > 0 {
			drift = lags[n-1].lag - offset
		}
		shift := (start + offset + drift - g.startA) / g.period
		if d, sigma, ok := g.fine(from, length, shift); ok {
			lags = append(lags, lag{start + float64(length)*g.period/2, offset + drift + d*g.period, sigma * g.period})
		}
	}
	return lags
}

// window returns how many samples give one lag.
func (g *aligner) window() int {
	n := min(int(windowLength/g.period), len(g.target)/usualWindows)
	n = max(n, int(leastWindow/g.period), leastSamples)
	return min(n, len(g.target))
}

func energyOf(x []float64) float64 {
	sum := 0.0
	for _, v := range x {
		sum += v * v
	}
	return sum
}

// fine finds by Gauss-Newton steps the shift (samples, beyond the given one and no
// further from it than twice the coarse step) at which the sum of the main channel,
// those beside it and a constant, each by its own factor, comes nearest to the
// target from a sample on. sigma is the shift's standard error (samples).
func (g *aligner) fine(from, length int, shift float64) (d, sigma float64, ok bool) {
	reach := 2 * coarsePeriod / g.period
	var factors []float64
	for range 20 {
		s := shift + d
		if s < 2 || s+float64(length) > float64(len(g.main)-3) {
			return 0, 0, false
		}
		var step float64
		if factors, step, sigma, ok = g.solve(from, length, s, factors); !ok {
			return 0, 0, false
		}
		d += math.Max(-2, math.Min(2, step))
		if math.Abs(d) > reach {
			return 0, 0, false
		}
		if sigma > 0 && math.Abs(step) < 1e-4 {
			return d, sigma, true
		}
	}
	return 0, 0, false
}

// solve fits the factors at a shift and, once factors are known, the step of the
// shift beside them with its standard error, both 0 before.
func (g *aligner) solve(from, length int, shift float64, factors []float64) (next []float64, step, sigma float64, ok bool) {
	at := func(i int) float64 { return shift + float64(i-from) }
	columns := g.columns(from, from+length, at)
	target := g.target[from : from+length]
	if factors == nil {
		factors, _, ok = leastSquares(columns, target)
		return factors, 0, 0, ok
	}
	// How what moves with the shift changes along it.
	later := g.columns(from, from+length, func(i int) float64 { return at(i) + 0.5 })
	before := g.columns(from, from+length, func(i int) float64 { return at(i) - 0.5 })
	slope := make([]float64, length)
	for k := range columns[:2+len(g.besideA)] {
		for i := range slope {
			slope[i] += factors[k] * (later[k][i] - before[k][i])
		}
	}
	x, variance, ok := leastSquares(append(columns, slope), target)
	if !ok {
		return nil, 0, 0, false
	}
	last := len(x) - 1
	// What is left over goes on for a while: so many neighbours count as one.
	return x[:last], x[last], math.Sqrt(variance * math.Max(1, alikeFor/g.period)), true
}

// unexplained returns which share of the target's changes is left over where both
// recordings overlap, by one set of factors throughout. Where little of the motion
// overlaps, chance likeness is easily had: what lacks to leastShared counts as left over.
func (g *aligner) unexplained(j *Joint) float64 {
	at := func(i int) float64 {
		return (j.at(g.startB+float64(i)*g.period) - g.startA) / g.period
	}
	from, to := 0, len(g.target)
	for from < to && at(from) < 0 {
		from++
	}
	for to > from && at(to-1) > float64(len(g.main)-1) {
		to--
	}
	if to-from < leastSamples {
		return 1
	}
	columns := g.columns(from, to, at)
	target := g.target[from:to]
	factors, _, ok := leastSquares(columns, target)
	if !ok {
		return 1
	}
	rest, whole := 0.0, energyOf(target)
	for i, v := range target {
		for k, f := range factors {
			v -= f * columns[k][i]
		}
		rest += v * v
	}
	first, last := int(math.Ceil(at(from))), int(at(to-1))
	shared := math.Max(whole/energyOf(g.target), energyOf(g.main[first:last+1])/energyOf(g.main))
	if lacking := leastShared/shared - 1; lacking > 0 {
		rest, whole = rest+lacking*whole, whole+lacking*whole
	}
	return math.Max(rest/whole, leastRest)
}

// columns returns what the target is made of in [from, to): the main channel, what of
// it belongs to the cap side, those beside it, the first's where at places each sample,
// and a constant.
func (g *aligner) columns(from, to int, at func(i int) float64) [][]float64 {
	list := [][]float64{shifted(g.main, from, to, at), make([]float64, to-from)}
	if g.capSide != nil {
		g.split(list, from, to, at)
	}
	for _, p := range g.besideA {
		list = append(list, shifted(p, from, to, at))
	}
	for _, p := range g.besideB {
		list = append(list, p[from:to])
	}
	return append(list, ones(to-from))
}

// split fills the second column with the first where the cap side carries the load,
// unless one side carries nearly all of it.
func (g *aligner) split(list [][]float64, from, to int, at func(i int) float64) {
	side := g.capSide[min(from, len(g.capSide)):min(to, len(g.capSide))]
	if g.capSideA {
		side = shifted(g.capSide, from, to, at)
	}
	for i, s := range side {
		list[1][i] = math.Round(s) * list[0][i]
	}
	const little = 0.01
	if of := energyOf(list[0]); energyOf(list[1]) < little*of || energyOf(list[1]) > (1-little)*of {
		clear(list[1])
	}
}

func shifted(x []float64, from, to int, at func(i int) float64) []float64 {
	out := make([]float64, to-from)
	for i := range out {
		out[i] = interpolateAt(x, at(from+i))
	}
	return out
}

func ones(n int) []float64 {
	x := make([]float64, n)
	for i := range x {
		x[i] = 1
	}
	return x
}

// leastSquares fits the sum of the columns, each by its own factor, to y. variance
// is that of the last factor, by the scatter that is left. A column without motion
// gets no factor; ok is false where the rest cannot be told apart.
func leastSquares(columns [][]float64, y []float64) (factors []float64, variance float64, ok bool) {
	n := len(columns)
	norm := mat.NewSymDense(n, nil)
	right := mat.NewVecDense(n, nil)
	size := make([]float64, n)
	for i, c := range columns {
		if size[i] = math.Sqrt(energyOf(c)); size[i] == 0 {
			size[i] = 1
		}
		for j := range i + 1 {
			norm.SetSym(i, j, dot(c, columns[j])/size[i]/size[j])
		}
		right.SetVec(i, dot(c, y)/size[i])
		if norm.At(i, i) == 0 {
			norm.SetSym(i, i, 1)
		}
	}
	var cholesky mat.Cholesky
	const worst = 1e12 // condition of the scaled equations
	if !cholesky.Factorize(norm) || cholesky.Cond() > worst {
		return nil, 0, false
	}
	var x mat.VecDense
	var inverse mat.SymDense
	if cholesky.SolveVecTo(&x, right) != nil || cholesky.InverseTo(&inverse) != nil {
		return nil, 0, false
	}
	whole := energyOf(y)
	rest := math.Max(whole-mat.Dot(&x, right), 1e-12*whole) / float64(len(y))
	factors = make([]float64, n)
	for i := range factors {
		factors[i] = x.AtVec(i) / size[i]
	}
	last := n - 1
	return factors, rest * inverse.At(last, last) / (size[last] * size[last]), whole > 0
}

func dot(a, b []float64) float64 {
	sum := 0.0
	for i, v := range a {
		sum += v * b[i]
	}
	return sum
}
