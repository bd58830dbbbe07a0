package trace

import (
	"math"

	"gonum.org/v1/gonum/dsp/fourier"
)

const (
	coarsePeriod = 0.02 // s, of the first search over all offsets
	changeOver   = 0.06 // s, over which the changes of a channel are taken
	leastOverlap = 1.0  // s
	windowLength = 2.0  // s, of a stretch that gives one lag
	mostWindows  = 60
)

// changes returns how much a channel changes over changeOver about each time of a
// grid of the given period, zero where a gap is near, and the time of the first (s).
func changes(t *Trace, c Channel, period float64) (out []float64, first float64) {
	x, _ := t.Samples(c)
	half := changeOver / 2 / t.Period()
	edge := math.Ceil(changeOver / 2 / period) // grid steps
	n := int(float64(len(x)-1)*t.Period()/period-2*edge) + 1
	out = make([]float64, max(n, 0))
	for i := range out {
		at := (edge + float64(i)) * period / t.Period()
		out[i] = smoothAt(x, at+half, half/2) - smoothAt(x, at-half, half/2)
	}
	for _, g := range t.Gaps() {
		from := (float64(g.From)-half)*t.Period()/period - edge
		to := (float64(g.To)+half)*t.Period()/period - edge + 1
		for i := max(int(from), 0); i < min(int(to), len(out)); i++ {
			out[i] = 0
		}
	}
	return out, t.TimeAt(0) + edge*period
}

// smoothAt averages x evenly over at ± half.
func smoothAt(x []float64, at, half float64) float64 {
	if half < 1 {
		return interpolateAt(x, at)
	}
	n := int(half)
	sum := 0.0
	for k := -n; k <= n; k++ {
		sum += interpolateAt(x, at+float64(k))
	}
	return sum / float64(2*n+1)
}

// coarseOffset searches all offsets of two recordings and returns the one (s, what
// to add to the second's time) at which the changes are most alike, the
// correlation there, and that of the best other peak.
func coarseOffset(a, b *Trace, on [2]Channel) (offset, likeness, rival float64) {
	x, startA := changes(a, on[0], coarsePeriod)
	y, startB := changes(b, on[1], coarsePeriod)
	if len(x) < 2 || len(y) < 2 {
		return 0, 0, 0
	}
	r := correlations(x, y)
	best := 0
	for k := range r {
		if math.Abs(r[k]) > math.Abs(r[best]) {
			best = k
		}
	}
	// Another offset counts as a rival beyond the width of the peak: where the
	// correlation has once fallen to half.
	low, high := best, best
	for low > 0 && math.Abs(r[low]) > 0.5*math.Abs(r[best]) {
		low--
	}
	for high < len(r)-1 && math.Abs(r[high]) > 0.5*math.Abs(r[best]) {
		high++
	}
	for k, v := range r {
		if k < low || k > high {
			rival = math.Max(rival, math.Abs(v))
		}
	}
	shift := float64(best-(len(y)-1)) * coarsePeriod
	return startA + shift - startB, math.Abs(r[best]), rival
}

// correlations returns the correlation of x and y for each shift of y, from
// -(len(y)-1) to len(x)-1, weighed down where little of the motion overlaps.
func correlations(x, y []float64) []float64 {
	n := 1
	for n < len(x)+len(y) {
		n *= 2
	}
	fft := fourier.NewFFT(n)
	fx := fft.Coefficients(nil, append(append([]float64(nil), x...), make([]float64, n-len(x))...))
	fy := fft.Coefficients(nil, append(append([]float64(nil), y...), make([]float64, n-len(y))...))
	for i := range fx {
		fx[i] *= complex(real(fy[i]), -imag(fy[i]))
	}
	c := fft.Sequence(nil, fx)
	sx, sy := sumSquares(x), sumSquares(y)
	floor := 0.3 * math.Min(sx[len(x)], sy[len(y)])
	r := make([]float64, len(x)+len(y)-1)
	for k := range r {
		shift := k - (len(y) - 1)
		from, to := max(0, shift), min(len(x), shift+len(y))
		if float64(to-from)*coarsePeriod < leastOverlap {
			continue
		}
		ex, ey := sx[to]-sx[from], sy[to-shift]-sy[from-shift]
		// Under a third of the motion overlapping, chance likeness is easily had.
		norm := math.Sqrt(math.Max(ex, floor) * math.Max(ey, floor))
		if norm > 0 {
			r[k] = c[(shift+n)%n] / float64(n) / norm
		}
	}
	return r
}

