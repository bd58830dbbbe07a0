package motion

import (
	"math"

	"eha/strokewise/ident/trace"
)

// frameTime is the length (s) of the frames in which a log is cut up: the mean
// speed over a frame is the difference of two encoder readings, exact and without
// a filter, and 20 ms is short against MinSteady.
const frameTime = 0.02

// frames holds means over successive frames of a log. Slices of channels that
// the log lacks are nil.
type frames struct {
	step             int     // samples in a frame
	dt               float64 // s, of a frame
	motor            []float64
	place            []float64 // m, of the rod
	rod              []float64 // m/s, over five frames
	capSide, rodSide []float64 // Pa
	force            []float64 // N, load cell
	broken           []bool    // touches a gap
	begins           []bool    // a run of steady travel begins here
	top              float64   // rad/s, TopSpeed
	noise            float64   // rad/s, of motor from frame to frame when nothing happens
	motorKnown       bool
}

func newFrames(t *trace.Trace) *frames {
	step := max(2, int(math.Round(frameTime/t.Period())))
	count := (t.Len() - 1) / step
	f := &frames{step: step, dt: float64(step) * t.Period(), broken: make([]bool, count), begins: make([]bool, count+1), motorKnown: true}
	for _, g := range t.Gaps() {
		// The frame's difference uses the first sample of the next one.
		for k := max(0, (g.From-1)/step); k <= (g.To-1)/step && k < count; k++ {
			f.broken[k] = true
		}
	}
	if x, ok := t.Samples(trace.RodPosition); ok {
		f.place = f.means(x)
		f.rod = f.wideSlope(f.place)
	}
	f.motor = f.motorSpeed(t)
	for c, to := range map[trace.Channel]*[]float64{trace.CapPressure: &f.capSide, trace.RodPressure: &f.rodSide, trace.Force: &f.force} {
		if p, ok := t.Samples(c); ok {
			*to = f.means(p)
		}
	}
	f.top, f.noise = f.scale(t)
	return f
}

func (f *frames) motorSpeed(t *trace.Trace) []float64 {
	if theta, ok := t.Samples(trace.MotorPosition); ok {
		return f.rate(theta)
	}
	for _, c := range []trace.Channel{trace.MotorSpeed, trace.SpeedCommand} {
		if s, ok := t.Samples(c); ok {
			return f.means(s)
		}
	}
	f.motorKnown = false
	if f.rod != nil {
		return f.rod
	}
	return make([]float64, len(f.broken))
}

// rate returns the mean rate of y over each frame.
func (f *frames) rate(y []float64) []float64 {
	out := make([]float64, len(f.broken))
	for k := range out {
		out[k] = (y[(k+1)*f.step] - y[k*f.step]) / f.dt
	}
	return out
}

func (f *frames) means(y []float64) []float64 {
	out := make([]float64, len(f.broken))
	for k := range out {
		var sum float64
		for _, v := range y[k*f.step : (k+1)*f.step] {
			sum += v
		}
		out[k] = sum / float64(f.step)
	}
	return out
}

// wideSlope differentiates frame means over four frames, fewer at the ends and
// at gaps.
func (f *frames) wideSlope(mean []float64) []float64 {
	out := make([]float64, len(mean))
	for k := range out {
		a, b := k, k
		for a > 0 && k-a < 2 && !f.broken[a-1] {
			a--
		}
		for b+1 < len(mean) && b-k < 2 && !f.broken[b+1] {
			b++
		}
		if b > a && !f.broken[k] {
			out[k] = (mean[b] - mean[a]) / (float64(b-a) * f.dt)
		}
	}
	return out
}

// scale returns the top speed and the noise of the frame speeds. The noise is
// taken from the quieter third of the frame-to-frame changes: at least that part
// of any log is rest or steady travel; for a normal distribution the 30 % point of
// |change| is 0.385·√2 of one standard deviation. The encoder's step bounds it from below.
func (f *frames) scale(t *trace.Trace) (top, noise float64) {
	var size, change []float64
	for k, n := range f.motor {
		if f.broken[k] {
			continue
		}
		size = append(size, math.Abs(n))
		if k > 0 && !f.broken[k-1] {
			change = append(change, math.Abs(n-f.motor[k-1]))
		}
	}
	top = Quantile(size, 0.999)
	noise = Quantile(change, 0.3) / (0.385 * math.Sqrt2)
	if theta, ok := t.Samples(trace.MotorPosition); ok {
		noise = max(noise, quantum(theta)/f.dt)
	}
	return top, min(noise, 0.01*top)
}

// quantum returns the smallest change between neighbouring samples that is not
// zero, over the first part of the slice: the step of a digital reading. Steps
// below a millionth of the range are rounding.
func quantum(y []float64) float64 {
	y = y[:min(len(y), 100000)]
	floor, least := spread(y)*1e-7, math.Inf(1)
	for i := 1; i < len(y); i++ {
		if d := math.Abs(y[i] - y[i-1]); d > floor && d < least {
			least = d
		}
	}
	if math.IsInf(least, 1) {
		return 0
	}
	return least
}

// Quantile returns the q quantile of the values (0 smallest, 1 largest), 0 of none. The
// values are not changed; the cost is proportional to their number.
func Quantile(values []float64, q float64) float64 {
	if len(values) == 0 {
		return 0
	}
	s := append([]float64(nil), values...)
	return selected(s, min(len(s)-1, int(q*float64(len(s)))))
}

// selected returns the k-th smallest of s by quickselect, median of three as pivot
// (C. A. R. Hoare, "Algorithm 65: find", Comm. ACM 4, 1961). It reorders s.
func selected(s []float64, k int) float64 {
	low, high := 0, len(s)-1
	for low < high {
		a, b, c := s[low], s[(low+high)/2], s[high]
		pivot := max(min(a, b), min(max(a, b), c))
		i, j := low, high
		for i <= j {
			for s[i] < pivot {
				i++
			}
			for s[j] > pivot {
				j--
			}
			if i <= j {
				s[i], s[j] = s[j], s[i]
				i++
				j--
			}
		}
		switch {
		case k <= j:
			high = j
		case k >= i:
			low = i
		default:
			return s[k]
		}
	}
	return s[k]
}
