package twin

import "math"

// Figures are what one closed-loop response shows. Times are in seconds,
// positions in mm or forces in kN, as the step was.
type Figures struct {
	Rise         float64 // 10 to 90 %, +Inf where not reached
	Settling     float64 // to 2 % of the step about the reference, +Inf where never
	Overshoot    float64 // share of the step
	FinalError   float64 // mean over the last half second, absolute
	Hunting      float64 // peak to peak over the last second less its drift
	PeakPressure float64 // bar, from the step on
	PeakSpeed    float64 // rpm, from the step on
	Stable       bool    // motion dies down
	Sticks       float64 // s, force steps only: until the rod has gone a tenth of its way
}

// sample is one controller period of a judged run.
type sample struct {
	t, value, rpm float64
	pressure      float64 // bar, the higher chamber
	contact       float64 // kN on the work piece
	x             float64 // mm
	byForce       bool    // the force loop gave the command
}

// figures reads a step response from from to to at time at (s) off the samples.
func figures(all []sample, at, from, to float64) Figures {
	f := Figures{Rise: math.Inf(1), Settling: math.Inf(1)}
	size := to - from
	share := func(s sample) float64 { return (s.value - from) / size }
	end := all[len(all)-1].t
	t10, t90, outside := math.NaN(), math.NaN(), at
	var tail []sample
	for i, s := range all {
		if s.t < at {
			continue
		}
		y := share(s)
		f.PeakPressure, f.PeakSpeed = math.Max(f.PeakPressure, s.pressure), math.Max(f.PeakSpeed, math.Abs(s.rpm))
		f.Overshoot = math.Max(f.Overshoot, y-1)
		if i > 0 {
			before := share(all[i-1])
			cross := func(level float64) float64 {
				return all[i-1].t + (s.t-all[i-1].t)*(level-before)/(y-before)
			}
			if math.IsNaN(t10) && y >= 0.1 && before < 0.1 {
				t10 = cross(0.1)
			}
			if math.IsNaN(t90) && y >= 0.9 && before < 0.9 {
				t90 = cross(0.9)
			}
		}
		if math.Abs(y-1) > 0.02 {
			outside = s.t
		}
		if s.t > end-1 {
			tail = append(tail, s)
		}
	}
	if !math.IsNaN(t90 - t10) {
		f.Rise = t90 - t10
	}
	if outside < end-0.3 {
		f.Settling = outside - at
	}
	f.FinalError, f.Hunting = tailFigures(tail, to)
	f.Stable = f.Hunting < 0.1*math.Abs(size)
	return f
}

// tailFigures returns the mean error over the second half of the tail and its
// peak to peak less a straight line.
func tailFigures(tail []sample, to float64) (final, hunting float64) {
	n := len(tail)
	if n < 4 {
		return math.Inf(1), math.Inf(1)
	}
	half := tail[n/2:]
	for _, s := range half {
		final += (s.value - to) / float64(len(half))
	}
	var st, sv, stt, stv float64
	for _, s := range tail {
		t := s.t - tail[0].t
		st, sv, stt, stv = st+t, sv+s.value, stt+t*t, stv+t*s.value
	}
	k := float64(n)
	slope := (k*stv - st*sv) / (k*stt - st*st)
	low, high := math.Inf(1), math.Inf(-1)
	for _, s := range tail {
		d := s.value - slope*(s.t-tail[0].t)
		low, high = math.Min(low, d), math.Max(high, d)
	}
	return math.Abs(final), high - low
}
