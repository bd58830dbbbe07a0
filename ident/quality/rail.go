package quality

import (
	"fmt"
	"math"

	"eha/strokewise/ident/motion"
	"eha/strokewise/ident/trace"
)

// clipped finds rails: a rail cuts a channel off, so its extreme is taken exactly and
// far more often than each of the next few readings inside it, and again and again in a row.
// Without a rail the extreme is the rarest reading of all.
func (v *view) clipped() []Finding {
	var found []Finding
	for _, c := range []trace.Channel{trace.RodPosition, trace.CapPressure, trace.RodPressure, trace.Force, trace.MotorCurrent, trace.MotorTorque} {
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

// The least number of samples at a rail, and how many times the count of the next readings they
// must make where noise shows, so that repeats tell, and where not (common practice, no source).
const (
	leastAtRail = 25
	noisyRatio  = 0.5
	railRatio   = 4
	railLevels  = 5
)

func (v *view) rail(c trace.Channel, y []float64, rail, inward float64) (Finding, bool) {
	noise := v.quickNoise(y)
	step := v.r.Resolution[c]
	if step == 0 {
		step = math.Max(noise/4, 1e-9)
	}
	l := levelsAt(y, rail, inward, step)
	if l.count[0] < leastAtRail || 10*l.count[0] > 9*len(y) {
		return Finding{}, false
	}
	next, inside, again := 0, 0, 0
	for k := 1; k <= railLevels; k++ {
		next, inside, again = max(next, l.count[k]), inside+l.count[k], again+l.again[k]
	}
	// A reading under noise repeats by chance; at a rail the noise is cut off.
	repeats, usual := float64(l.again[0])/float64(l.count[0]), float64(again)/float64(inside+leastAtRail)
	switch {
	case noise > step: // white noise of one step repeats in three of ten samples at rest
		n := float64(l.count[0])
		if n < noisyRatio*float64(next) || repeats < max(0.5, 2*usual) || repeats-usual < 6*math.Sqrt(usual*(1-usual)/n) {
			return Finding{}, false
		}
	case float64(l.count[0]) < railRatio*float64(next) || 1-repeats > (1-usual)/8:
		// The round top of a smooth curve makes a run of up to five times the next ones.
		return Finding{}, false
	case c == trace.MotorCurrent || c == trace.MotorTorque:
		return Finding{}, false // a drive's own limit is as sharp
	}
	if c == trace.RodPosition && !v.drivenOn(y, rail) {
		return Finding{}, false
	}
	f := v.finding(Clipped, Harm, c, v.affectedBy(c),
		fmt.Sprintf("%s stands exactly at %s for %.2f s in all: the sensor or its input is at its end.", c.Words(), inUnit(c, rail), float64(l.count[0])*v.t.Period()),
		"Use a sensor or an input range that reaches further, or a smaller move.")
	if c == trace.MotorCurrent || c == trace.MotorTorque {
		f.Severity = Note
	}
	f.From, f.To = v.t.TimeAt(l.first), v.t.TimeAt(l.last)
	return f, true
}

// levels are how often a channel takes its extreme and each of the next steps inside it, how
// often it does so twice in a row, and the first and last sample at the extreme.
type levels struct {
	count, again [railLevels + 1]int
	first, last  int
}

func levelsAt(y []float64, rail, inward, step float64) levels {
	l := levels{first: -1}
	before := -1
	for i, s := range y {
		at := -1
		// Compared before it is an integer: a wild reading is too far for one.
		if level := (s-rail)*inward/step + 0.5; level >= 0 && level < railLevels+1 {
			at = int(level)
			l.count[at]++
			if at == before {
				l.again[at]++
			}
			if at == 0 {
				l.last = i
				if l.first < 0 {
					l.first = i
				}
			}
		}
		before = at
	}
	return l
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
