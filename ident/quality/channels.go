package quality

import (
	"fmt"
	"math"

	"eha/strokewise/ident/motion"
	"eha/strokewise/ident/plant"
	"eha/strokewise/ident/trace"
)

// measured are the channels that a sensor gives, whose faults flat, clipped and noisy are about.
var measured = []trace.Channel{trace.RodPosition, trace.CapPressure, trace.RodPressure, trace.Force, trace.MotorPosition, trace.MotorCurrent, trace.MotorTorque}

// channels describes what the log holds.
func (v *view) channels() []Channel {
	var all []Channel
	for _, c := range v.t.Channels() {
		d := Channel{Log: v.t.Name(), Channel: c, Step: v.r.Resolution[c], Noise: v.restNoise(c), Sure: 1}
		d.Low, d.High = v.bounds(c)
		if l := v.clocks.of[c]; l.told() {
			d.Lag, d.LagWidth = l.value, l.width
		} else {
			d.LagUntold = v.clocks.why[c]
		}
		d.Order, d.OrderSize = v.orders[c].order, v.orders[c].amplitude
		for _, g := range v.r.Guesses {
			if g.Channel == c && !g.Asked {
				d.Column, d.Unit, d.Sure, d.Why = g.Column, g.Unit, g.Sure, g.Why
			}
		}
		all = append(all, d)
	}
	return all
}

// noMotion tells whether the machine moved at all: a tenth of a turn, or a hundred
// steps of the transducer.
func (v *view) noMotion() (Finding, bool) {
	moved, turned := false, false
	if x, ok := v.samples(trace.RodPosition); ok {
		low, high := v.bounds(trace.RodPosition)
		moved = high-low > max(100*v.r.Resolution[trace.RodPosition], 20*v.quickNoise(x), 1e-4)
	}
	for _, c := range []trace.Channel{trace.MotorPosition, trace.MotorSpeed, trace.SpeedCommand} {
		if v.has(c) {
			low, high := v.bounds(c)
			turned = turned || high-low > 0.6
		}
	}
	if moved || turned {
		return Finding{}, false
	}
	return v.finding(NoMotion, Stop, trace.NoChannel, plant.Params(), "nothing moves in this log.", "Log a move: slow_strokes is the first to try."), true
}

// quickNoise is the noise of samples by their second differences, of which most
// of any log's are noise alone; for white noise σ the second difference has σ·√6.
func (v *view) quickNoise(y []float64) float64 {
	var d []float64
	every := max(1, len(y)/20000)
	for i := 1; i+1 < len(y); i += every {
		d = append(d, math.Abs(y[i+1]-2*y[i]+y[i-1]))
	}
	return median(d) / (0.6745 * math.Sqrt(6))
}

// flat finds channels that do not move though they must: for the whole of the
// log, or stuck on one value for a time while the motor turns. Those that are dead for
// the whole of the log are dropped.
func (v *view) flat() []Finding {
	var found []Finding
	for _, c := range measured {
		y, ok := v.samples(c)
		if !ok {
			continue
		}
		low, high := v.bounds(c)
		noise := v.quickNoise(y)
		if dead := high == low || v.travels() && v.onlyNoise(c, noise) && v.nearZero(c) && v.mustChange(c); dead && c != trace.Force {
			severity := Harm
			if c == trace.RodPosition || c == trace.MotorPosition {
				severity = Stop
			}
			found = append(found, v.finding(Flat, severity, c, v.affectedBy(c),
				fmt.Sprintf("%s shows nothing: it stays at %s while the machine moves.", c.Words(), inUnit(c, (low+high)/2)),
				"Check sensor, plug, supply and the recorder's channel."))
			v.drop(c)
			continue
		}
		found = append(found, v.stuck(c, y)...)
	}
	return found
}

// travels reports whether the log holds enough travel for every sensor to show
// something: a quarter of the stroke, or a decimetre where that is not known.
func (v *view) travels() bool {
	x := v.frame[trace.RodPosition]
	if x == nil {
		return false
	}
	low, high := extremes(x)
	if v.m.Cylinder.Stroke > 0 {
		return high-low > v.m.Cylinder.Stroke/4
	}
	return high-low > 0.1
}

// nearZero reports whether a pressure reads about nothing, as a dead sensor does; the
// low side under a noisy sensor shows nothing either, but the reservoir's pressure. Of
// other channels it is not asked.
func (v *view) nearZero(c trace.Channel) bool {
	return c != trace.CapPressure && c != trace.RodPressure || math.Abs(mean(v.frame[c])) < 0.08e5
}

// mustChange reports whether the log holds what no current or torque stays level in: changes of
// speed. In a short log of steady travel a sound one is as level as a dead one.
func (v *view) mustChange(c trace.Channel) bool {
	if c != trace.MotorCurrent && c != trace.MotorTorque {
		return true
	}
	changing := 0
	for _, k := range v.kind {
		if k == motion.Accelerating {
			changing++
		}
	}
	return float64(changing)*v.dt > 0.1
}

// onlyNoise reports whether a channel's frame means scatter no more than white
// noise of its samples would: factor two for noise that is not quite white.
func (v *view) onlyNoise(c trace.Channel, noise float64) bool {
	f := v.frame[c]
	m := mean(f)
	var sum float64
	for _, y := range f {
		sum += (y - m) * (y - m)
	}
	return math.Sqrt(sum/float64(len(f))) < 2*max(noise, 0.3*v.r.Resolution[c])/math.Sqrt(float64(v.step))
}

