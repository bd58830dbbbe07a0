package drive

import (
	"fmt"
	"math"
	"slices"
	"sort"

	"gonum.org/v1/gonum/mat"

	"eha/strokewise/ident/lsq"
	"eha/strokewise/ident/motion"
	"eha/strokewise/ident/trace"
)

// The stretches on which transients are fitted: windowTime long (s), each with
// its own initial state, at most maxWindows of them, the liveliest first, and
// clear by settleTime (s) of the end of a limited stretch.
const (
	windowTime = 0.2
	maxWindows = 24
	settleTime = 0.06
	// leastChange (rad/s) is what a command must change by to be told from its noise.
	leastChange = 1.0
)

// playedDoubt and closedDoubt are what the model leaves out as a standard deviation, as a
// share, for a command that was played and for one from a loop or behind a ramp in the drive.
const playedDoubt, closedDoubt = 0.05, 0.35

// stretch is one window with its command, motor angle and pressure across the pump.
type stretch struct {
	command  []float64 // from lead samples before the window on
	theta    []float64
	pressure []float64 // nil where not logged
	period   float64
	hold     float64
	lead     int
	energy   float64
}

// fitTransients fits the model in time on changes of the command, by output
// error of the motor angle: for trial values of the three figures each window's
// initial state and the load of pressure are solved for linearly and what is
// left is minimised. Rough against a periodic excitation, and only as good as the
// command is lively, so the result is never better than weak unless the command
// was played (no position command in the log).
func fitTransients(logs []Log, controllerPeriod float64) (found, bool) {
	var all []stretch
	slope := ramp(logs)
	closed, ramped := false, !math.IsInf(slope, 1)
	for _, l := range logs {
		if l.Trace.Has(trace.SpeedCommand, trace.MotorPosition) {
			all = append(all, stretches(l, controllerPeriod, slope)...)
			closed = closed || l.Trace.Has(trace.PositionCommand)
		}
	}
	if len(all) < 5 {
		return found{}, false
	}
	sort.SliceStable(all, func(i, j int) bool { return all[i].energy > all[j].energy })
	all = all[:min(len(all), maxWindows)]
	best, ok := searchStretches(all)
	if !ok || slices.Contains(best.AtBound, true) || best.Cost > mostLeft*mostLeft*variation(all) {
		return found{}, false
	}
	var block []int
	for i, w := range all {
		for range w.theta {
			block = append(block, i)
		}
	}
	f := found{from: fmt.Sprintf("%d stretches of changing command", len(all)), weak: closed || ramped}
	leftOut := playedDoubt
	if closed || ramped {
		leftOut = closedDoubt
	}
	unit := [3]float64{1, 1, 1e-3}
	for k := range unit {
		// For what windows of changing friction and load leave out, in closed loop
		// near the torque limit as a rule; for dead time the floor of estimates does it.
		f.value[k], f.sigma[k] = best.X[k]*unit[k], math.Hypot(2.5*best.BlockStdDev(k, block), leftOut*best.X[k])*unit[k]
		if math.IsInf(f.sigma[k], 0) {
			return found{}, false
		}
	}
	return f, true
}

// mostLeft is the share of the motor angle's departure from straight lines that
// may be left unexplained.
const mostLeft = 0.1

// variation is the sum of squares of the windows' motor angles about a straight
// line from end to end.
func variation(all []stretch) float64 {
	sum := 0.0
	for _, w := range all {
		n := len(w.theta) - 1
		for i, v := range w.theta {
			d := v - w.theta[0] - (w.theta[n]-w.theta[0])*float64(i)/float64(n)
			sum += d * d
		}
	}
	return sum
}

// stretches cuts the log into windows in which the command changes, is nowhere
// steeper than the drive's ramp, slope (rad/s²), and no limit is active.
func stretches(l Log, controllerPeriod, slope float64) []stretch {
	t := l.Trace
	u, _ := t.Samples(trace.SpeedCommand)
	theta, _ := t.Samples(trace.MotorPosition)
	p1, ok1 := t.Samples(trace.CapPressure)
	p2, ok2 := t.Samples(trace.RodPressure)
	n := max(24, int(windowTime/t.Period()))
	lead := int(math.Ceil(0.052/t.Period())) + 1 // room for the longest dead time searched
	settle := int(settleTime / t.Period())
	bad := make([]bool, t.Len())
	for _, lim := range l.Motion.Limits {
		for i := lim.Span.From; i < min(lim.Span.To+settle, t.Len()); i++ {
			bad[i] = true
		}
	}
	var out []stretch
	for _, part := range motion.Stretches(t, n+lead+1) {
		for from := part.From + lead; from+n <= part.To; from += n / 2 {
			w := stretch{command: u[from-lead : from+n], theta: theta[from : from+n], period: t.Period(), hold: holdTime(t, controllerPeriod), lead: lead}
			if slices.Contains(bad[from:from+n], true) || steeper(t, trace.Span{From: from, To: from + n}, slope) {
				continue
			}
			w.energy = liveliness(w.command[lead:])
			if w.energy < math.Max(0.02*l.Motion.TopSpeed, leastChange) {
				continue
			}
			if ok1 && ok2 {
				w.pressure = make([]float64, n)
				for i := range w.pressure {
					w.pressure[i] = (p1[from+i] - p2[from+i]) / pressureUnit
				}
			}
			out = append(out, w)
		}
	}
	return out
}

