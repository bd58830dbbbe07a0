package quality

import (
	"math"

	"eha/strokewise/ident/lsq"
	"eha/strokewise/ident/trace"
)

// lag is by how much a channel comes behind the encoder, with the half-width of its
// 95 % interval (s). A width of 0 means that it was not looked for, an infinite
// one that this log cannot tell.
type lag struct{ value, width float64 }

func (l lag) told() bool { return l.width > 0 && !math.IsInf(l.width, 1) }

// clocks are the lags by channel, and why a lag cannot be told.
type clocks struct {
	of    map[trace.Channel]lag
	why   map[trace.Channel]string
	rough lag // of the rod position, with what the oil gives in it; 0 where not found
	// perPressure is the current or torque that a Pa across the pump takes, and twice its standard error; 0 where not found.
	perPressure lag
}

// relation is a law that holds among channels at every time, integrated over windows
// so that noise counts little:
//
//	y = Σ columns·x
//
// A channel c that is late by τ reads c(t-τ); to first order c(t) = c(t-τ) + τ·c'(t-τ), so
// that its change over a window stands beside its integral with the factor τ.
type relation struct {
	late [][]trace.Channel // channels that share an unknown lag, one lag a group
	rows func(f *fineFrames, starts []int, w int) (columns [][]float64, y []float64)
	lags func(x []float64) []float64 // of every group, beyond the shift that is already in the frames
}

// The windows over which skew is judged, and the frames at their ends (s): short
// enough to follow a resonance of some 25 Hz, and no more windows than needed.
const (
	skewFrame   = 0.005
	skewWindow  = 0.04
	skewWindows = 4000
	skewLeast   = 300
	skewBlocks  = 8
	// skewReach (s) is the largest lag looked for; beyond skewNear the search starts anew from a grid.
	skewReach = 0.04
	skewNear  = 0.012
)

// fitLags fits the lags of a relation's groups by Gauss-Newton steps: the channels are
// shifted by what was found and the rest is fitted anew. The intervals come from leaving out
// one eighth of the log after the other, since the windows' errors are not independent.
func (v *view) fitLags(r relation, known map[trace.Channel]float64) (lags []lag, x lsq.LinearFit, ok bool) {
	s, ok := v.search(r, known)
	if !ok {
		return nil, x, false
	}
	none := make([]float64, len(r.late))
	shift, ok := s.settle(none)
	if !ok || largestOf(shift) > skewNear {
		if shift, ok = s.settle(s.scan()); !ok || !s.better(shift, none) {
			return nil, x, false
		}
	}
	return s.intervals(shift)
}

// search picks the windows; false without an encoder or with too few of them.
func (v *view) search(r relation, known map[trace.Channel]float64) (*skewSearch, bool) {
	s := &skewSearch{v: v, r: r, known: known, step: max(1, int(math.Round(skewFrame/v.t.Period())))}
	s.dt = float64(s.step) * v.t.Period()
	s.w = max(3, int(math.Round(skewWindow/s.dt)))
	f := s.frames(make([]float64, len(r.late)))
	if f == nil {
		return nil, false
	}
	s.starts = v.skewStarts(f, len(f.theta()), s.w, s.step)
	return s, len(s.starts) >= skewLeast
}

// better reports whether a large shift leaves clearly less than none: where signals
// swing, any whole swing fits fairly well.
func (s *skewSearch) better(shift, none []float64) bool {
	with, _, _, ok := s.fit(shift, s.starts)
	bare, _, _, ok2 := s.fit(none, s.starts)
	return ok && ok2 && (largestOf(shift) < skewNear || with.Sigma < 0.9*bare.Sigma)
}

type skewSearch struct {
	v      *view
	r      relation
	known  map[trace.Channel]float64 // s, lags that are taken out beforehand
	step   int
	dt     float64
	w      int
	starts []int
}

func largestOf(values []float64) float64 {
	most := 0.0
	for _, y := range values {
		most = math.Max(most, math.Abs(y))
	}
	return most
}

// frames returns the means of all channels, those of a group taken later by its shift.
func (s *skewSearch) frames(shift []float64) *fineFrames {
	by := map[trace.Channel]float64{}
	for c, t := range s.known {
		by[c] = t
	}
	for g, group := range s.r.late {
		for _, c := range group {
			by[c] += shift[g]
		}
	}
	return s.v.fine(s.step, by)
}

func (s *skewSearch) fit(shift []float64, starts []int) (lsq.LinearFit, [][]float64, []float64, bool) {
	columns, y := s.r.rows(s.frames(shift), starts, s.w)
	fit, err := lsq.Linear{Columns: columns, Y: y}.SolveRobust(3)
	return fit, columns, y, err == nil
}

