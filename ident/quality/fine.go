package quality

import (
	"math"
	"slices"

	"eha/strokewise/ident/motion"
	"eha/strokewise/ident/plant"
	"eha/strokewise/ident/trace"
)

// fineFrames are means of all channels over frames shorter than those of a view.
type fineFrames struct {
	of [][]float64 // by channel, nil where the log lacks it
	dt float64
}

// fine makes frames of so many samples, the same number at every call; the channels in late are taken that much (s) later. It
// is nil without an encoder.
func (v *view) fine(step int, late map[trace.Channel]float64) *fineFrames {
	if !v.has(trace.MotorPosition) {
		return nil
	}
	count := v.t.Len() / step
	if v.unshifted == nil {
		v.unshifted = make([][]float64, len(v.frame))
		for _, c := range v.t.Channels() {
			if y, ok := v.samples(c); ok {
				v.unshifted[c] = means(y, step, count)
			}
		}
	}
	f := &fineFrames{of: slices.Clone(v.unshifted), dt: float64(step) * v.t.Period()}
	for c, shift := range late {
		if y, ok := v.samples(c); ok && shift != 0 {
			f.of[c] = shiftedMeans(y, step, count, shift/v.t.Period())
		}
	}
	return f
}

// shiftedMeans are means of y taken shift samples later, held at its ends.
func shiftedMeans(y []float64, step, count int, shift float64) []float64 {
	whole := int(math.Floor(shift))
	u := shift - float64(whole)
	at := func(i int) float64 { return y[min(max(i, 0), len(y)-1)] }
	out := make([]float64, count)
	for k := range out {
		// The mean of samples on straight lines between neighbours.
		sum := (1-u)*at(k*step+whole) + u*at((k+1)*step+whole)
		for i := k*step + 1; i < (k+1)*step; i++ {
			sum += at(i + whole)
		}
		out[k] = sum / float64(step)
	}
	return out
}

func (f *fineFrames) theta() []float64 { return f.of[trace.MotorPosition] }

// rate is the slope of y at frame k over one frame each side.
func (f *fineFrames) rate(y []float64, k int) float64 { return (y[k+1] - y[k-1]) / (2 * f.dt) }

// level is y at frame k, smoothed as rate smooths the slope.
func level(y []float64, k int) float64 { return (y[k-1] + 2*y[k] + y[k+1]) / 4 }

// integral is that of the smoothed y from the middle of frame k to that of frame k+w.
func (f *fineFrames) integral(y []float64, k, w int) float64 {
	sum := (level(y, k) + level(y, k+w)) / 2
	for j := k + 1; j < k+w; j++ {
		sum += level(y, j)
	}
	return sum * f.dt
}

// change is that of the smoothed y over the window.
func change(y []float64, k, w int) float64 { return level(y, k+w) - level(y, k) }

// skewStarts picks the windows: one direction of travel throughout, no filler, no
// pressing, and of those the ones in which the speed changes most.
func (v *view) skewStarts(f *fineFrames, count, w, step int) []int {
	blocked := v.blocked(count, step)
	theta := f.theta()
	slow := 0.03 * v.motion.TopSpeed * f.dt
	var starts []int
	var changes []float64
	for k := 1; k+w+1 < count; k += 2 {
		if blocked[k+w+2] > blocked[k-1] {
			continue
		}
		a, b := theta[k+1]-theta[k-1], theta[k+w+1]-theta[k+w-1]
		if a*b <= 0 || math.Min(math.Abs(a), math.Abs(b)) < 2*slow {
			continue
		}
		starts = append(starts, k)
		changes = append(changes, math.Abs(b-a))
	}
	if len(starts) <= skewWindows {
		return starts
	}
	limit := quantile(changes, 1-float64(skewWindows)/float64(len(starts)))
	var kept []int
	for i, k := range starts {
		if changes[i] >= limit {
			kept = append(kept, k)
		}
	}
	return kept
}

// blocked returns the running count of frames that hold filler, rest or pressing.
func (v *view) blocked(count, step int) []int {
	bad := make([]bool, count)
	mark := func(s trace.Span) {
		for k := s.From / step; k <= (s.To-1)/step && k < count; k++ {
			bad[k] = true
		}
	}
	for _, g := range v.t.Gaps() {
		mark(g)
	}
	for _, s := range v.motion.Segments {
		if s.Kind == motion.Pressing || s.Kind == motion.Rest {
			mark(s.Span)
		}
	}
	sum := make([]int, count+1)
	for k := range bad {
		sum[k+1] = sum[k]
		if bad[k] {
			sum[k+1]++
		}
	}
	return sum
}

func extendOrRetract(turned float64) plant.Direction {
	if turned < 0 {
		return plant.Retract
	}
	return plant.Extend
}
