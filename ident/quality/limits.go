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
		found = append(found, v.accelerationLimit(l))
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

// accelerationLimit tells a ramp inside the drive from a torque limit: a ramp has
// one slope whatever load and direction, torque less the load's share does not. Four
// stretches within 3 % are a ramp, unless the current stands at its largest in them.
func (v *view) accelerationLimit(l []motion.Limited) Finding {
	low, high := math.Inf(1), 0.0
	for _, s := range l {
		low, high = min(low, s.Level), max(high, s.Level)
	}
	levels := fmt.Sprintf("the motor speeds up along a straight line of %.0f to %.0f rev/s2 while its command is elsewhere", low/(2*math.Pi), high/(2*math.Pi))
	affects := join(driveParams, []plant.Param{plant.AccelerationLimit})
	if len(l) >= 4 && high < 1.03*low && !v.currentAtLimit(l) {
		return v.limited(RampLimited, trace.SpeedCommand, l, affects, levels+", always the same: a ramp in the drive",
			"Open the ramp in the drive: in a loop it acts as lag and can make it hunt. The bandwidth is found from the rest of the log.")
	}
	c := trace.SpeedCommand
	if v.has(trace.MotorCurrent) {
		c = trace.MotorCurrent
	}
	return v.limited(CurrentLimited, c, l, affects, levels+": current or torque is at its limit",
		"The bandwidth is found from the rest of the log. Log smaller steps for the drive.")
}

// currentAtLimit reports whether the current, where it is logged, comes within a
// tenth of its largest value in most of the stretches.
func (v *view) currentAtLimit(l []motion.Limited) bool {
	i, ok := v.samples(trace.MotorCurrent)
	if !ok {
		if i, ok = v.samples(trace.MotorTorque); !ok {
			return false
		}
	}
	low, high := extremes(i)
	top := math.Max(high, -low)
	at := 0
	for _, s := range l {
		low, high := extremes(i[s.Span.From:s.Span.To])
		if math.Max(high, -low) > 0.9*top {
			at++
		}
	}
	return 2*at > len(l)
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

// ringingDamping is the damping ratio under which a speed loop counts as ringing;
// its step overshoots by 25.4 % then (second order: exp(-pi z/sqrt(1-z²)) for z = 0.4).
const (
	ringingDamping   = 0.4
	ringingOvershoot = 0.254
)

// speedLoop looks at the speed's answer to steps of its command. A step is a
// change within two samples that then holds for 0.2 s; at least three must ring, at
// the median, for a finding. Steps in which a limit was met are left out.
func (v *view) speedLoop() []Finding {
	u, ok := v.samples(trace.SpeedCommand)
	n, ok2 := motion.MotorSpeed(v.t)
	if !ok || !ok2 {
		return nil
	}
	period := v.t.Period()
	hold := max(5, int(0.2/period))
	var over []float64
	first, last := 0, 0
	for _, part := range motion.Stretches(v.t, 2*hold) {
		still := 0
		for i := part.From + 1; i+hold < part.To; i++ {
			if u[i] == u[i-1] {
				still++
				continue
			}
			size := u[min(i+1, part.To-1)] - u[i-1]
			if still >= hold && math.Abs(size) > 0.05*v.motion.TopSpeed && constant(u[i+1:i+hold]) && !v.inLimit(i) {
				over = append(over, overshoot(n[i:i+hold], u[i+1], size))
				if len(over) == 1 {
					first = i
				}
				last = i + hold
			}
			still = 0
		}
	}
	const do = "Retune the drive's speed loop first; every outer loop suffers from it."
	if m := median(over); len(over) >= 3 && m > ringingOvershoot {
		f := v.finding(SpeedLoopRinging, Harm, trace.SpeedCommand, driveParams,
			fmt.Sprintf("the motor speed overshoots its steps by %.0f %% (median of %d): damping is under %.1f.", 100*m, len(over), ringingDamping), do)
		f.From, f.To = v.t.TimeAt(first), v.t.TimeAt(last)
		return []Finding{f}
	}
	if peak, freqHz, ok := v.resonantLoop(); ok {
		return []Finding{v.finding(SpeedLoopRinging, Harm, trace.SpeedCommand, driveParams,
			fmt.Sprintf("the motor speed swings %.1f times as far as its command at %.0f Hz: damping is under %.1f.", peak, freqHz, ringingDamping), do)}
	}
	return nil
}

func constant(u []float64) bool {
	low, high := extremes(u)
	return low == high
}

// overshoot is how far n goes beyond the target, as a share of the step.
func overshoot(n []float64, target, size float64) float64 {
	most := 0.0
	for _, s := range n {
		most = max(most, (s-target)/size)
	}
	return most
}

func (v *view) inLimit(i int) bool {
	for _, l := range v.motion.Limits {
		if i+1 >= l.Span.From && i-1 < l.Span.To {
			return true
		}
	}
	return false
}