// settle steps from a first shift until the rest is below a tenth of a millisecond;
// false where it runs beyond skewReach.
func (s *skewSearch) settle(shift []float64) ([]float64, bool) {
	shift = append([]float64(nil), shift...)
	for range 6 {
		fit, _, _, ok := s.fit(shift, s.starts)
		if !ok {
			return nil, false
		}
		most := 0.0
		for g, d := range s.r.lags(fit.X) {
			d = math.Max(-0.01, math.Min(0.01, d))
			shift[g] = math.Max(-skewReach, math.Min(skewReach, shift[g]+d))
			most = math.Max(most, math.Abs(d))
		}
		if most < 1e-4 { // the rest is added by intervals, to first order
			break
		}
	}
	return shift, true
}

// scan tries shifts group by group and returns those that leave the least.
func (s *skewSearch) scan() []float64 {
	few := make([]int, 0, len(s.starts)/4+1)
	for i := 0; i < len(s.starts); i += 4 {
		few = append(few, s.starts[i])
	}
	best := make([]float64, len(s.r.late))
	for g := range best {
		least, at := math.Inf(1), 0.0
		for try := -skewReach; try <= skewReach; try += 0.008 {
			best[g] = try
			if fit, _, _, ok := s.fit(best, few); ok && fit.Sigma < least {
				least, at = fit.Sigma, try
			}
		}
		best[g] = at
	}
	return best
}

// intervals fits once more, and without every eighth of the windows in turn; 2.36 is
// Student's t for seven degrees of freedom.
func (s *skewSearch) intervals(shift []float64) ([]lag, lsq.LinearFit, bool) {
	fit, columns, y, ok := s.fit(shift, s.starts)
	if !ok {
		return nil, fit, false
	}
	all := s.r.lags(fit.X)
	sums, squares := make([]float64, len(all)), make([]float64, len(all))
	n := len(y)
	for b := range skewBlocks {
		from, to := b*n/skewBlocks, (b+1)*n/skewBlocks
		part := lsq.Linear{Y: without(y, from, to), Weights: without(fit.Weights, from, to)}
		for _, c := range columns {
			part.Columns = append(part.Columns, without(c, from, to))
		}
		less, err := part.Solve()
		if err != nil {
			return nil, fit, false
		}
		for g, d := range s.r.lags(less.X) {
			sums[g] += d
			squares[g] += d * d
		}
	}
	lags := make([]lag, len(all))
	for g := range lags {
		m := sums[g] / skewBlocks
		variance := (skewBlocks - 1) * math.Max(squares[g]/skewBlocks-m*m, 0)
		lags[g] = lag{shift[g] + all[g], 2.36 * math.Sqrt(variance)}
	}
	return lags, fit, true
}

func without(y []float64, from, to int) []float64 {
	return append(append(make([]float64, 0, len(y)), y[:from]...), y[to:]...)
}

// gain returns by how much better a relation is fitted with the lags taken out than without,
// the mean logarithm of what is left without over what is left with, and the half-width
// of its 95 % interval from the scatter over the eighths of the log (Student's t for seven degrees of freedom, 2.36).
func (v *view) gain(r relation, lags map[trace.Channel]float64) (mean, width float64, ok bool) {
	with, ok := v.search(r, lags)
	without, ok2 := v.search(r, nil)
	if !ok || !ok2 {
		return 0, 0, false
	}
	left, ok := with.leavesByPart()
	bare, ok2 := without.leavesByPart()
	if !ok || !ok2 {
		return 0, 0, false
	}
	var sum, square float64
	for b := range left {
		g := math.Log(bare[b] / left[b])
		sum += g / skewBlocks
		square += g * g / skewBlocks
	}
	return sum, 2.36 * math.Sqrt(math.Max(square-sum*sum, 0)/(skewBlocks-1)), true
}

// leavesByPart returns what the relation leaves over in each eighth of the windows, at its own best lags.
func (s *skewSearch) leavesByPart() (left [skewBlocks]float64, ok bool) {
	shift, ok := s.settle(make([]float64, len(s.r.late)))
	if !ok {
		return left, false
	}
	fit, columns, y, ok := s.fit(shift, s.starts)
	if !ok {
		return left, false
	}
	n := len(y)
	for b := range left {
		from, to := b*n/skewBlocks, (b+1)*n/skewBlocks
		over := make([]float64, 0, to-from)
		for i := from; i < to; i++ {
			rest := y[i]
			for j, c := range columns {
				rest -= c[i] * fit.X[j]
			}
			over = append(over, math.Abs(rest))
		}
		if left[b] = quantile(over, 0.68); left[b] <= 0 {
			return left, false
		}
	}
	return left, true
}
