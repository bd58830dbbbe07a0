package window

import (
	"math"

	"gonum.org/v1/gonum/floats"
)

// MinSamples is the least number of samples that a window may have: fewer do
// not carry the bump's derivatives.
const MinSamples = 24

// Slider places windows of one width at regular distances over a log and
// computes the inner products of samples with the bump.
type Slider struct {
	order  int
	n      int // samples of a window, ends included
	stride int
	count  int
	length int
	period float64
}

// NewSlider returns the windows of the given width (s) whose starts are stride
// (s) apart, over a log of length samples taken every period (s). The bump is
// phi = 4^q (s(1-s))^q with q = order; order 4 bears two derivatives well, 6
// bears four. A width below MinSamples samples is raised to it; a log shorter
// than one window gives no windows.
//
// It panics if width, stride or period is not positive or order is below 2.
func NewSlider(order int, width, stride, period float64, length int) *Slider {
	if !(width > 0 && stride > 0 && period > 0) || order < 2 {
		panic("window: NewSlider: width, stride and period must be positive and order at least 2")
	}
	s := &Slider{order: order, period: period, length: length}
	s.n = max(int(math.Round(width/period))+1, MinSamples)
	s.stride = max(int(math.Round(stride/period)), 1)
	if length >= s.n {
		s.count = (length-s.n)/s.stride + 1
	}
	return s
}

// Count returns the number of windows.
func (s *Slider) Count() int { return s.count }

// Samples returns the number of samples that a window covers.
func (s *Slider) Samples() int { return s.n }

// Stride returns the number of samples between the starts of neighbouring windows.
func (s *Slider) Stride() int { return s.stride }

// Period returns the sample period (s).
func (s *Slider) Period() float64 { return s.period }

// Noise returns the standard deviation of Slide(y, first) + factor·Slide(y, first+1)
// for white noise of one in y.
func (s *Slider) Noise(first int, factor float64) float64 {
	_, a := bump(s.order, first, s.n, s.period, 0)
	_, b := bump(s.order, first+1, s.n, s.period, 0)
	floats.AddScaled(a, factor, b)
	return floats.Norm(a, 2)
}

// Unit returns ∫ phi dt (s), what Slide gives for a constant of one.
func (s *Slider) Unit() float64 {
	_, weights := bump(s.order, 0, s.n, s.period, 0)
	return floats.Sum(weights)
}

// Start returns the first sample of window w.
func (s *Slider) Start(w int) int { return w * s.stride }

// Middle returns the middle sample of window w.
func (s *Slider) Middle(w int) int { return w*s.stride + s.n/2 }

// Slide returns ∫ phi·y⁽ᵏ⁾ dt for every window, k from 0 to MaxDerivative.
// It panics if y has not the length the slider was made for.
func (s *Slider) Slide(y []float64, k int) []float64 { return s.SlideAhead(y, k, 0) }

// SlideAhead returns ∫ phi(t)·y⁽ᵏ⁾(t + ahead) dt for every window: the same as
// Slide for the channel read ahead seconds later (earlier if negative), which
// takes a delay of that length out of the channel. The bump is shifted, not the
// samples, so any fraction of a sample is exact. Beyond the ends of the log the
// first and last sample stand.
func (s *Slider) SlideAhead(y []float64, k int, ahead float64) []float64 {
	if len(y) != s.length {
		panic("window: samples and slider differ in length")
	}
	out := make([]float64, s.count)
	if s.count == 0 {
		return out
	}
	first, weights := bump(s.order, k, s.n, s.period, ahead/s.period)
	for w := range out {
		from := w*s.stride + first
		if from >= 0 && from+len(weights) <= len(y) {
			out[w] = dot(weights, y[from:from+len(weights)])
			continue
		}
		for i, weight := range weights {
			out[w] += weight * y[min(max(from+i, 0), len(y)-1)]
		}
	}
	return out
}

// dot returns the sum of products in four partial sums, which lets the
// processor overlap them.
func dot(a, b []float64) float64 {
	b = b[:len(a)]
	var s0, s1, s2, s3 float64
	i := 0
	for ; i+4 <= len(a); i += 4 {
		s0 += a[i] * b[i]
		s1 += a[i+1] * b[i+1]
		s2 += a[i+2] * b[i+2]
		s3 += a[i+3] * b[i+3]
	}
	for ; i < len(a); i++ {
		s0 += a[i] * b[i]
	}
	return s0 + s1 + s2 + s3
}

// Pick returns the values of column at the given windows.
func Pick(column []float64, windows []int) []float64 {
	out := make([]float64, len(windows))
	for i, w := range windows {
		out[i] = column[w]
	}
	return out
}

// Rate returns the rate of change of y at every sample, as the difference of
// the means over the half (s) after and before it: a smoothed speed for telling
// motion from rest and one sign from the other, not for regressions.
func Rate(y []float64, period, half float64) []float64 {
	m := max(int(math.Round(half/period)), 1)
	sums := prefix(y)
	rate := make([]float64, len(y))
	for i := range y {
		from, to := max(i-m, 0), min(i+m, len(y)-1)
		if from == i || to == i {
			continue
		}
		before := (sums[i] - sums[from]) / float64(i-from)
		after := (sums[to+1] - sums[i+1]) / float64(to-i)
		rate[i] = (after - before) / (float64(to-from) / 2 * period) * float64(to-from) / float64(to-from+2)
	}
	if len(y) > 2 {
		rate[0], rate[len(y)-1] = rate[1], rate[len(y)-2]
	}
	return rate
}

// Smooth returns the mean of y over half (s) to both sides of every sample.
func Smooth(y []float64, period, half float64) []float64 {
	m := int(math.Round(half / period))
	sums := prefix(y)
	out := make([]float64, len(y))
	for i := range y {
		from, to := max(i-m, 0), min(i+m+1, len(y))
		out[i] = (sums[to] - sums[from]) / float64(to-from)
	}
	return out
}

// prefix returns the sums of the first i values of y, for i from 0 to len(y).
func prefix(y []float64) []float64 {
	sums := make([]float64, len(y)+1)
	for i, v := range y {
		sums[i+1] = sums[i] + v
	}
	return sums
}
