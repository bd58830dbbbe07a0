package motion

import (
	"math"

	"eha/strokewise/ident/trace"
)

// LimitKind is what held the machine back.
type LimitKind int

// The limits.
const (
	SpeedLimit  LimitKind = iota // the speed command stands at its largest value, or the speed below the command
	AccelLimit                   // speed rises as a straight line while the command is elsewhere: torque or ramp
	ReliefLimit                  // pressure stands at its highest while the motor turns and the rod does not follow
)

// String returns the limit in a word.
func (k LimitKind) String() string { return [...]string{"speed", "acceleration", "relief"}[k] }

// Limited is a stretch in which a limit was active.
type Limited struct {
	Kind LimitKind
	// Span runs from where the speed leaves its command to where it is back.
	Span  trace.Span
	Level float64 // the limit: rad/s, rad/s² or Pa
}

// limits finds all limited stretches.
func limits(t *trace.Trace, f *frames) []Limited {
	return append(strongest(driveLimits(t, f.top)), reliefLimits(t, f)...)
}

// strongest drops acceleration limits far below the largest: a load may take half
// of the motor's torque, a slower straight rise is the load's or the command's own.
func strongest(all []Limited) []Limited {
	most := 0.0
	for _, l := range all {
		if l.Kind == AccelLimit {
			most = max(most, l.Level)
		}
	}
	var kept []Limited
	for _, l := range all {
		if l.Kind != AccelLimit || l.Level > 0.4*most {
			kept = append(kept, l)
		}
	}
	return kept
}

const (
	rampStretches = 4    // the least number of straight rises that show a ramp
	rampSpread    = 1.05 // by what factor eight tenths of them may differ: torque less the load's share varies more
)

// Ramp returns the slope (rad/s²) of a ramp inside the drive, if the acceleration
// limits among those given are one: a ramp has one slope whatever the load and the direction.
func Ramp(limits []Limited) (slope float64, ok bool) {
	var levels []float64
	for _, l := range limits {
		if l.Kind == AccelLimit {
			levels = append(levels, l.Level)
		}
	}
	if len(levels) < rampStretches || Quantile(levels, 0.9) > rampSpread*Quantile(levels, 0.1) {
		return 0, false
	}
	return Quantile(levels, 0.5), true
}

// The marks of a limited drive. A drive of second order that is not limited
// shows an acceleration pulse of some 0.2/f (s), f its bandwidth (Hz): 4 ms at
// 50 Hz within a tenth of its peak, 13 ms at 15 Hz.
const (
	minPlateau  = 0.02 // s that the acceleration must stay within plateauBand
	plateauBand = 0.12
	// Longer errors are no acceleration limit but a command in other units.
	longestLimited = 2.0  // s
	minError       = 0.04 // of top speed, between command and speed
)

// driveLimits walks through the stretches in which the speed is far from its command.
func driveLimits(t *trace.Trace, top float64) []Limited {
	u, ok := t.Samples(trace.SpeedCommand)
	n, ok2 := MotorSpeed(t)
	if !ok || !ok2 || top == 0 {
		return nil
	}
	found := clampedCommand(t, u)
	for _, part := range Stretches(t, 8) {
		for i := part.From; i < part.To; {
			if math.Abs(u[i]-n[i]) <= minError*top {
				i++
				continue
			}
			from := i
			for i < part.To && math.Abs(u[i]-n[i]) > minError*top/2 {
				i++
			}
			if l, ok := plateau(t, u, n, trace.Span{From: from, To: i}, top); ok {
				found = append(found, l)
			}
		}
	}
	return found
}

// plateau judges one stretch of large speed error. Constant speed in it is a
// speed limit; a long constant acceleration is an acceleration limit.
func plateau(t *trace.Trace, u, n []float64, s trace.Span, top float64) (Limited, bool) {
	period := t.Period()
	least := max(4, int(minPlateau/period))
	lag := max(1, int(0.004/period)) // speeds are slopes over ±MotorHalf: an acceleration needs some samples
	bestFrom, bestLen, bestLevel := 0, 0, 0.0
	for i := s.From + lag; i+lag < s.To; {
		var low, high, sum float64
		from := i
		for ; i+lag < s.To; i++ {
			a := (n[i+lag] - n[i-lag]) / (2 * float64(lag) * period)
			l, h := a, a
			if i > from {
				l, h = min(low, a), max(high, a)
			}
			if h-l > plateauBand*math.Abs(l+h) {
				break
			}
			low, high, sum = l, h, sum+a
		}
		if i-from > bestLen {
			bestFrom, bestLen, bestLevel = from, i-from, sum/float64(max(i-from, 1))
		}
		i = max(i, from+1)
	}
	follows := followsRamp(u, bestFrom, bestLen, bestLevel, period)
	mid := s.From + s.Len()/2
	long := float64(s.Len())*period > longestLimited
	if bestLen >= least && !follows && !long && math.Abs(bestLevel) > top/4 {
		return Limited{AccelLimit, s, math.Abs(bestLevel)}, true
	}
	if float64(s.Len())*period > MinSteady && math.Abs(n[mid]) > 0.5*top && math.Abs(u[mid]) > math.Abs(n[mid]) && math.Abs(n[s.To-1]-n[mid]) < 0.02*top {
		return Limited{SpeedLimit, s, math.Abs(n[mid])}, true
	}
	return Limited{}, false
}

