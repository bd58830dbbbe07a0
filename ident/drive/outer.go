package drive

import (
	"fmt"
	"math"

	"eha/strokewise/ident/lsq"
	"eha/strokewise/ident/plant"
	"eha/strokewise/ident/trace"
)

// Law is what is known of the position loop that ran while a log was made. The
// zero value is a plain proportional loop of unknown gain.
type Law struct {
	// Gain is the gain on the position error (rad/s at the motor per m); zero
	// where unknown. Known, it takes away most of the doubt: gain and delay are
	// told apart only by the lag of the drive.
	Gain            plant.PerDirection[float64]
	Lowpass         float64 // rad/s, corner on the speed demand; 0 for none
	PressureDamping float64 // rad/s per Pa; 0 for none
	Highpass        float64 // rad/s, corner of the pressure damping's high-pass
	AreaRatio       float64 // rod-side over cap-side area, for the pressure damping
}

// Loop is what a closed-loop log shows of the loop around the drive.
type Loop struct {
	Delay plant.Estimate              // s, logged rod position to speed command
	Gain  plant.PerDirection[float64] // rad/s at the motor per m of error; 0 where unknown
}

// sharp is how much worse a delay of one sample must explain the command than
// none for none to be believed; else the log does not tell.
const sharp = 1.5

// longestDelay (s) is the end of the search; slower loops are no use.
const longestDelay = 0.025

// FitLoop fits the law
//
//	n_cmd = K±·(r - x(t-δ)) + c·r' + Ki·∫(r - x) + n₀
//
// to logs that hold position command, rod position and speed command, with the
// low-pass and pressure damping of law taken into account. Its δ is the time from
// the logged position to the command that answers it. Without such a log, or
// where the log follows another law, the delay is missing.
func FitLoop(logs []Log, law Law) Loop {
	var best Loop
	for _, l := range logs {
		if !l.Trace.Has(trace.PositionCommand, trace.RodPosition, trace.SpeedCommand) {
			continue
		}
		got, ok := fitLoop(newLoopLog(l, law))
		if ok && (!best.Delay.Known() || got.Delay.HalfWidth() < best.Delay.HalfWidth()) {
			best = got
		}
	}
	if !best.Delay.Known() {
		best.Delay = plant.MissingFrom("log position_steps in closed loop with position command and speed command")
	}
	return best
}

// loopLog is one closed-loop log, ready for the regression.
type loopLog struct {
	u, x, r, ff, sum, damp []float64
	rows                   []int
	period, lowpass        float64
	known                  plant.PerDirection[float64]
}

func newLoopLog(l Log, law Law) loopLog {
	t := l.Trace
	g := loopLog{period: t.Period(), lowpass: law.Lowpass, known: law.Gain}
	g.u, _ = t.Samples(trace.SpeedCommand)
	g.x, _ = t.Samples(trace.RodPosition)
	g.r, _ = t.Samples(trace.PositionCommand)
	n := t.Len()
	g.ff, g.sum = make([]float64, n), make([]float64, n)
	stepped := make([]bool, n)
	for i := 1; i < n; i++ {
		g.ff[i] = (g.r[i] - g.r[i-1]) / g.period
		g.sum[i] = g.sum[i-1] + (g.r[i]-g.x[i])*g.period
		if math.Abs(g.r[i]-g.r[i-1]) > 20*math.Abs(g.x[i]-g.x[i-1])+1e-4 {
			g.ff[i] = 0 // a step has no rate
			// When exactly the controller saw the step the log need not tell.
			for j := max(i-2, 0); j < min(i+5, n); j++ {
				stepped[j] = true
			}
		}
	}
	if law.PressureDamping != 0 {
		g.damp = dampingSignal(t, law)
	}
	force, pressing := t.Samples(trace.ForceCommand)
	largest := 0.0
	for _, v := range g.u {
		largest = max(largest, math.Abs(v))
	}
	margin := int(longestDelay/g.period) + 2
	for i := margin; i < n; i++ {
		// Where the command did not change the controller did not run, or the loop rested.
		if stepped[i] || g.u[i] == g.u[i-1] || math.Abs(g.u[i]) > 0.98*largest || pressing && force[i] != 0 {
			continue
		}
		g.rows = append(g.rows, i)
	}
	g.rows = keepOutOfGaps(g.rows, t, margin)
	return g
}

func keepOutOfGaps(rows []int, t *trace.Trace, margin int) []int {
	kept := rows[:0]
	gaps, at := t.Gaps(), 0
	for _, i := range rows {
		for at < len(gaps) && gaps[at].To+margin <= i {
			at++
		}
		if at == len(gaps) || i < gaps[at].From {
			kept = append(kept, i)
		}
	}
	return kept
}

// dampingSignal is the high-passed load pressure of the control law, p_cap - p_rod·A_rod/A_cap.
func dampingSignal(t *trace.Trace, law Law) []float64 {
	a, okA := t.Samples(trace.CapPressure)
	b, okB := t.Samples(trace.RodPressure)
	if !okA || !okB {
		return nil
	}
	share := 1 - math.Exp(-law.Highpass*t.Period())
	out := make([]float64, len(a))
	low := a[0] - b[0]*law.AreaRatio
	for i := range out {
		p := a[i] - b[i]*law.AreaRatio
		low += share * (p - low)
		out[i] = law.PressureDamping * (p - low)
	}
	return out
}

