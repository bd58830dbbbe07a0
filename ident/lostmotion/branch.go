package lostmotion

import (
	"math"

	"eha/strokewise/ident/motion"
	"eha/strokewise/ident/plant"
	"eha/strokewise/ident/trace"
)

// branch is the straight line x = x0 + slope·(θ - θ0) through steady travel.
type branch struct {
	x0, theta0, slope float64
	turns             float64 // rad covered by the line
	p                 plant.PerChamber[float64]
	force             float64 // N; 0 without pressures
	middle            int     // sample amid the line
}

// reversal is steady travel one way and then the other.
type reversal struct{ before, after motion.Segment }

// leastSamples of a line.
const leastSamples = 8

// measure evaluates one reversal; false where it is too quick or too short.
func measure(t *trace.Trace, r reversal, known Known) (Place, bool) {
	theta, ok1 := t.Samples(trace.MotorPosition)
	x, ok2 := t.Samples(trace.RodPosition)
	if !ok1 || !ok2 || !slow(r, known) {
		return Place{}, false
	}
	keep := int(branchTime / t.Period())
	from := max(r.before.Span.From, r.before.Span.To-keep)
	turn := turningPoint(theta, r)
	to := min(r.after.Span.To, turn+keep)
	effective := withoutSlip(t, trace.Span{From: from, To: to}, known.Slip)
	at := func(i int) float64 { return delayed(effective, float64(i-from)-known.TransducerDelay/t.Period()) }
	before, okB := fitLine(t, x, at, trace.Span{From: (from + turn) / 2, To: r.before.Span.To}, known)
	after, okA := fitLine(t, x, at, trace.Span{From: (turn + to) / 2, To: to}, known)
	if !okA || !okB || before.slope <= 0 || after.slope <= 0 {
		return Place{}, false
	}
	direction := math.Copysign(1, r.after.MotorSpeed)
	turned := extreme(x, trace.Span{From: r.before.Span.To - 1, To: min(r.after.Span.From+keep/4, to)}, -direction, t.Period())
	lost := direction * (after.angleAt(turned) - before.angleAt(turned))
	covered := math.Abs(at(to-1) - at(turn))
	if lost > 0.4*covered || math.Min(before.turns, after.turns) < 0.1*covered {
		return Place{}, false // the line after the turn still held lost motion
	}
	place := Place{Position: turned, Before: before.force, After: after.force, Measured: lost, weight: covered, toMiddle: 1}
	place.Speed = (math.Abs(r.before.MotorSpeed) + math.Abs(r.after.MotorSpeed)) / 2
	place.start, place.end, place.direction = before.p, after.p, direction
	place.push = (before.p.Cap - before.p.Rod + after.p.Cap - after.p.Rod) / 2 * float64(after.middle-before.middle) * t.Period()
	if known.calculable() && before.p.Cap != before.p.Rod {
		place.Calculated = crossing(before.p, after.force, direction, turned, known)
	}
	return place, true
}

// slow reports whether both speeds are slow enough.
func slow(r reversal, known Known) bool {
	limit := known.MaxSpeed
	if limit <= 0 {
		limit = math.Inf(1)
	}
	return math.Max(math.Abs(r.before.MotorSpeed), math.Abs(r.after.MotorSpeed)) <= slowShare*limit
}

// turningPoint returns the sample at which the motor turns back.
func turningPoint(theta []float64, r reversal) int {
	direction := math.Copysign(1, r.before.MotorSpeed)
	best := r.before.Span.To - 1
	for i := best; i < r.after.Span.From+1 && i < len(theta); i++ {
		if direction*theta[i] > direction*theta[best] {
			best = i
		}
	}
	return best
}

// withoutSlip returns the motor angle over the span less what slipped since its
// start: θ - slip·∫(p_cap - p_rod) dt. Without pressures it is θ.
func withoutSlip(t *trace.Trace, s trace.Span, slip float64) []float64 {
	theta, _ := t.Samples(trace.MotorPosition)
	p1, ok1 := t.Samples(trace.CapPressure)
	p2, ok2 := t.Samples(trace.RodPressure)
	out := make([]float64, s.Len())
	lost := 0.0
	for i := range out {
		k := s.From + i
		if ok1 && ok2 && i > 0 {
			lost += slip * (p1[k] - p2[k] + p1[k-1] - p2[k-1]) / 2 * t.Period()
		}
		out[i] = theta[k] - lost
	}
	return out
}

// delayed returns y at a fractional index, the ends held.
func delayed(y []float64, at float64) float64 {
	at = math.Min(math.Max(at, 0), float64(len(y)-1))
	i := min(int(at), len(y)-2)
	return y[i] + (at-float64(i))*(y[i+1]-y[i])
}

// fitLine fits position over angle by least squares in the span and takes the
// mean pressures there.
func fitLine(t *trace.Trace, x []float64, theta func(int) float64, s trace.Span, known Known) (branch, bool) {
	if s.Len() < leastSamples {
		return branch{}, false
	}
	var b branch
	n := float64(s.Len())
	b.middle = (s.From + s.To) / 2
	for i := s.From; i < s.To; i++ {
		b.x0 += x[i] / n
		b.theta0 += theta(i) / n
	}
	var sxt, stt float64
	for i := s.From; i < s.To; i++ {
		d := theta(i) - b.theta0
		stt += d * d
		sxt += d * (x[i] - b.x0)
	}
	b.slope = sxt / stt
	b.turns = math.Abs(theta(s.To-1) - theta(s.From))
	p1, ok1 := t.Samples(trace.CapPressure)
	p2, ok2 := t.Samples(trace.RodPressure)
	if ok1 && ok2 {
		b.p.Cap, b.p.Rod = mean(p1[s.From:s.To]), mean(p2[s.From:s.To])
		b.force = known.Area.Cap*b.p.Cap - known.Area.Rod*b.p.Rod
	}
	return b, stt > 0
}

// angleAt returns the angle at which the line passes x.
func (b *branch) angleAt(x float64) float64 { return b.theta0 + (x-b.x0)/b.slope }

// extreme returns the largest of sign·x in the span, smoothed over some 10 ms.
func extreme(x []float64, s trace.Span, sign, period float64) float64 {
	half := int(math.Round(0.005 / period))
	best := math.Inf(-1)
	for i := max(s.From, half); i < s.To && i+half < len(x); i++ {
		best = math.Max(best, sign*mean(x[i-half:i+half+1]))
	}
	return sign * best
}

func mean(y []float64) float64 {
	s := 0.0
	for _, v := range y {
		s += v
	}
	return s / float64(len(y))
}