// sumSquares returns the running sums of squares, one longer than x.
func sumSquares(x []float64) []float64 {
	s := make([]float64, len(x)+1)
	for i, v := range x {
		s[i+1] = s[i] + v*v
	}
	return s
}

// lag is what one stretch of motion says of the clocks: what to add to the second
// recording's time (s), at which of its times (s), and the weight of that.
type lag struct{ time, lag, weight float64 }

// localLags finds the lag of each stretch of motion about a first offset.
func localLags(a, b *Trace, on [2]Channel, offset float64) []lag {
	period := math.Max(a.Period(), b.Period())
	x, startA := changes(a, on[0], period)
	y, startB := changes(b, on[1], period)
	length := int(windowLength / period)
	if length > len(y) {
		length = len(y)
	}
	stride := max(length, len(y)/mostWindows)
	energy := 0.0
	for _, v := range y {
		energy += v * v
	}
	energy *= float64(length) / float64(len(y))
	var lags []lag
	drift := 0.0
	for from := 0; from+length <= len(y); from += stride {
		w := y[from : from+length]
		start := startB + float64(from)*period
		// The lags found so far say where to look: clocks drift.
		if n := len(lags); n > 0 {
			drift = lags[n-1].lag - offset
		}
		shift := (start + offset + drift - startA) / period
		d, weight, ok := fineLag(x, w, shift, 2*coarsePeriod/period)
		if ok && weight > 0 && energyOf(w) > 0.05*energy {
			lags = append(lags, lag{start + float64(length)*period/2, offset + drift + d*period, weight})
		}
	}
	return lags
}

func energyOf(x []float64) float64 {
	sum := 0.0
	for _, v := range x {
		sum += v * v
	}
	return sum
}

// fineLag finds by Gauss-Newton steps the shift of x (samples, beyond the given
// one and no further from it than reach) at which g·x + c comes nearest to w, and
// the weight of the result: the inverse of its variance, up to a common factor.
func fineLag(x, w []float64, shift, reach float64) (d, weight float64, ok bool) {
	for range 20 {
		s := shift + d
		if s < 2 || s+float64(len(w)) > float64(len(x)-3) {
			return 0, 0, false
		}
		g, c, res := line(x, w, s)
		var num, den float64
		for i, v := range w {
			slope := g * (interpolateAt(x, s+float64(i)+1) - interpolateAt(x, s+float64(i)-1)) / 2
			num += slope * (v - g*interpolateAt(x, s+float64(i)) - c)
			den += slope * slope
		}
		if den == 0 {
			return 0, 0, false
		}
		step := num / den
		d += math.Max(-2, math.Min(2, step))
		weight = den / math.Max(res, 1e-12*den)
		if math.Abs(d) > reach {
			return 0, 0, false
		}
		if math.Abs(step) < 1e-4 {
			return d, weight, true
		}
	}
	return 0, 0, false
}

// line fits w = g·x + c at a shift and returns the mean square that is left.
func line(x, w []float64, shift float64) (g, c, rest float64) {
	n := float64(len(w))
	var sx, sw, sxx, sxw, sww float64
	for i, v := range w {
		u := interpolateAt(x, shift+float64(i))
		sx += u
		sw += v
		sxx += u * u
		sxw += u * v
		sww += v * v
	}
	d := sxx - sx*sx/n
	if d <= 0 {
		return 0, sw / n, sww / n
	}
	g = (sxw - sx*sw/n) / d
	c = (sw - g*sx) / n
	rest = math.Max(0, (sww-sw*sw/n-g*g*d)/n)
	return g, c, rest
}
