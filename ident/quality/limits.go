package quality

import (
	"fmt"
	"math"

	"eha/strokewise/ident/motion"
	"eha/strokewise/ident/plant"
	"eha/strokewise/ident/trace"
)

// limits reports speed and acceleration limits that were met.
func (v *view) limits() []Finding {
	var found []Finding
	by := map[motion.LimitKind][]motion.Limited{}
	for _, l := range v.motion.Limits {
		by[l.Kind] = append(by[l.Kind], l)
	}
	if l := by[motion.SpeedLimit]; len(l) > 0 {
		found = append(found, v.limited(SpeedLimited, trace.SpeedCommand, l, []plant.Param{plant.OuterDelay},
			fmt.Sprintf("the speed command stands at its limit of %s", inUnit(trace.SpeedCommand, largest(l))),
			"Fits leave these parts out. Log smaller steps if the loop's own behaviour is wanted."))
	}
	if l := by[motion.AccelLimit]; len(l) > 1 { // one alone may be anything
		found = append(found, v.accelerationLimit(l)...)
	}
	return found
}

// relief reports pressures at a relief valve: at the setting stated, or by their
// plateau. A plateau well below the setting, or while a force is being commanded, is a force held.
func (v *view) relief() []Finding {
	var l []motion.Limited
	for _, s := range v.motion.Limits {
		if s.Kind == motion.ReliefLimit && s.Level > 0.9*v.m.Limits.Relief && !v.has(trace.ForceCommand) {
			l = append(l, s)
		}
	}
	if relief := v.m.Limits.Relief; relief > 0 {
		l = append(l, v.atRelief(relief)...)
	}
	if len(l) == 0 {
		return nil
	}
	return []Finding{v.limited(ReliefReached, trace.NoChannel, l, join([]plant.Param{plant.Slip, plant.PressingStiffness}, oilParams),
		fmt.Sprintf("pressure stands at %s, as at a relief valve", inUnit(trace.CapPressure, largest(l))),
		"Oil over the relief valve looks like slip. Fits leave these parts out; press with less.")}
}

// limited sums up stretches of one kind.
func (v *view) limited(id string, c trace.Channel, l []motion.Limited, affects []plant.Param, text, do string) Finding {
	total := 0
	for _, s := range l {
		total += s.Span.Len()
	}
	f := v.finding(id, Note, c, affects, fmt.Sprintf("%s, %d times, %.2f s in all.", text, len(l), float64(total)*v.t.Period()), do)
	f.From, f.To = v.t.TimeAt(l[0].Span.From), v.t.TimeAt(min(l[len(l)-1].Span.To, v.t.Len()-1))
	if 10*total > v.t.Len() {
		f.Severity = Harm
	}
	return f
}

func largest(l []motion.Limited) float64 {
	high := 0.0
	for _, s := range l {
		high = max(high, s.Level)
	}
	return high
}

// accelerationLimit tells a ramp inside the drive from a torque limit: a ramp has one slope
// whatever load and direction, and takes the current that they need; a torque limit has one
// current, and the slope that the load leaves. What scatters less over the stretches is the limit.
func (v *view) accelerationLimit(l []motion.Limited) []Finding {
	slopes := make([]float64, len(l))
	for k, s := range l {
		slopes[k] = s.Level
	}
	low, high := extremes(slopes)
	levels := fmt.Sprintf("the motor speeds up along a straight line of %.0f to %.0f rev/s2 while its command is elsewhere", low/(2*math.Pi), high/(2*math.Pi))
	affects := join(driveParams, []plant.Param{plant.AccelerationLimit})
	of := scatter(slopes)
	current, known := v.limitCurrents(l)
	ofCurrent := scatter(current)
	_, steady := motion.Ramp(l)
	if known && of < 0.5*ofCurrent || !known && steady {
		if of > mostScatter || v.slowDrive() {
			return nil // pulses of one size through a slow speed loop look alike
		}
		f := v.limited(RampLimited, trace.SpeedCommand, l, affects, levels+", always the same whatever the load: a ramp in the drive",
			"Open the ramp in the drive, or log the command behind it: in a loop it acts as lag and can make it hunt. The bandwidth is found from the rest of the log.")
		f.Severity = Harm
		return []Finding{f}
	}
	c := trace.SpeedCommand
	if v.has(trace.MotorCurrent) {
		c = trace.MotorCurrent
	}
	if known && ofCurrent > 2*mostScatter {
		return nil
	}
	return []Finding{v.limited(CurrentLimited, c, l, affects, levels+": current or torque is at its limit",
		"The bandwidth is found from the rest of the log. Log smaller steps for the drive.")}
}

// mostScatter is how much the slope of a ramp scatters at most, by noise and by where it
// begins; simulated ones stay within 0.14, and torque limits within 0.16 in current.
const mostScatter = 0.15

// scatter is the range of the middle eight tenths of the values as a share of their median.
func scatter(values []float64) float64 {
	return (quantile(values, 0.9) - quantile(values, 0.1)) / math.Max(math.Abs(median(values)), 1e-12)
}

// limitCurrents returns the current of each stretch, positive where it acts towards the
// command, and whether enough stretches have one.
func (v *view) limitCurrents(l []motion.Limited) ([]float64, bool) {
	i, ok := v.samples(trace.MotorCurrent)
	if !ok {
		i, ok = v.samples(trace.MotorTorque)
	}
	n, ok2 := motion.MotorSpeed(v.t)
	u, ok3 := v.samples(trace.SpeedCommand)
	if !ok || !ok2 || !ok3 || len(l) < 4 {
		return nil, false
	}
	sign := 1.0
	if v.wiring.has(current) {
		sign = -1
	}
	values := make([]float64, len(l))
	for k, s := range l {
		mid := (s.Span.From + s.Span.To) / 2
		way := sign * math.Copysign(1, u[mid]-n[mid])
		// The stretch runs on after the limit: the upper part of its current is what counts.
		part := make([]float64, s.Span.Len())
		for j := range part {
			part[j] = way * i[s.Span.From+j]
		}
		values[k] = quantile(part, 0.8)
	}
	return values, true
}

// atRelief finds pressures within 3 % of the relief setting for a tenth of a second.
func (v *view) atRelief(relief float64) []motion.Limited {
	var found []motion.Limited
	for _, c := range []trace.Channel{trace.CapPressure, trace.RodPressure} {
		p := v.frame[c]
		for from := 0; from < len(p); {
			to := from
			for to < len(p) && p[to] > 0.97*relief {
				to++
			}
			if float64(to-from)*v.dt >= 0.1 {
				found = append(found, motion.Limited{Kind: motion.ReliefLimit, Span: trace.Span{From: from * v.step, To: to * v.step}, Level: mean(p[from:to])})
			}
			from = max(to, from+1)
		}
	}
	return found
}
