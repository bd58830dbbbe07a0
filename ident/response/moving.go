package response

import (
	"math"

	"eha/strokewise/ident/motion"
	"eha/strokewise/ident/plant"
	"eha/strokewise/ident/spectral"
	"eha/strokewise/ident/trace"
)

const (
	// segmentTime (s) is the length of a segment: its inverse is the resolution, and
	// a rod passes a third of its stroke in not much more.
	segmentTime = 1.0
	// frameTime (s) is the length of the pieces over which the motor's direction is judged.
	frameTime = 0.02
	// leastSpeed is the share of the top speed above which the rod keeps sliding.
	leastSpeed = 0.02
	// leastChange is the standard deviation of the motor speed over its mean from
	// which a segment excites anything.
	leastChange = 0.05
	// thirds of the travel are kept apart, for the resonance moves along the stroke.
	thirds = 3
)

// quadrant is what responses are never averaged over.
type quadrant struct {
	direction plant.Direction
	chamber   plant.Chamber
	third     int
}

// moving measures the rod and the pressures against the motor angle while the rod
// travels one way with changing speed: friction is then a constant that no
// response sees. The instrument is the position command in closed loop, else the
// speed command.
func moving(l Log) []plant.FrequencyResponse {
	t := l.Trace
	r, ok := t.Samples(instrumentOf(t))
	if !ok || !t.Has(trace.MotorPosition, trace.RodPosition) {
		return nil
	}
	n := segmentLength(t)
	spans := oneWay(l, n)
	theta, _ := t.Samples(trace.MotorPosition)
	var out []plant.FrequencyResponse
	for _, pr := range rodPairs {
		y, ok := t.Samples(pr.to)
		if !ok {
			continue
		}
		for _, q := range quadrants {
			for _, f := range measureMoving(t, pr, spans[q], n, r, theta, y) {
				f.Directed, f.Direction = true, q.direction
				out = append(out, f)
			}
		}
	}
	return out
}

// quadrants are all there are, in a fixed order.
var quadrants = func() (all []quadrant) {
	for _, d := range []plant.Direction{plant.Extend, plant.Retract} {
		for _, c := range []plant.Chamber{plant.Cap, plant.Rod} {
			for third := range thirds {
				all = append(all, quadrant{d, c, third})
			}
		}
	}
	return all
}()

// measureMoving averages over the spans of n samples. Angle and position are taken
// as differences from sample to sample: their travel would leak into every line.
func measureMoving(t *trace.Trace, pr pair, spans []trace.Span, n int, r, theta, y []float64) []plant.FrequencyResponse {
	a := spectral.NewAverager(n, t.Period(), 3)
	position := pr.to == trace.RodPosition
	for _, s := range spans {
		out := y[s.From:s.To]
		if position {
			out = differences(y, s)
		}
		a.Add(r[s.From:s.To], differences(theta, s), out)
	}
	got, err := a.Between(1, 2)
	if err != nil {
		return nil // too little travel in this quadrant
	}
	f := frame(t, pr, spans...)
	for k, omega := range got.Omega {
		if !position {
			// The input was a difference: 1 - e^(-jωT) times the angle.
			got.H[k] *= complex(1-math.Cos(omega*t.Period()), math.Sin(omega*t.Period()))
		}
	}
	return kept(f, got, a.Independent())
}

// differences returns y[i] - y[i-1] over the span, which does not begin at 0.
func differences(y []float64, s trace.Span) []float64 {
	out := make([]float64, s.Len())
	for i := range out {
		out[i] = y[s.From+i] - y[s.From+i-1]
	}
	return out
}

// oneWay returns the spans of n samples, half overlapping, in which the motor
// keeps its direction while its speed changes and one chamber carries.
func oneWay(l Log, n int) map[quadrant][]trace.Span {
	t := l.Trace
	theta, _ := t.Samples(trace.MotorPosition)
	x, _ := t.Samples(trace.RodPosition)
	low, high := x[0], x[0]
	for _, v := range x {
		low, high = math.Min(low, v), math.Max(high, v)
	}
	pressures := t.Has(trace.CapPressure, trace.RodPressure)
	step, least := max(1, int(frameTime/t.Period())), leastSpeed*l.Motion.TopSpeed*t.Period()
	found := map[quadrant][]trace.Span{}
	for _, part := range motion.Stretches(t, n+1) {
		for from := part.From + 1; from+n <= part.To; from += n / 2 {
			s := trace.Span{From: from, To: from + n}
			d, change, ok := direction(theta, s, step, least)
			if !ok || change < leastChange || excited(l.Motion, s) {
				continue
			}
			c, one := carrier(t, s)
			if pressures && !one {
				continue
			}
			third := min(int((mean(x[s.From:s.To])-low)/(high-low)*thirds), thirds-1)
			q := quadrant{d, c, third}
			found[q] = append(found[q], s)
		}
	}
	return found
}

// excited reports whether a periodic stretch touches the span; those are measured
// by themselves.
func excited(m *motion.Motion, s trace.Span) bool {
	for _, p := range m.Periodic {
		if p.Span.From < s.To && s.From < p.Span.To {
			return true
		}
	}
	return false
}

// direction returns the direction of the motor, the standard deviation of its speed
// over the mean, and whether it turns that way by more than least (rad) a sample in
// every frame of step samples.
func direction(theta []float64, s trace.Span, step int, least float64) (d plant.Direction, change float64, one bool) {
	d = plant.Extend
	if theta[s.To-1] < theta[s.From] {
		d = plant.Retract
	}
	var sum, squares, count float64
	for i := s.From; i+step < s.To; i += step {
		speed := d.Sign() * (theta[i+step] - theta[i]) / float64(step)
		if speed <= least {
			return d, 0, false
		}
		sum, squares, count = sum+speed, squares+speed*speed, count+1
	}
	if count == 0 {
		return d, 0, false
	}
	average := sum / count
	return d, math.Sqrt(math.Max(squares/count-average*average, 0)) / average, true
}
