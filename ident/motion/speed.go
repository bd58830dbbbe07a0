package motion

import (
	"math"

	"eha/strokewise/ident/trace"
)

// MotorHalf and RodHalf are usual half-windows (s) for Slope: the encoder is
// nearly exact, the transducer needs more smoothing.
const (
	MotorHalf = 0.005
	RodHalf   = 0.02
)

// MotorSpeed returns the motor speed (rad/s) at every sample: the slope of the
// encoder over ±MotorHalf, else the speed that the drive reports. The second
// result is false where the log holds neither.
func MotorSpeed(t *trace.Trace) ([]float64, bool) {
	if theta, ok := t.Samples(trace.MotorPosition); ok {
		return Slope(t, theta, MotorHalf), true
	}
	return t.Samples(trace.MotorSpeed)
}

// RodSpeed returns the rod speed (m/s) at every sample, the slope of the rod
// position over ±RodHalf, and whether the log holds the rod position.
func RodSpeed(t *trace.Trace) ([]float64, bool) {
	x, ok := t.Samples(trace.RodPosition)
	if !ok {
		return nil, false
	}
	return Slope(t, x, RodHalf), true
}

// Slope returns the slope (1/s) of y at every sample of t: that of the least
// squares straight line through the samples within ±half (s), at least one each
// side. Near gaps and ends the window shrinks, so no line crosses a gap; where
// fewer than two samples are left, and inside gaps, the slope is 0. It panics if
// len(y) is not t.Len().
func Slope(t *trace.Trace, y []float64, half float64) []float64 {
	if len(y) != t.Len() {
		panic("motion: slope: length differs from the trace")
	}
	w := max(1, int(math.Round(half/t.Period())))
	out := make([]float64, len(y))
	for _, s := range Stretches(t, 2) {
		slopeStretch(out[s.From:s.To], y[s.From:s.To], w, t.Period())
	}
	return out
}

// slopeStretch fills out by running sums about the stretch's first value, which
// keeps the sums small: sum0 = Σ y, sum1 = Σ k·y over the window's offsets k.
func slopeStretch(out, y []float64, w int, period float64) {
	n := len(y)
	if n <= 2*w {
		for i := range out {
			out[i] = edgeSlope(y, i, min(w, i, n-1-i), period)
		}
		return
	}
	base := y[0]
	var sum0, sum1 float64
	for k := -w; k <= w; k++ {
		sum0 += y[w+k] - base
		sum1 += float64(k) * (y[w+k] - base)
	}
	fw := float64(w)
	scale := 1 / (period * fw * (fw + 1) * (2*fw + 1) / 3) // Σ k² over ±w
	for i := w; ; i++ {
		out[i] = sum1 * scale
		if i+w+1 >= n {
			break
		}
		gone, come := y[i-w]-base, y[i+w+1]-base
		// Moving on by one lowers every offset by one: Σ k·y falls by Σ y, the
		// sample that leaves stood at -w, the one that comes stands at +w.
		sum1 += fw*gone - (sum0 - gone) + fw*come
		sum0 += come - gone
	}
	for i := range w {
		out[i] = edgeSlope(y, i, i, period)
		out[n-1-i] = edgeSlope(y, n-1-i, i, period)
	}
}

// edgeSlope is the slope over ±w samples about i, or to the next sample where w is 0.
func edgeSlope(y []float64, i, w int, period float64) float64 {
	if w == 0 {
		if i+1 < len(y) {
			return (y[i+1] - y[i]) / period
		}
		if i > 0 {
			return (y[i] - y[i-1]) / period
		}
		return 0
	}
	var num, den float64
	for k := 1; k <= w; k++ {
		num += float64(k) * (y[i+k] - y[i-k])
		den += 2 * float64(k*k)
	}
	return num / (den * period)
}

// Stretches returns the parts of the log between its gaps that hold at least
// least samples.
func Stretches(t *trace.Trace, least int) []trace.Span {
	var parts []trace.Span
	from := 0
	for _, g := range append(append([]trace.Span(nil), t.Gaps()...), trace.Span{From: t.Len(), To: t.Len()}) {
		if g.From-from >= least {
			parts = append(parts, trace.Span{From: from, To: g.From})
		}
		from = g.To
	}
	return parts
}