// mostLag (s) is by how much a drive's speed may come behind a ramp of its command.
const mostLag = 0.03

// followsRamp reports whether the command itself was a straight ramp of about the slope
// (rad/s²) some time before u[from:from+n]: it is followed with a lag, and only a
// command steeper than the speed shows a limit. A step has its slope in one place.
func followsRamp(u []float64, from, n int, slope, period float64) bool {
	few := max(2, int(0.004/period))
	for shift := range int(mostLag/period) + 1 {
		a, b := from-shift, from-shift+n
		if a < 0 || b >= len(u) || b <= a {
			continue
		}
		if math.Abs((u[b]-u[a])/(float64(b-a)*period)-slope) > 0.3*math.Abs(slope) {
			continue
		}
		steepest := 0.0
		for i := a; i+few <= b; i++ {
			steepest = math.Max(steepest, math.Abs(u[i+few]-u[i]))
		}
		if steepest < 2.5*math.Abs(slope)*float64(few)*period {
			return true
		}
	}
	return false
}

// clampedCommand finds where the command of a closed loop stands at its limit:
// at the log's largest or smallest value, exactly, for at least three samples and in
// a log whose command otherwise moves (an open-loop log plays constant commands).
func clampedCommand(t *trace.Trace, u []float64) []Limited {
	low, high := u[0], u[0]
	moving := 0
	for i := 1; i < len(u); i++ {
		low, high = min(low, u[i]), max(high, u[i])
		if u[i] != u[i-1] {
			moving++
		}
	}
	if 2*moving < len(u) || high <= low {
		return nil
	}
	limit := max(high, -low)
	var found []Limited
	for _, part := range Stretches(t, 3) {
		for i := part.From; i < part.To; i++ {
			if math.Abs(u[i]) < limit*(1-1e-6) {
				continue
			}
			from := i
			for i < part.To && u[i] == u[from] {
				i++
			}
			if i-from >= 3 {
				found = append(found, Limited{SpeedLimit, trace.Span{From: from, To: i}, limit})
			}
		}
	}
	return found
}

// reliefLimits finds pressures that stand within 1.5 % of the log's highest for
// MinSteady while the motor turns faster than it need for holding and the rod
// does not follow: oil leaves by another way.
func reliefLimits(t *trace.Trace, f *frames) []Limited {
	var found []Limited
	if f.rod == nil || !f.motorKnown {
		return nil
	}
	for _, p := range [][]float64{f.capSide, f.rodSide} {
		if p == nil {
			continue
		}
		highest := Quantile(p, 1)
		for from := 0; from < len(p); {
			to := from
			for to < len(p) && !f.broken[to] && p[to] > 0.985*highest && math.Abs(f.motor[to]) > 0.1*f.top {
				to++
			}
			if float64(to-from)*f.dt >= MinSteady && f.risesNot(p[from:to], highest) && f.stands(from, to) {
				found = append(found, Limited{ReliefLimit, trace.Span{From: from * f.step, To: to * f.step}, mean(p[from:to])})
			}
			from = max(to, from+1)
		}
	}
	return found
}

// risesNot reports whether the second half of p is within 0.5 % of the highest above the first.
func (f *frames) risesNot(p []float64, highest float64) bool {
	h := len(p) / 2
	return mean(p[h:])-mean(p[:h]) < 0.005*highest
}

// stands reports whether the rod hardly moves over frames [from, to): less than
// 1 % of the travel speed that goes with top speed, by the log's own fastest travel.
func (f *frames) stands(from, to int) bool {
	fastest := 0.0
	for _, v := range f.rod {
		fastest = max(fastest, math.Abs(v))
	}
	return math.Abs(mean(f.rod[from:to])) < 0.02*fastest
}
