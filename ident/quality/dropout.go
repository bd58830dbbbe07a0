package quality

import (
	"fmt"
	"math"

	"eha/strokewise/ident/motion"
	"eha/strokewise/ident/plant"
	"eha/strokewise/ident/trace"
)

// dropouts reports where a sensor's signal was lost.
func (v *view) dropouts() []Finding {
	var found []Finding
	for i, d := range v.r.Dropouts {
		f := v.finding(SignalLost, Harm, d.Channel, v.affectedBy(d.Channel),
			fmt.Sprintf("%s jumps to %s from %.3f to %.3f s and back: the signal was lost.", d.Channel.Words(), inUnit(d.Channel, d.Value), d.From, d.To),
			"This part of the log is left out. Look for a loose plug or a broken wire.")
		f.From, f.To = d.From, d.To
		if i == maxEach-1 && len(v.r.Dropouts) > maxEach {
			f.Text = fmt.Sprintf("signals were lost %d times in all; this one of the %s at %.3f s is the eighth.", len(v.r.Dropouts), d.Channel.Words(), d.From)
			return append(found, f)
		}
		found = append(found, f)
	}
	return found
}

// encoderStep is what no motor turns within one sample, three times its top speed (rad), and what
// noise at rest never makes.
func (v *view) encoderStep() float64 {
	fastest := math.Max(v.motion.TopSpeed, v.m.Motor.MaxSpeed)
	return 3*fastest*v.t.Period() + 4*v.r.Resolution[trace.MotorPosition] + 8*v.restNoise(trace.MotorPosition) + 0.02
}

// stuckEncoder finds the motor position standing still, in all its digits, while the rod
// moves by more than its own steps and noise explain.
func (v *view) stuckEncoder() []Finding {
	theta, ok := v.samples(trace.MotorPosition)
	x, ok2 := v.samples(trace.RodPosition)
	s := v.motion.StrokePerTurn
	if !ok || !ok2 || s == 0 {
		return nil
	}
	noise, step := v.quickNoise(x), v.encoderStep()
	// Slip moves the rod by some hundredths of its top speed while the motor stands, compression
	// by a part of a turn.
	least := math.Max(12*noise, math.Max(8*v.r.Resolution[trace.RodPosition], math.Pi*s))
	fast := 0.1 * v.motion.TopSpeed * s * v.t.Period()
	var found []Finding
	for _, part := range motion.Stretches(v.t, 10) {
		for i := part.From; i < part.To; {
			from := i
			for i < part.To && theta[i] == theta[from] {
				i++
			}
			moved := math.Abs(x[i-1] - x[from])
			held := moved > math.Max(least, fast*float64(i-from)) || catchesUp(theta, i, moved/s, step)
			if i-from < 10 || !held || len(found) >= maxEach || v.toldToStand(from, i, 0.5*moved/s) {
				continue
			}
			f := v.finding(Flat, Stop, trace.MotorPosition, join(strokeParams, []plant.Param{plant.Slip}, driveParams),
				fmt.Sprintf("motor position stays at %s exactly from %.3f to %.3f s while the rod moves by %s.", inUnit(trace.MotorPosition, theta[from]), v.t.TimeAt(from), v.t.TimeAt(i-1), inUnit(trace.RodPosition, moved)),
				"Check encoder, plug and recorder; leave this part of the log out.")
			f.From, f.To = v.t.TimeAt(from), v.t.TimeAt(i-1)
			found = append(found, f)
		}
	}
	return found
}

// toldToStand reports whether the speed command over [from, to) asked for less than that
// angle (rad): then the motor stands rightly, and slip lets the rod creep.
func (v *view) toldToStand(from, to int, angle float64) bool {
	u, ok := v.samples(trace.SpeedCommand)
	if !ok {
		return false
	}
	asked := 0.0
	for _, n := range u[from:to] {
		asked += math.Abs(n) * v.t.Period()
	}
	return asked < angle
}

// catchesUp reports whether the motor position jumps, at sample i, by about the angle that the rod
// moved while it stood.
func catchesUp(theta []float64, i int, angle, step float64) bool {
	if i >= len(theta) {
		return false
	}
	jump := math.Abs(theta[i] - theta[i-1])
	return jump > step && jump > 0.5*angle && jump < 2*angle
}
