package quality

import (
	"fmt"
	"math"

	"eha/strokewise/ident/motion"
	"eha/strokewise/ident/trace"
)

// flat finds channels that do not move though they must: for the whole of the
// log, or stuck on one value for a time while the motor turns. Those that are dead for
// the whole of the log are dropped.
func (v *view) flat() []Finding {
	found := v.deadCommand()
	for _, c := range measured {
		y, ok := v.samples(c)
		if !ok {
			continue
		}
		low, high := v.bounds(c)
		noise := v.quickNoise(y)
		if dead := high == low && !(c == trace.MotorPosition && v.stands()) || v.travels() && v.onlyNoise(c, noise) && v.deadLevel(c) && v.mustChange(c); dead && c != trace.Force {
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
	return append(append(found, v.stuckCommand()...), v.stuckPosition()...)
}

// deadCommand finds a speed command that never changes while the motor does.
func (v *view) deadCommand() []Finding {
	c := trace.SpeedCommand
	n := v.motorSpeed()
	low, high := v.bounds(c)
	if !v.has(c) || n == nil || high != low {
		return nil
	}
	slowest, fastest := quantile(n, 0.05), quantile(n, 0.95)
	if fastest-slowest < 0.2*v.motion.TopSpeed {
		return nil // a log of steady travel
	}
	f := v.finding(Flat, Harm, c, driveParams,
		fmt.Sprintf("%s stays at %s throughout while the motor turns at %s to %s.", c.Words(), inUnit(c, low), inUnit(c, slowest), inUnit(c, fastest)),
		"Check the recorder's channel: log the command that the drive follows.")
	v.drop(c)
	return []Finding{f}
}

// stands reports whether the motor was asked for no motion and the rod does no more than
// creep: a hold, in which an encoder has nothing to show.
func (v *view) stands() bool {
	u := v.frame[trace.SpeedCommand]
	if u == nil || v.travels() {
		return false
	}
	low, high := v.bounds(trace.SpeedCommand)
	return math.Max(-low, high) < motionless
}

// travels reports whether the log holds enough travel for every sensor to show
// something: a quarter of the stroke, or a decimetre where that is not known. Where the rod position
// itself shows none, quick turns of the motor speak for it: holding a load takes slow ones.
func (v *view) travels() bool {
	far := 0.1
	if v.m.Cylinder.Stroke > 0 {
		far = v.m.Cylinder.Stroke / 4
	}
	if v.has(trace.RodPosition) {
		if low, high := extremes(v.frame[trace.RodPosition]); high-low > far {
			return true
		}
	}
	areaCap, _ := v.areas()
	n := v.motorSpeed()
	if n == nil || areaCap == 0 || v.motion.TopSpeed < slowLog*v.m.Motor.MaxSpeed {
		return false
	}
	turned := 0.0
	for k, w := range n {
		if v.good[k] && math.Abs(w) > 0.3*v.motion.TopSpeed {
			turned += math.Abs(w) * v.dt
		}
	}
	return turned*v.m.Pump.Displacement/areaCap > far
}

// carriedLevel (Pa) is above what the low side stands at by far; a pressure there
// carries load, and changes with every reversal by friction.
const carriedLevel = 15e5

// deadLevel reports whether a pressure stands where a dead sensor's may: at about nothing, below
// vacuum, or where one that works would change. The low side under a noisy sensor shows nothing
// either, but the reservoir's pressure. Of other channels it is not asked.
func (v *view) deadLevel(c trace.Channel) bool {
	if c != trace.CapPressure && c != trace.RodPressure {
		return true
	}
	level := mean(v.frame[c])
	return math.Abs(level) < 0.08e5 || level < vacuum || level > carriedLevel+2*v.m.Reservoir.Preload
}

// mustChange reports whether the log holds what no current or torque stays level in: changes of
// speed. In a short log of steady travel a sound one is as level as a dead one.
func (v *view) mustChange(c trace.Channel) bool {
	if c == trace.RodPosition || c == trace.MotorPosition {
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

// stuckChance is how likely a run of one value may be by chance in a log before it is called stuck.
const stuckChance = 1e-6

// stuck finds runs of one value, not at a rail, while the motor makes at least half a turn.
// A low pressure with coarse steps may well stand, and so may a position while pressing,
// so a channel is only stuck if its samples differ from their neighbours at most other
// times; if each repeats by chance q, a run of k is one in q^-k.
func (v *view) stuck(c trace.Channel, y []float64) []Finding {
	theta, ok := v.samples(trace.MotorPosition)
	if !ok || c == trace.MotorPosition {
		return nil
	}
	same := 1
	for i := 1; i < len(y); i++ {
		if y[i] == y[i-1] {
			same++
		}
	}
	q := float64(same) / float64(len(y))
	if q > 0.5 {
		return nil
	}
	low, high := v.bounds(c)
	var found []Finding
	least := max(20, int(math.Log(stuckChance/float64(len(y)))/math.Log(q)))
	if c == trace.MotorCurrent || c == trace.MotorTorque {
		least = max(least, int(0.3/v.t.Period())) // a drive at its limit holds it as exactly
	}
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
			v.leaveOut(trace.Span{From: from, To: i})
		}
	}
	return found
}