func fitLoop(g loopLog) (Loop, bool) {
	if len(g.rows) < 200 {
		return Loop{}, false
	}
	whole, ok := g.search(g.rows)
	if !ok || whole.unexplained > 0.1 {
		return Loop{}, false
	}
	// The spread over blocks of the log, which hold different moves.
	const blocks = 6
	sum, n := 0.0, 0.0
	for b := range blocks {
		part := g.rows[b*len(g.rows)/blocks : (b+1)*len(g.rows)/blocks]
		if got, ok := g.search(part); ok {
			sum += (got.delay - whole.delay) * (got.delay - whole.delay)
			n++
		}
	}
	if n < 3 {
		return Loop{}, false
	}
	// A quarter of a sample and 3 %: the law may hold more than was fitted.
	half := 1.96*math.Sqrt(sum/(n*(n-1))) + 0.25*g.period + 0.03*whole.delay
	if whole.delay < g.period {
		half = math.Max(half, 0.5*g.period) // from one side only
	}
	if half > math.Max(whole.delay, 2*g.period) {
		return Loop{}, false // gain and delay could not be told apart
	}
	from := fmt.Sprintf("closed loop: speed command against position error, %d samples", len(g.rows))
	delay := plant.OuterDelay.Found(whole.delay, math.Max(whole.delay-half, 0), whole.delay+half, from)
	if half <= g.period {
		delay.Status = plant.Identified // to a sample is close enough, even at no delay
	}
	return Loop{Delay: delay, Gain: whole.gain}, true
}

// loopFit is the best fit over the delays tried.
type loopFit struct {
	delay       float64
	gain        plant.PerDirection[float64]
	unexplained float64 // rms residual over rms command
}

// search tries delays in whole samples, for between samples interpolation
// changes the noise, and refines the best by a parabola.
func (g loopLog) search(rows []int) (loopFit, bool) {
	step := g.period
	count := int(longestDelay/step) + 1
	rows = thin(rows, 1500)
	cost := make([]float64, count)
	best := -1
	for j := range cost {
		_, left, ok := g.solve(rows, float64(j)*step)
		if !ok {
			return loopFit{}, false
		}
		cost[j] = left
		if best < 0 || left < cost[best] {
			best = j
		}
	}
	delay := float64(best) * step
	if best > 0 && best+1 < count {
		a, b, c := cost[best-1], cost[best], cost[best+1]
		if bend := a - 2*b + c; bend > 0 {
			delay += step / 2 * (a - c) / bend
		}
	}
	x, left, ok := g.solve(rows, math.Max(delay, 0))
	if !ok || best == count-1 || best == 0 && cost[1] < sharp*cost[0] {
		return loopFit{}, false
	}
	size := 0.0
	for _, i := range rows {
		size += g.u[i] * g.u[i]
	}
	return loopFit{delay: math.Max(delay, 0), gain: plant.PerDirection[float64]{Extend: x[0], Retract: x[1]}, unexplained: math.Sqrt(left / size)}, true
}

func thin(rows []int, n int) []int {
	if len(rows) <= n {
		return rows
	}
	out := make([]int, n)
	for i := range out {
		out[i] = rows[i*len(rows)/n]
	}
	return out
}

// solve fits the law's gains at one delay and returns the sum of squares left.
func (g loopLog) solve(rows []int, delay float64) ([]float64, float64, bool) {
	p := lsq.Linear{Columns: make([][]float64, 5), Y: make([]float64, len(rows)), Priors: make([]lsq.Prior, 5), MaxCondition: 1e14}
	for k := range p.Columns {
		p.Columns[k] = make([]float64, len(rows))
		// Next to no prior: it only fixes what the rows do not hold, as a rate that is never asked for.
		p.Priors[k].Sigma = 1e9
	}
	for k, gain := range [...]float64{g.known.Extend, g.known.Retract} {
		if gain > 0 {
			p.Priors[k] = lsq.Prior{Value: gain, Sigma: 1e-4 * gain / math.Sqrt(float64(len(rows)))}
		}
	}
	share := 1.0
	if g.lowpass > 0 {
		share = 1 - math.Exp(-g.lowpass*g.period)
	}
	for n, i := range rows {
		at := float64(i) - delay/g.period
		k := int(at)
		f := at - float64(k)
		x := g.x[k] + f*(g.x[min(k+1, len(g.x)-1)]-g.x[k])
		e := g.r[i] - x
		if e >= 0 {
			p.Columns[0][n] = e
		} else {
			p.Columns[1][n] = e
		}
		p.Columns[2][n], p.Columns[3][n], p.Columns[4][n] = g.ff[i], g.sum[i], 1
		// What goes into the low-pass: y = y₋ + share·(u - y₋).
		p.Y[n] = g.u[i-1] + (g.u[i]-g.u[i-1])/share
		if g.damp != nil {
			p.Y[n] += g.damp[i]
		}
	}
	fit, err := p.Solve()
	if err != nil {
		return nil, 0, false
	}
	left := 0.0
	for _, e := range fit.Residual {
		left += e * e * share * share
	}
	return fit.X, left, true
}
