package quality

import (
	"fmt"
	"math"

	"eha/strokewise/ident/drive"
	"eha/strokewise/ident/motion"
	"eha/strokewise/ident/plant"
	"eha/strokewise/ident/trace"
)

// ringingDamping is the damping ratio under which a speed loop counts as ringing;
// its step overshoots by 25.4 % then (second order: exp(-pi z/sqrt(1-z²)) for z = 0.4).
const (
	ringingDamping   = 0.4
	ringingOvershoot = 0.254
)

// The undamped natural frequency (Hz) under which a speed loop is worth a word, and under which
// it harms: those of servo drives have 30 to 100 Hz (common practice, no source).
const (
	leisurelyDrive = 15.0
	slowDrive      = 8.0
)

// mostDeadTime (s) is beyond what drive and bus take from command to speed: some periods of a
// controller (common practice, no source).
const mostDeadTime = 0.010

const retune = "Retune the drive's speed loop first; every outer loop suffers from it."

func hertz(w float64) float64 { return w / (2 * math.Pi) }

// drive fits the drive on this log, once.
func (v *view) drive() *drive.Result {
	if v.fitted == nil {
		d := drive.Fit([]drive.Log{{Trace: v.t, Motion: v.motion}}, v.m.Controller.Period, 0)
		v.fitted = &d
	}
	return v.fitted
}

// slowDrive reports whether the log identifies a speed loop that is slow.
func (v *view) slowDrive() bool {
	d := v.drive()
	return d.Bandwidth.Status == plant.Identified && hertz(d.Bandwidth.High) < leisurelyDrive
}

// speedLoop judges the drive by its fit where the log identifies it, else by its steps.
func (v *view) speedLoop() []Finding {
	if !v.has(trace.SpeedCommand) {
		return nil
	}
	d := v.drive()
	var found []Finding
	// One figure may be weak by its width alone; with two of them the fit is.
	if d.Bandwidth.Status != plant.Identified || d.Damping.Status != plant.Identified && d.DeadTime.Status != plant.Identified {
		return v.steppedLoop()
	}
	switch {
	case d.Damping.High >= ringingDamping && d.Damping.Status != plant.Identified:
		found = v.steppedLoop()
	case d.Damping.High < ringingDamping:
		found = append(found, v.finding(SpeedLoopRinging, Harm, trace.SpeedCommand, driveParams,
			fmt.Sprintf("the motor speed rings about its command: damping %.2f (%.2f to %.2f) at %.1f Hz, under %.1f.", d.Damping.Value, d.Damping.Low, d.Damping.High, hertz(d.Bandwidth.Value), ringingDamping), retune))
	}
	if high := hertz(d.Bandwidth.High); v.slowDrive() {
		severity := Note
		if high < slowDrive {
			severity = Harm
		}
		found = append(found, v.finding(SpeedLoopSlow, severity, trace.SpeedCommand, driveParams,
			fmt.Sprintf("the drive's speed loop is slow: %.1f Hz (%.1f to %.1f); servo drives have 30 to 100 Hz.", hertz(d.Bandwidth.Value), hertz(d.Bandwidth.Low), high),
			"Make the speed loop faster in the drive, and look for a filter or a ramp in it; the outer loops must stay well below."))
	}
	if d.DeadTime.Status == plant.Identified && d.DeadTime.Low > mostDeadTime {
		found = append(found, v.finding(TimeSkew, Note, trace.SpeedCommand, driveParams,
			fmt.Sprintf("the motor answers its command after a dead time of %.1f ms (%.1f to %.1f), more than drive and bus take as a rule: the command may be logged ahead of its time.", 1e3*d.DeadTime.Value, 1e3*d.DeadTime.Low, 1e3*d.DeadTime.High),
			"Record command and encoder on one clock, and the command that the drive receives; the loops are set slower for a dead time that may be none."))
	}
	return found
}

// steppedLoop looks at the speed's answer to steps of its command. A step is a
// change within two samples that then holds for 0.2 s; at least three must ring, at
// the median, for a finding. Steps in which a limit was met are left out.
func (v *view) steppedLoop() []Finding {
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
	if m := median(over); len(over) >= 3 && m > ringingOvershoot {
		f := v.finding(SpeedLoopRinging, Harm, trace.SpeedCommand, driveParams,
			fmt.Sprintf("the motor speed overshoots its steps by %.0f %% (median of %d): damping is under %.1f.", 100*m, len(over), ringingDamping), retune)
		f.From, f.To = v.t.TimeAt(first), v.t.TimeAt(last)
		return []Finding{f}
	}
	if peak, freqHz, ok := v.resonantLoop(); ok {
		return []Finding{v.finding(SpeedLoopRinging, Harm, trace.SpeedCommand, driveParams,
			fmt.Sprintf("the motor speed swings %.1f times as far as its command at %.0f Hz: damping is under %.1f.", peak, freqHz, ringingDamping), retune)}
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
