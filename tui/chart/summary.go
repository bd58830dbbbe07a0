package chart

import "math"

// block is the number of samples that one entry of a Summary covers: small
// against a dot column of a long log, large enough to save its work.
const block = 32

// Summary holds the least and greatest value of every block of a series, so that
// a log of any length is drawn in the time of a short one. It belongs to the very
// samples that it was made of.
type Summary struct {
	lo, hi      []float64
	least, most float64 // of all samples
}

// Summarise returns the summary of the samples.
func Summarise(y []float64) *Summary {
	s := &Summary{least: math.Inf(1), most: math.Inf(-1)}
	for ; len(y) > 0; y = y[min(block, len(y)):] {
		lo, hi := extremes(y[:min(block, len(y))])
		s.lo, s.hi = append(s.lo, lo), append(s.hi, hi)
		s.least, s.most = math.Min(s.least, lo), math.Max(s.most, hi)
	}
	return s
}

// extremes returns the least and greatest ordinate of samples [from, to).
func (s *Series) extremes(from, to int) (lo, hi float64) {
	lo, hi = s.raw(from, to)
	lo, hi = s.convert(lo), s.convert(hi)
	return math.Min(lo, hi), math.Max(lo, hi)
}

func (s *Series) raw(from, to int) (lo, hi float64) {
	if s.Summary != nil && from == 0 && to == len(s.Y) {
		return s.Summary.least, s.Summary.most
	}
	first, last := (from+block-1)/block, to/block
	if s.Summary == nil || first >= last || last > len(s.Summary.lo) {
		return extremes(s.Y[from:to])
	}
	lo, hi = extremes(s.Y[from : first*block])
	a, b := extremes(s.Y[last*block : to])
	lo, hi = math.Min(lo, a), math.Max(hi, b)
	for k := first; k < last; k++ {
		lo, hi = math.Min(lo, s.Summary.lo[k]), math.Max(hi, s.Summary.hi[k])
	}
	return lo, hi
}
