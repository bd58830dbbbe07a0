package quality

import (
	"math"

	"eha/strokewise/ident/lsq"
	"eha/strokewise/ident/machine"
	"eha/strokewise/ident/motion"
	"eha/strokewise/ident/trace"
)

// Stretches of so long (s) in which the speed command changes by more than so much, as
// shares of top speed (root of the summed squares of its changes) and in rad/s, tell the drive.
const (
	livelyTime  = 0.2
	livelyShare = 0.02
	livelyLeast = 1.0
)

// drive counts what excites the speed loop.
func (c *content) drive(v *view) {
	if !v.has(trace.SpeedCommand, trace.MotorPosition) {
		return
	}
	for _, p := range v.motion.Periodic {
		if p.Channel == trace.SpeedCommand && !v.limitedIn(p.Span.From, p.Span.To) {
			c.periods += p.Periods
		}
	}
	for _, l := range v.motion.Limits {
		c.limited = c.limited || l.Kind == motion.AccelLimit
	}
	u, _ := v.samples(trace.SpeedCommand)
	n := max(24, int(livelyTime/v.t.Period()))
	before := c.lively
	for _, part := range motion.Stretches(v.t, n+1) {
		for from := part.From; from+n <= part.To; from += n / 2 {
			sum := 0.0
			for i := from + 1; i < from+n; i++ {
				sum += (u[i] - u[i-1]) * (u[i] - u[i-1])
			}
			if s := math.Sqrt(sum); s > max(livelyShare*v.motion.TopSpeed, livelyLeast) && !v.limitedIn(from, from+n) {
				c.lively++
			}
		}
	}
	c.closed = c.closed || c.lively > before && v.has(trace.PositionCommand)
}

// slowSwing is the share of full speed up to which a reversal counts as slow.
const slowSwing = 0.12

// reversing counts the slow reversals.
func (c *content) reversing(v *view, m *machine.Machine) {
	if !v.has(trace.MotorPosition, trace.RodPosition) {
		return
	}
	limit := math.Inf(1)
	if m.Motor.MaxSpeed > 0 {
		limit = slowSwing * m.Motor.MaxSpeed
	}
	var last motion.Segment
	for _, s := range v.motion.Segments {
		if s.Kind == motion.Pressing {
			last = motion.Segment{}
		}
		if s.Kind != motion.Steady {
			continue
		}
		apart := float64(s.Span.From-last.Span.To) * v.t.Period()
		if s.MotorSpeed*last.MotorSpeed < 0 && apart <= motion.MaxReversal && max(math.Abs(s.MotorSpeed), math.Abs(last.MotorSpeed)) <= limit {
			d := extendOrRetract(s.MotorSpeed)
			c.swings.Set(d, c.swings.At(d)+1)
		}
		last = s
	}
}

// pressing adds up what presses.
func (c *content) pressing(v *view) {
	if !v.has(trace.CapPressure, trace.RodPressure, trace.RodPosition) {
		return
	}
	low, high := math.Inf(1), math.Inf(-1)
	for _, s := range v.motion.Spans(motion.PressHold) {
		c.presses++
		for k := s.From / v.step; k < min(s.To/v.step, len(v.kind)); k++ {
			p := math.Abs(v.frame[trace.CapPressure][k] - v.frame[trace.RodPressure][k])
			low, high = min(low, p), max(high, p)
		}
	}
	c.pressRise = max(c.pressRise, high-low)
}

// turnTime (s) is the length of the windows of the regression of turns.
const turnTime = 0.24

// The columns of the regression of turns: travel and the pressure's change by the chamber
// that carries, pressure across the pump over time, and the change of speed.
const (
	capTravel = iota
	rodTravel
	leakedOver
	capRise
	rodRise
	speedGain
	turnColumns
)

// lostTurns regresses turns on what takes them, as far as it goes, for the doubt that slip
// will have.
func (c *content) lostTurns(views []*view) {
	var y []float64
	columns := make([][]float64, turnColumns)
	for _, v := range views {
		if v.has(trace.CapPressure, trace.RodPressure) {
			y = v.addTurns(columns, y)
		}
	}
	for _, leaked := range columns[leakedOver] {
		c.across += math.Abs(leaked) / turnTime / float64(len(y))
	}
	var used [][]float64
	slip := 0
	for j, col := range columns {
		if low, high := extremes(col); low == high {
			continue // that chamber never carries
		}
		if j == leakedOver {
			slip = len(used)
		}
		used = append(used, col)
	}
	if len(y) < 20 {
		return
	}
	if fit, err := (lsq.Linear{Columns: used, Y: y}).SolveRobust(4); err == nil && fit.X[slip] > 0 {
		c.slipShare = 1.96 * fit.StdDev(slip) / fit.X[slip]
	}
}

// addTurns appends the log's windows in which one chamber carries, and returns y with
// the turns of each (rad).
func (v *view) addTurns(columns [][]float64, y []float64) []float64 {
	theta, x, p1, p2 := v.frame[trace.MotorPosition], v.frame[trace.RodPosition], v.frame[trace.CapPressure], v.frame[trace.RodPressure]
	length := max(2, int(math.Round(turnTime/v.dt)))
	for from := 1; from+length+1 < len(theta); from += length {
		to := from + length
		side, leaked := v.oneSided(from-1, to+1)
		if side == 0 {
			continue
		}
		var row [turnColumns]float64
		row[leakedOver] = leaked
		row[speedGain] = (theta[to+1] - theta[to-1] - theta[from+1] + theta[from-1]) / (2 * v.dt)
		if side > 0 {
			row[capTravel], row[capRise] = x[to]-x[from], p1[to]-p1[from]
		} else {
			row[rodTravel], row[rodRise] = x[to]-x[from], p2[to]-p2[from]
		}
		for j, value := range row {
			columns[j] = append(columns[j], value)
		}
		y = append(y, theta[to]-theta[from])
	}
	return y
}

// oneSided returns the side that carries in all frames from to to, 1 the cap's and -1
// the rod's, with the pressure across the pump over the time between; 0 where neither
// does or the frames are not whole.
func (v *view) oneSided(from, to int) (side int, leaked float64) {
	p1, p2 := v.frame[trace.CapPressure], v.frame[trace.RodPressure]
	for k := from; k < to; k++ {
		d := p1[k] - p2[k]
		s := 0
		if d > clearlyHigh {
			s = 1
		} else if d < -clearlyHigh {
			s = -1
		}
		if s == 0 || k > from && s != side || !v.good[k] {
			return 0, 0
		}
		side = s
		if k > from && k+1 < to {
			leaked += d * v.dt
		}
	}
	return side, leaked
}
