package trace

import (
	"math"
)

// grid places the rows of a log on a uniform clock.
type grid struct {
	Clock
	start float64
	n     int       // samples on the clock
	at    []int32   // sample of each row, -1 for a row dropped; nil where row i is sample i
	stamp []float64 // s, the rows' times on the trace's clock (restarts moved on); nil where at is nil

	scatter float64 // s, how far stamps lie off the clock of late, in the mean
}

// restartGap is the least stretch put between two buffers whose times begin anew (s).
const restartGap = 0.05

// evenGrid is the clock of a log without time.
func evenGrid(rows int, period float64) *grid {
	return &grid{Clock: Clock{Period: period}, n: rows}
}

// newGrid finds the uniform clock behind time stamps t (s), which it may change:
// a stamp that is not a number is filled in from its neighbours.
func newGrid(t []float64) *grid {
	fillStamps(t)
	if g := perfectGrid(t); g != nil {
		return g
	}
	period := medianStep(t)
	if !(period > 0) {
		return nil
	}
	g := &grid{Clock: Clock{Has: true, Period: period}, at: make([]int32, len(t)), stamp: t}
	coarse := coarseStamps(t, period)
	if coarse > 0 {
		period = coarse
		g.Period = coarse
	}
	g.place(period)
	g.fit()
	return g
}

// fillStamps replaces stamps that are not numbers by the one before plus a step.
func fillStamps(t []float64) {
	step := medianStep(t)
	for i := range t {
		if !math.IsNaN(t[i]) {
			continue
		}
		switch {
		case i > 0:
			t[i] = t[i-1] + step
		default:
			k := 1
			for k < len(t) && math.IsNaN(t[k]) {
				k++
			}
			if k < len(t) {
				t[0] = t[k] - float64(k)*step
			} else {
				t[0] = 0
			}
		}
	}
}

// perfectGrid returns the clock of stamps that are even to 5 % of the period, or
// to their own resolution where that is coarser, and nil for others.
func perfectGrid(t []float64) *grid {
	n := len(t)
	period := (t[n-1] - t[0]) / float64(n-1)
	if !(period > 0) {
		return nil
	}
	limit := 0.05 * period
	worst, sum, sum2, back := 0.0, 0.0, 0.0, false
	smallest, last := math.Inf(1), t[0]
	for i, v := range t {
		e := v - t[0] - float64(i)*period
		if far := math.Abs(e); far > worst {
			worst = far
		}
		sum += e
		sum2 += e * e
		if d := v - last; d < 0 {
			back = true
		} else if d > 0 && d < smallest {
			smallest = d
		}
		last = v
	}
	// Stamps coarser than the period repeat: then they may be off by one of their steps.
	if smallest > 1.5*period {
		limit = 1.01 * smallest
	}
	if back || worst > limit {
		return nil
	}
	mean := sum / float64(n)
	jitter := math.Sqrt(math.Max(0, sum2/float64(n)-mean*mean))
	g := &grid{Clock: Clock{Has: true, Jitter: jitter}, start: t[0], n: n}
	g.Period = tidy(period, n, math.Max(2*worst, 1e-9*math.Abs(t[n-1])))
	return g
}

// tidy rounds a period to the fewest digits, four at most, that move the last of n
// samples by no more than the doubt of a stamp.
func tidy(period float64, n int, doubt float64) float64 {
	size := math.Floor(math.Log10(period))
	for digits := 1.0; digits <= 4; digits++ {
		scale := math.Pow(10, digits-1-size)
		round := math.Round(period*scale) / scale
		if math.Abs(round-period)*float64(n) <= math.Max(doubt, 1e-9*period*float64(n)) {
			return round
		}
	}
	return period
}

// coarseStamps returns the mean step where stamps repeat because they are coarser
// than the period, and 0 where they do not.
func coarseStamps(t []float64, period float64) float64 {
	repeats, steps, sum := 0, 0, 0.0
	for i := 1; i < len(t); i++ {
		switch d := t[i] - t[i-1]; {
		case d == 0:
			repeats++
		case d > 0 && d < 2.5*period:
			steps++
			sum += d
		}
	}
	if repeats*5 < len(t) {
		return 0
	}
	return sum / float64(repeats+steps)
}

// place gives each row its sample on the grid, following slow drift of the stamps
// against the period.
func (g *grid) place(period float64) {
	t := g.stamp
	const follow = 0.03 // share of a stamp's offset that moves the grid along
	g.at[0] = 0
	k, offset, shift, last := 0, t[0], 0.0, t[0]
	for i := 1; i < len(t); i++ {
		raw := t[i]
		if raw+shift <= last-period/2 && isRestart(t, i, period, last-shift) {
			jump := math.Max(restartGap, 10*period)
			shift = last + jump - raw
			k += int(math.Round(jump / period))
			g.Restarts = append(g.Restarts, raw+shift)
			offset = raw + shift - float64(k)*period
			g.at[i], t[i], last = int32(k), raw+shift, raw+shift
			continue
		}
		t[i] = raw + shift
		if t[i] <= last && g.surplus(i, offset+float64(k+1)*period-shift, period) {
			g.at[i] = -1
			g.Backward = append(g.Backward, t[i])
			continue
		}
		if t[i] < last {
			g.Backward = append(g.Backward, t[i])
			if g.exchange(i, k, offset, period) {
				k++
				continue
			}
		}
		e := t[i] - offset - float64(k+1)*period
		if missing, late := g.missingRows(i, e, shift, period); missing > 0 {
			g.Missing = append(g.Missing, Block{From: last, To: t[i], Rows: missing})
			k += missing
			offset += late - float64(missing)*period // the clock may have moved in the gap
			e = 0
		}
		k++
		offset += follow * e
		g.scatter += follow * (math.Abs(e) - g.scatter)
		g.at[i], last = int32(k), math.Max(last, t[i])
	}
	g.n = k + 1
}

