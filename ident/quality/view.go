package quality

import (
	"math"

	"eha/strokewise/ident/drive"
	"eha/strokewise/ident/machine"
	"eha/strokewise/ident/motion"
	"eha/strokewise/ident/trace"
)

// frameTime (s) is the length of the frames whose means the checks compare. A mean
// over a frame is the same filter for every channel, so relations between channels
// hold for differences of means as they do for samples; and a log of 600,000 rows
// becomes some 30,000 frames.
const frameTime = 0.02

// view is one log as the checks see it.
type view struct {
	r      *trace.Reading
	t      *trace.Trace
	m      *machine.Machine
	motion *motion.Motion
	step   int          // samples in a frame
	dt     float64      // s, of a frame
	good   []bool       // the frame and the next hold no filler
	frame  [][]float64  // means by channel, nil where the log lacks it
	bound  [][2]float64 // extremes of the samples by channel
	kind   []motion.Kind
	wiring wiring
	agreed *wiring // what all logs together say, where this one alone is not to be believed
	clocks clocks  // once findClocks has run
	orders map[trace.Channel]orderLine
	fitted *drive.Result // once drive has run
	// unshifted are the means over fine frames by channel, once they have been asked for.
	unshifted [][]float64
}

func newView(r *trace.Reading, m *machine.Machine) *view {
	t := r.Trace
	v := &view{r: r, t: t, m: m, motion: motion.Find(t), orders: map[trace.Channel]orderLine{}}
	v.step = max(1, int(math.Round(frameTime/t.Period())))
	v.dt = float64(v.step) * t.Period()
	count := t.Len() / v.step
	v.frame = make([][]float64, len(trace.Channels())+1)
	v.bound = make([][2]float64, len(v.frame))
	for _, c := range t.Channels() {
		y, _ := t.Samples(c)
		v.frame[c] = means(y, v.step, count)
		low, high := extremes(y)
		v.bound[c] = [2]float64{low, high}
	}
	v.good = make([]bool, count)
	for k := range v.good {
		v.good[k] = k+1 < count
	}
	for _, g := range t.Gaps() {
		v.leaveOut(g)
	}
	v.kind = make([]motion.Kind, count)
	for k := range v.kind {
		v.kind[k] = motion.Accelerating
	}
	for _, s := range v.motion.Segments {
		for k := (s.Span.From + v.step - 1) / v.step; k < min(s.Span.To/v.step, count); k++ {
			v.kind[k] = s.Kind
		}
	}
	return v
}

// leaveOut keeps the checks from the frames that a stretch touches, and from changes into it.
func (v *view) leaveOut(s trace.Span) {
	for k := max(0, s.From/v.step-1); k <= (s.To-1)/v.step && k < len(v.good); k++ {
		v.good[k] = false
	}
}

func means(y []float64, step, count int) []float64 {
	out := make([]float64, count)
	for k := range out {
		var sum float64
		for _, s := range y[k*step : (k+1)*step] {
			sum += s
		}
		out[k] = sum / float64(step)
	}
	return out
}

// has reports whether the log holds all of the channels, dead ones left out.
func (v *view) has(channels ...trace.Channel) bool {
	for _, c := range channels {
		if v.frame[c] == nil {
			return false
		}
	}
	return true
}

// samples returns the samples of a channel, unless it is dead.
func (v *view) samples(c trace.Channel) ([]float64, bool) {
	if v.frame[c] == nil {
		return nil, false
	}
	return v.t.Samples(c)
}

// drop leaves a dead channel out of all further checks.
func (v *view) drop(c trace.Channel) { v.frame[c] = nil }

// change returns the difference of the channel from frame to frame, 0 where it
// means nothing; nil where the log lacks the channel.
func (v *view) change(c trace.Channel) []float64 {
	y := v.frame[c]
	if y == nil {
		return nil
	}
	return differences(y, v.good)
}

func differences(y []float64, good []bool) []float64 {
	d := make([]float64, len(y))
	for k := range d {
		if good[k] {
			d[k] = y[k+1] - y[k]
		}
	}
	return d
}

// motorSpeed returns the frames' motor speed (rad/s): from the encoder, else as
// the drive reports it. It is nil where the log has neither.
func (v *view) motorSpeed() []float64 {
	d := v.change(trace.MotorPosition)
	if d == nil {
		return v.frame[trace.MotorSpeed]
	}
	for k := range d {
		d[k] /= v.dt
	}
	return d
}

// correlation is Σ a·b over the root of Σ a² Σ b², over the frames where use holds
// (all where it is nil); 0 where one of them is all zero. Means are not taken out:
// the signals are changes and speeds, for which zero has a meaning.
func correlation(a, b []float64, use []bool) float64 {
	var ab, aa, bb float64
	for k := range a {
		if use == nil || use[k] {
			ab += a[k] * b[k]
			aa += a[k] * a[k]
			bb += b[k] * b[k]
		}
	}
	if aa == 0 || bb == 0 {
		return 0
	}
	return ab / math.Sqrt(aa*bb)
}

// quantile returns the q quantile of the values, 0 of none.
func quantile(values []float64, q float64) float64 { return motion.Quantile(values, q) }

func median(values []float64) float64 { return quantile(values, 0.5) }

func mean(values []float64) float64 {
	var sum float64
	for _, y := range values {
		sum += y
	}
	return sum / float64(max(len(values), 1))
}

// extremes returns the smallest and the largest value, 0 of none. It compares by
// hand: min and max cost several times as much for their care about NaN.
func extremes(y []float64) (low, high float64) {
	if len(y) == 0 {
		return 0, 0
	}
	low, high = y[0], y[0]
	for _, s := range y {
		if s < low {
			low = s
		}
		if s > high {
			high = s
		}
	}
	return low, high
}

// bounds returns the extremes of a channel's samples.
func (v *view) bounds(c trace.Channel) (low, high float64) { return v.bound[c][0], v.bound[c][1] }