// stuck finds runs of one value, not at a rail, for at least 0.3 s while the motor
// makes at least half a turn. A low pressure with coarse steps may well stand, and
// so may a position while pressing, so a channel is only stuck if its
// samples differ from their neighbours at most other times.
func (v *view) stuck(c trace.Channel, y []float64) []Finding {
	theta, ok := v.samples(trace.MotorPosition)
	if !ok || c == trace.MotorPosition {
		return nil
	}
	changing := 0
	for i := 1; i < len(y); i++ {
		if y[i] != y[i-1] {
			changing++
		}
	}
	if 2*changing < len(y) {
		return nil
	}
	low, high := v.bounds(c)
	var found []Finding
	least := max(10, int(0.3/v.t.Period()))
	for _, part := range motion.Stretches(v.t, least) {
		for i := part.From; i < part.To; {
			from := i
			for i < part.To && y[i] == y[from] {
				i++
			}
			if i-from < least || math.Abs(theta[i-1]-theta[from]) < math.Pi || y[from] == low || y[from] == high || len(found) >= maxEach {
				continue
			}
			f := v.finding(Flat, Harm, c, v.affectedBy(c),
				fmt.Sprintf("%s stays at %s exactly from %.3f to %.3f s while the motor turns.", c.Words(), inUnit(c, y[from]), v.t.TimeAt(from), v.t.TimeAt(i-1)),
				"Check sensor, plug and recorder; leave this part of the log out.")
			f.From, f.To = v.t.TimeAt(from), v.t.TimeAt(i-1)
			found = append(found, f)
		}
	}
	return found
}

// affectedBy lists what is found from a channel.
func (v *view) affectedBy(c trace.Channel) []plant.Param {
	switch c {
	case trace.RodPosition, trace.MotorPosition:
		return join(strokeParams, forceParams, waveParams, oilParams)
	case trace.CapPressure, trace.RodPressure, trace.Force:
		return join([]plant.Param{plant.Slip}, forceParams, oilParams, waveParams)
	}
	return nil
}

// clipped finds rails: a rail cuts a channel off, so its extreme is taken exactly and
// far more often than each of the next few readings inside it. Without a rail the
// extreme is the rarest reading of all.
func (v *view) clipped() []Finding {
	var found []Finding
	for _, c := range []trace.Channel{trace.RodPosition, trace.CapPressure, trace.RodPressure, trace.Force} {
		y, ok := v.samples(c)
		if !ok {
			continue
		}
		low, high := v.bounds(c)
		for _, rail := range []struct{ at, inward float64 }{{low, 1}, {high, -1}} {
			if f, ok := v.rail(c, y, rail.at, rail.inward); ok && high > low {
				found = append(found, f)
			}
		}
	}
	return found
}

// The least number of samples at a rail, and how many times the count of the
// next readings they must make (common practice, no source).
const (
	leastAtRail = 25
	railRatio   = 4
	railLevels  = 5
)

func (v *view) rail(c trace.Channel, y []float64, rail, inward float64) (Finding, bool) {
	step := v.r.Resolution[c]
	if step == 0 {
		step = math.Max(v.quickNoise(y)/4, 1e-9)
	}
	var count [railLevels + 1]int
	first, last := -1, 0
	for i, s := range y {
		// Compared before it is an integer: a wild reading is too far for one.
		if level := (s-rail)*inward/step + 0.5; level >= 0 && level < railLevels+1 {
			count[int(level)]++
			if level < 1 {
				last = i
				if first < 0 {
					first = i
				}
			}
		}
	}
	next := 0
	for _, n := range count[1:] {
		next = max(next, n)
	}
	if count[0] < leastAtRail || count[0] < railRatio*next || 10*count[0] > 9*len(y) {
		return Finding{}, false
	}
	if c == trace.RodPosition && !v.drivenOn(y, rail) {
		return Finding{}, false
	}
	f := v.finding(Clipped, Harm, c, v.affectedBy(c),
		fmt.Sprintf("%s stands exactly at %s for %.2f s in all: the sensor or its input is at its end.", c.Words(), inUnit(c, rail), float64(count[0])*v.t.Period()),
		"Use a sensor or an input range that reaches further, or a smaller move.")
	f.From, f.To = v.t.TimeAt(first), v.t.TimeAt(last)
	return f, true
}

// drivenOn reports whether the motor turns on by half a turn and by four steps of the
// transducer while the rod position stands at the rail; a rod at rest at the end of its travel
// stands there as well, and steps stand for a while anywhere.
func (v *view) drivenOn(x []float64, rail float64) bool {
	theta, ok := v.samples(trace.MotorPosition)
	if !ok {
		return true
	}
	least := math.Pi
	if s := v.motion.StrokePerTurn; s > 0 {
		least = math.Max(least, 4*v.r.Resolution[trace.RodPosition]/s)
	}
	slow := 0.05 * v.motion.TopSpeed // less may be a motor that holds the rod against slip
	n := motion.Slope(v.t, theta, motion.MotorHalf)
	for i := 0; i < len(x); i++ {
		var at, low, high float64
		for ; i < len(x) && x[i] == rail; i++ {
			if math.Abs(n[i]) > slow {
				at += n[i] * v.t.Period()
			}
			low, high = math.Min(low, at), math.Max(high, at)
		}
		if high-low > least {
			return true
		}
	}
	return false
}
