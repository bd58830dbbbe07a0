package quality

import (
	"fmt"
	"math"

	"eha/strokewise/ident/motion"
	"eha/strokewise/ident/trace"
)

// lagParts is in how many parts the log is cut for the interval of a lag, lagFrame (s) the
// frame over which signals are averaged for it, and lagReach how many frames either way are tried.
const (
	lagParts = 8
	lagFrame = 0.004
	lagReach = 20
)

// lagBehind returns by how much a comes behind b: where the correlation of their
// changes is largest, by a parabola through the three best frames, in each of lagParts
// parts of the log; the parts count by how much changes in them. The second result is
// false where fewer than three parts correlate, or they disagree.
func (v *view) lagBehind(a, b []float64) (lag, bool) {
	step := max(1, int(math.Round(lagFrame/v.t.Period())))
	count := len(a) / step
	dt := float64(step) * v.t.Period()
	every := make([]bool, count)
	for k := range every {
		every[k] = k+1 < count
	}
	for _, g := range v.t.Gaps() {
		for k := max(0, g.From/step-1); k <= (g.To-1)/step && k < count; k++ {
			every[k] = false
		}
	}
	da, db := longChanges(means(a, step, count), every, dt), longChanges(means(b, step, count), every, dt)
	var values, weights []float64
	for p := range lagParts {
		from, to := max(p*count/lagParts, lagReach), min((p+1)*count/lagParts, count-lagReach)
		if value, weight, ok := bestShift(da, db, from, to); ok {
			values, weights = append(values, value*dt), append(weights, weight)
		}
	}
	if len(values) < 3 {
		return lag{}, false
	}
	var sum, all, square float64
	for i, y := range values {
		sum += weights[i] * y
		all += weights[i]
		square += weights[i] * weights[i]
	}
	out := lag{value: sum / all}
	var spread float64
	for i, y := range values {
		spread += weights[i] * (y - out.value) * (y - out.value)
	}
	// 2.4: Student's t for some seven degrees of freedom.
	out.width = 2.4*math.Sqrt(spread/all*square/(all*all)) + 0.1*dt
	return out, out.width < 0.01
}

// longChanges returns the changes over 20 ms, in which the noise of a closed loop's
// command is small against what the machine does; 0 across fillers.
func longChanges(y []float64, every []bool, dt float64) []float64 {
	w := max(1, int(0.02/dt))
	d := make([]float64, len(y))
	run := 0 // frames in a row without filler
	for k := range y {
		if run >= w {
			d[k] = y[k] - y[k-w]
		}
		if run++; !every[k] {
			run = 0
		}
	}
	return d
}

// bestShift returns the shift, in frames, at which a over [from, to) follows b best,
// and the sum of squares of a. The correlation must reach 0.3 and not end on a bound.
func bestShift(a, b []float64, from, to int) (shift, weight float64, ok bool) {
	if to-from < 4*lagReach {
		return 0, 0, false
	}
	var at [2*lagReach + 1]float64
	best := 0
	for s := range at {
		var sum float64
		off := s - lagReach
		shifted := b[from-off : to-off]
		for i, y := range a[from:to] {
			sum += y * shifted[i]
		}
		at[s] = sum
		if sum > at[best] {
			best = s
		}
	}
	var bb float64
	for k := from; k < to; k++ {
		weight += a[k] * a[k]
		bb += b[k] * b[k]
	}
	if best == 0 || best == 2*lagReach || at[best] < 0.3*math.Sqrt(weight*bb) || weight == 0 {
		return 0, 0, false
	}
	l, m, r := at[best-1], at[best], at[best+1]
	fraction := 0.0
	if d := l - 2*m + r; d < 0 {
		fraction = 0.5 * (l - r) / d
	}
	return float64(best-lagReach) + fraction, weight, true
}

// commandLag compares the clocks of speed command and encoder: no motor turns
// before its command. How far behind it may be is the drive's own affair.
func (v *view) commandLag() []Finding {
	u, ok := v.samples(trace.SpeedCommand)
	theta, ok2 := v.samples(trace.MotorPosition)
	if !ok || !ok2 {
		return nil
	}
	l, ok := v.lagBehind(motion.Slope(v.t, theta, 0), u)
	if !ok || l.value+l.width > leastLag {
		return nil
	}
	return []Finding{v.finding(TimeSkew, Harm, trace.SpeedCommand, driveParams,
		fmt.Sprintf("the motor turns %.1f ± %.1f ms before its command: the clocks of the two columns differ.", -1e3*l.value, 1e3*l.width),
		"Record command and encoder on one clock; dead time and bandwidth of the drive mean nothing until then.")}
}