// liveliness is the root of the summed squares of the command's changes (rad/s).
func liveliness(u []float64) float64 {
	sum := 0.0
	for i := 1; i < len(u); i++ {
		sum += (u[i] - u[i-1]) * (u[i] - u[i-1])
	}
	return math.Sqrt(sum)
}

func searchStretches(all []stretch) (lsq.NonlinearFit, bool) {
	rows := 0
	for _, w := range all {
		rows += len(w.theta)
	}
	p := lsq.Nonlinear{Rows: rows, Lower: []float64{2 * math.Pi * 2, 0.2, 0}, Upper: []float64{2 * math.Pi * 300, 2, 45}, Scale: []float64{100, 1, 1}, MaxIterations: 20}
	p.Residuals = func(dst, x []float64) {
		at := 0
		for _, w := range all {
			w.residual(dst[at:at+len(w.theta)], x)
			at += len(w.theta)
		}
	}
	p.Start = []float64{2 * math.Pi * 35, 0.8, 1.5}
	fit := p.Minimise()
	return fit, fit.Ending != lsq.NotStarted
}

// residual writes what the model leaves of the window's motor angle into dst,
// initial angle, speed and acceleration and the factor of pressure fitted.
func (w stretch) residual(dst, x []float64) {
	n := len(w.theta)
	tr := newTransition(x[0], x[1], w.period)
	columns := 3
	if w.pressure != nil {
		columns = 4
	}
	a, b := mat.NewDense(n, columns, nil), mat.NewVecDense(n, nil)
	var forced, byPressure [3]float64
	bySpeed, byRate := [3]float64{0, 1, 0}, [3]float64{0, 0, x[0]}
	for i := range n {
		b.SetVec(i, w.theta[i]-w.theta[0]-forced[0])
		a.Set(i, 0, 1)
		a.Set(i, 1, bySpeed[0])
		a.Set(i, 2, byRate[0])
		if columns == 4 {
			a.Set(i, 3, byPressure[0])
		}
		forced = tr.step(forced, w.delayed(i, x[2]*1e-3), 0)
		bySpeed, byRate = tr.step(bySpeed, 0, 0), tr.step(byRate, 0, 0)
		if columns == 4 && i+1 < n {
			byPressure = tr.step(byPressure, 0, 0.5*(w.pressure[i]+w.pressure[i+1])-w.pressure[0])
		}
	}
	var qr mat.QR
	qr.Factorize(a)
	var y, left mat.VecDense
	if err := qr.SolveVecTo(&y, false, b); err != nil {
		if _, ill := err.(mat.Condition); !ill {
			y = *mat.NewVecDense(columns, nil)
		}
	}
	left.MulVec(a, &y)
	for i := range dst {
		dst[i] = b.AtVec(i) - left.AtVec(i)
	}
}

// delayed is the mean over the step after sample i of the command delayed by
// deadTime (s): continuous in the dead time, or its slope would be zero. A command
// held for less than the log's period is taken along the line between its samples.
func (w stretch) delayed(i int, deadTime float64) float64 {
	// The middle of a hold shorter than the period comes earlier by half the difference.
	at := float64(w.lead+i) - (deadTime-(w.period-w.hold)/2)/w.period
	k := int(math.Floor(at))
	share := at - float64(k)
	last := len(w.command) - 1
	k = min(max(k, 0), last)
	return w.command[k] + share*(w.command[min(k+1, last)]-w.command[k])
}

// transition advances (θ, n, z) by one period, z being n' plus the pressure's share.
type transition struct{ a, command, pressure [3][3]float64 }

func newTransition(omega, zeta, h float64) transition {
	// θ' = n, n' = z - q, z' = ω²(u - n) - 2ζω(z - q); u and q constant over the step.
	var full [5][5]float64
	full[0][1] = 1
	full[1][2], full[1][4] = 1, -1
	full[2][1], full[2][2], full[2][3], full[2][4] = -omega*omega, -2*zeta*omega, omega*omega, 2*zeta*omega
	e := exponential(full, h)
	var t transition
	for i := range 3 {
		copy(t.a[i][:], e[i][:3])
		t.command[i][0], t.pressure[i][0] = e[i][3], e[i][4]
	}
	return t
}

func (t *transition) step(s [3]float64, u, q float64) [3]float64 {
	var out [3]float64
	for i := range out {
		out[i] = t.a[i][0]*s[0] + t.a[i][1]*s[1] + t.a[i][2]*s[2] + t.command[i][0]*u + t.pressure[i][0]*q
	}
	return out
}

// exponential returns e^(A·h) by its series on a step halved until it is short.
func exponential(a [5][5]float64, h float64) [5][5]float64 {
	size := 0.0
	for _, row := range a {
		for _, v := range row {
			size = max(size, math.Abs(v))
		}
	}
	halvings := 0
	for s := math.Sqrt(size) * h; s > 0.25; s /= 2 {
		halvings++
	}
	h /= math.Pow(2, float64(halvings))
	var sum, term [5][5]float64
	for i := range sum {
		sum[i][i], term[i][i] = 1, 1
	}
	for k := 1; k < 24; k++ {
		term = product(term, a)
		for i := range term {
			for j := range term {
				term[i][j] *= h / float64(k)
				sum[i][j] += term[i][j]
			}
		}
	}
	for range halvings {
		sum = product(sum, sum)
	}
	return sum
}

func product(a, b [5][5]float64) [5][5]float64 {
	var out [5][5]float64
	for i := range out {
		for j := range out {
			for k := range out {
				out[i][j] += a[i][k] * b[k][j]
			}
		}
	}
	return out
}
