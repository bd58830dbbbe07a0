package window

import "eha/strokewise/ident/trace"

// Mask marks the samples of a log that no window may hold.
type Mask struct{ bad []bool }

// NewMask returns a mask over the trace's samples with its gaps marked.
func NewMask(t *trace.Trace) *Mask {
	m := &Mask{bad: make([]bool, t.Len())}
	for _, g := range t.Gaps() {
		m.Mark(g, 0)
	}
	return m
}

// Mark marks a span and pad samples to both sides of it.
func (m *Mask) Mark(span trace.Span, pad int) {
	for i := max(span.From-pad, 0); i < min(span.To+pad, len(m.bad)); i++ {
		m.bad[i] = true
	}
}

// MarkWhere marks the samples for which the condition holds, and pad samples to
// both sides of them.
func (m *Mask) MarkWhere(pad int, condition func(i int) bool) {
	n := len(m.bad)
	for i := 0; i < n; i++ {
		if !condition(i) {
			continue
		}
		from := i
		for i < n && condition(i) {
			i++
		}
		m.Mark(trace.Span{From: from, To: i}, pad)
	}
}

// Bad reports whether sample i is marked.
func (m *Mask) Bad(i int) bool { return m.bad[i] }

// Usable returns, for every window of the slider, whether it holds no marked sample.
func (m *Mask) Usable(s *Slider) []bool {
	counts := count(len(m.bad), func(i int) bool { return m.bad[i] })
	ok := make([]bool, s.Count())
	for w := range ok {
		ok[w] = counts[s.Start(w)+s.n] == counts[s.Start(w)]
	}
	return ok
}

// Side returns, for every window of the slider, +1 where y stays above level
// throughout, -1 where it stays below -level, and 0 otherwise: which chamber
// carries (y the pressure difference) or which way the rod moves (y its speed),
// with windows that hold a change left out.
func Side(s *Slider, y []float64, level float64) []int {
	above := count(len(y), func(i int) bool { return y[i] > level })
	below := count(len(y), func(i int) bool { return y[i] < -level })
	side := make([]int, s.Count())
	for w := range side {
		from, to := s.Start(w), s.Start(w)+s.n
		switch n := int32(s.n); {
		case above[to]-above[from] == n:
			side[w] = 1
		case below[to]-below[from] == n:
			side[w] = -1
		}
	}
	return side
}

// count returns how many of the first i samples fulfil the condition, for i from 0 to n.
func count(n int, condition func(i int) bool) []int32 {
	sums := make([]int32, n+1)
	for i := range n {
		sums[i+1] = sums[i]
		if condition(i) {
			sums[i+1]++
		}
	}
	return sums
}