// surplus reports whether row i, whose stamp does not advance, is there once too
// often: then the rows after it come as if it were absent. due is when row i would
// come on the log's own clock (s).
func (g *grid) surplus(i int, due, period float64) bool {
	var late []float64
	for a := 0; a < lookAhead && i+a < len(g.stamp); a++ {
		late = append(late, g.stamp[i+a]-due-float64(a)*period)
	}
	return median(late) < -0.5*period-g.doubt(len(late))
}

// doubt is how much plainer than half a period the sign of a row more or less must
// be where n stamps that scatter show it (s): 2.5 times their mean error over √n.
func (g *grid) doubt(n int) float64 { return 2.5 * g.scatter / math.Sqrt(float64(n)) }

// exchange puts row i before the row that precedes it, where both stamps say
// plainly that the two have changed places, and reports whether it did. k is the
// sample of the row before.
func (g *grid) exchange(i, k int, offset, period float64) bool {
	here, before := (g.stamp[i]-offset)/period, (g.stamp[i-1]-offset)/period
	if g.at[i-1] != int32(k) || math.Abs(here-float64(k)) > 0.1 || math.Abs(before-float64(k+1)) > 0.1 {
		return false
	}
	g.at[i-1], g.at[i] = int32(k+1), int32(k)
	return true
}

// lookAhead is how many rows show whether the clock goes on as before: the median
// of so many tells a row more or less from stamps uncertain by 0.4 of a period.
const lookAhead = 32

// isRestart reports whether the stamps from row i on go forward from a much
// earlier time, rather than one row being out of order.
func isRestart(t []float64, i int, period, last float64) bool {
	const look = 5
	for j := i; j < min(len(t), i+look); j++ {
		if t[j] > last-period/2 || j > i && t[j] < t[j-1] {
			return false
		}
	}
	return len(t)-i >= 2
}

// missingRows returns how many rows are missing before row i, which comes e (s)
// later than expected, and how late it and the rows after it are (s): these must
// be late as well, or it is jitter.
func (g *grid) missingRows(i int, e, shift, period float64) (rows int, late float64) {
	if e < 0.5*period {
		return 0, 0
	}
	all := []float64{e}
	for a := 1; a < lookAhead && i+a < len(g.stamp); a++ {
		all = append(all, e+g.stamp[i+a]+shift-g.stamp[i]-float64(a)*period)
	}
	late = median(all)
	m := math.Round(late / period)
	if late < 0.5*period+g.doubt(len(all)) || m > 1e7 {
		return 0, 0
	}
	return int(m), late
}

// fit finds the period and the start by least squares of stamps on samples, over
// the rows up to the first restart, and the jitter about that line.
func (g *grid) fit() {
	end := len(g.at)
	if len(g.Restarts) > 0 {
		for i, v := range g.stamp {
			if v >= g.Restarts[0] {
				end = i
				break
			}
		}
	}
	var n, sk, st, skk, skt float64
	t0 := g.stamp[0]
	for i, k := range g.at[:end] {
		if k < 0 {
			continue
		}
		x, y := float64(k), g.stamp[i]-t0
		n, sk, st, skk, skt = n+1, sk+x, st+y, skk+x*x, skt+x*y
	}
	d := n*skk - sk*sk
	if d > 0 {
		g.Period = (n*skt - sk*st) / d
	}
	a := (st - g.Period*sk) / n
	var sum2 float64
	for i, k := range g.at[:end] {
		if k >= 0 {
			e := g.stamp[i] - t0 - a - g.Period*float64(k)
			sum2 += e * e
		}
	}
	g.Jitter = math.Sqrt(sum2 / n)
	// The slope of n even stamps with jitter is known to jitter·√12/n^1.5, so the
	// last stamp to jitter·√12/√n; three times that is the doubt.
	g.Period = tidy(g.Period, g.n, 10.4*g.Jitter/math.Sqrt(n))
	g.start = t0 + (st-g.Period*sk)/n
}

// missingSpans lists the samples of the grid that no row fills.
func (g *grid) missingSpans() []Span {
	if g.at == nil {
		return nil
	}
	filled := make([]bool, g.n)
	for _, k := range g.at {
		if k >= 0 {
			filled[k] = true
		}
	}
	var spans []Span
	for i := 0; i < g.n; i++ {
		from := i
		for i < g.n && !filled[i] {
			i++
		}
		if i > from {
			spans = append(spans, Span{from, i})
		}
	}
	return spans
}
