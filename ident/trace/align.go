package trace

import (
	"math"

	"gonum.org/v1/gonum/dsp/fourier"
)

const (
	coarsePeriod = 0.02 // s, of the first search over all offsets
	changeOver   = 0.06 // s, over which the changes of a channel are taken
	leastOverlap = 1.0  // s
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

// candidate offset: where the changes of two recordings are alike.
type likely struct {
	offset   float64 // s, what to add to the second's time
	likeness float64 // correlation of the changes there
}

// likelyOffsets searches all offsets of two recordings and returns those at which
// the changes are most alike, the best first; none where nothing moves.
func likelyOffsets(a, b *Trace, on [2]Channel) []likely {
	const most = 6
	x, startA := changes(a, on[0], coarsePeriod)
	y, startB := changes(b, on[1], coarsePeriod)
	if len(x) < 2 || len(y) < 2 {
		return nil
	}
	r := correlations(x, y)
	var list []likely
	for k := range r {
		r[k] = math.Abs(r[k]) // a wrong sign is for the check to find
	}
	for len(list) < most {
		best := 0
		for k := range r {
			if r[k] > r[best] {
				best = k
			}
		}
		if r[best] == 0 {
			break
		}
		shift := float64(best-(len(y)-1)) * coarsePeriod
		list = append(list, likely{startA + shift - startB, r[best]})
		clearPeak(r, best)
	}
	return list
}

// clearPeak sets r to zero about a peak, to where it has once fallen to half.
func clearPeak(r []float64, at int) {
	half := 0.5 * r[at]
	for k := at - 1; k >= 0 && r[k] > half; k-- {
		r[k] = 0
	}
	for k := at; k < len(r) && r[k] > half; k++ {
		r[k] = 0
	}
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
	floor := leastShared * math.Min(sx[len(x)], sy[len(y)])
	r := make([]float64, len(x)+len(y)-1)
	for k := range r {
		shift := k - (len(y) - 1)
		from, to := max(0, shift), min(len(x), shift+len(y))
		if float64(to-from)*coarsePeriod < leastOverlap {
			continue
		}
		ex, ey := sx[to]-sx[from], sy[to-shift]-sy[from-shift]
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
