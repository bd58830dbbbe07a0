package motion

import (
	"math"

	"eha/strokewise/ident/trace"
)

// resting finds holding for at least 1.5 s and pressing for at least 0.5 s.
func (w *finder) resting() {
	for _, s := range w.m.Segments {
		switch long := w.seconds(s.Span); {
		case s.Kind == Rest && long >= 1.5:
			w.add(Hold, s.Span)
		case s.Kind == Pressing && long >= 0.5:
			w.add(PressHold, s.Span)
		}
	}
}

// What a jog is: so long (s), with a rest (s) of so much before and after it, and no
// faster than a quarter of top speed, or half as fast again as the slowest steady travel
// that is none.
const (
	jogLeast, jogMost = 0.06, 1.0
	jogRest           = 0.2
	jogSpeed          = 0.25
	jogOverSlowest    = 1.5
)

// jogs finds series of two and more short slow taps with rests between. A loop that
// settles or hunts makes such taps too, so that a closed loop shows none.
func (w *finder) jogs() {
	if w.demand != nil {
		return
	}
	var series []trace.Span
	fastest := 0.0
	slowest := w.slowestTravel()
	end := func() {
		if len(series) >= 2 && fastest <= max(jogSpeed*w.top, jogOverSlowest*slowest) {
			w.add(Jog, series...)
		}
		series, fastest = nil, 0
	}
	segments := w.m.Segments
	for i := 0; i < len(segments); {
		j := w.nextRest(i)
		if j < 0 || !w.isTap(segments[i:j+1]) {
			end()
			i++
			continue
		}
		tap := trace.Span{From: segments[i].Span.To, To: segments[j].Span.From}
		series = append(series, tap)
		fastest = max(fastest, w.peak(tap))
		i = j
	}
	end()
}

// nextRest returns the next rest after segment i, which must be one itself with no gap up
// to there; else -1.
func (w *finder) nextRest(i int) int {
	segments := w.m.Segments
	if segments[i].Kind != Rest {
		return -1
	}
	for j := i + 1; j < len(segments); j++ {
		if segments[j].Kind == Rest {
			if contiguous(segments[i : j+1]) {
				return j
			}
			return -1
		}
	}
	return -1
}

// isTap reports whether the segments from one rest to the next are a short tap.
func (w *finder) isTap(parts []Segment) bool {
	n := len(parts) - 1
	tap := trace.Span{From: parts[0].Span.To, To: parts[n].Span.From}
	long := w.seconds(tap)
	for _, s := range parts {
		if s.Kind == Pressing {
			return false
		}
	}
	return long >= jogLeast && long <= jogMost && min(w.seconds(parts[0].Span), w.seconds(parts[n].Span)) >= jogRest && !w.nearExcitation(tap)
}

// slowestTravel returns the slowest steady speed that lasts longer than a jog, 0 of none;
// in a log of nothing else every tap is slow.
func (w *finder) slowestTravel() float64 {
	slowest := math.Inf(1)
	for _, s := range w.m.Segments {
		if s.Kind == Steady && w.seconds(s.Span) > jogMost {
			slowest = min(slowest, math.Abs(s.MotorSpeed))
		}
	}
	return slowest
}

// peak returns the largest motor speed over the span (rad/s).
func (w *finder) peak(s trace.Span) float64 {
	top := 0.0
	for k := s.From / w.step; k < min(s.To/w.step, len(w.motor)); k++ {
		top = max(top, math.Abs(w.motor[k]))
	}
	return top
}

// nearExcitation reports whether the span lies within half a second of periodic excitation.
func (w *finder) nearExcitation(s trace.Span) bool {
	near := int(0.5/w.dt) * w.step
	for _, p := range w.m.Periodic {
		if s.From < p.Extent.To+near && s.To > p.Extent.From-near {
			return true
		}
	}
	return false
}
