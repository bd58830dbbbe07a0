package quality

import (
	"fmt"
	"math"

	"eha/strokewise/ident/lsq"
	"eha/strokewise/ident/motion"
	"eha/strokewise/ident/plant"
	"eha/strokewise/ident/trace"
)

// clocks is what skew finds; known is false where it cannot tell.
type clocks struct {
	rod, pressure lag
	high          trace.Channel // the pressure that was judged, NoChannel without pressures
	known         bool
}

// lag is by how much a channel comes behind the encoder, with the half-width of its 95 % interval (s).
type lag struct{ value, width float64 }

// The windows over which skew is judged, and the frames at their ends (s): short
// enough to follow a resonance of some 25 Hz, and no more windows than needed.
const (
	skewFrame   = 0.005
	skewWindow  = 0.04
	skewWindows = 6000
)

// skew fits the lags of rod position and pressures behind the encoder together. Over
// windows with one direction of travel
//
//	Δx = s·(Δθ - τ·Δn) - e·∫(p1-p2)dt - Σ c_i·(Δp_i + δ_i·Δp_i')
//
// with s the stroke per turn, τ the lag of the rod position, e slip, c_i what the oil
// of each side takes up and δ_i the lags of the pressures. Only the side that
// mostly carries the load gives a lag, and a rough one: good to some 2 ms. The
// intervals are widened for the windows' overlap and for what the model leaves out.
func (v *view) skew() clocks {
	step := max(1, int(math.Round(skewFrame/v.t.Period())))
	f := v.fine(step)
	if f == nil {
		return clocks{}
	}
	dt := float64(step) * v.t.Period()
	w := max(3, int(math.Round(skewWindow/dt)))
	count := len(f.theta)
	starts := v.skewStarts(f, count, w, step)
	if len(starts) < 300 {
		return clocks{}
	}
	high := trace.CapPressure
	columns, y := f.rows(starts, w, dt)
	fit, err := lsq.Linear{Columns: columns, Y: y}.SolveRobust(3)
	if err != nil {
		return clocks{}
	}
	// Overlapping windows repeat each other, and the noise of the model is not white.
	widen := 2.5 * 1.96 * math.Sqrt(math.Max(1, float64(w*len(starts))/float64(count)))
	s := (fit.X[0] + fit.X[1]) / 2
	rodLag := lag{-fit.X[2] / s, widen * fit.StdDev(2) / math.Abs(s)}
	if f.p == nil {
		return clocks{rodLag, lag{0, math.Inf(1)}, trace.NoChannel, true}
	}
	c, cd := 4, 6
	if math.Abs(fit.X[5])/fit.StdDev(5) > math.Abs(fit.X[4])/fit.StdDev(4) {
		c, cd, high = 5, 7, trace.RodPressure
	}
	relative := 1.96 * 2.5 * fit.StdDev(c) / math.Abs(fit.X[c])
	pressureLag := lag{fit.X[cd] / fit.X[c], widen * fit.StdDev(cd) / math.Abs(fit.X[c])}
	if relative > 0.5 {
		pressureLag.width = math.Inf(1)
	}
	return clocks{rodLag, pressureLag, high, true}
}

// The lags that a transducer or a pressure input with its filter explains (s): up to
// 5 ms as a rule, and never before the encoder (common practice, no source). Beyond 12 ms
// no filter for a control loop is left as explanation.
const (
	leastLag = -0.0007
	usualLag = 0.005
	mostLag  = 0.012
)

// lags compares the clocks of rod position and pressures with the encoder's. A sensor's own
// delay cannot be told from a skewed clock; what no sensor does is reported as harm.
func (v *view) lags() []Finding {
	if !v.clocks.known {
		return nil
	}
	pressure, high := v.clocks.pressure, v.clocks.high
	if f, ok := v.rodLag(v.clocks.rod); ok {
		return []Finding{f} // the pressures were judged by the rod position
	}
	size := math.Abs(pressure.value) - pressure.width
	if pressure.width > 0.003 || size < usualLag {
		return nil
	}
	severity := Note
	if size > mostLag-0.003 {
		severity = Harm
	}
	return []Finding{v.finding(TimeSkew, severity, high, waveParams,
		fmt.Sprintf("%s is about %.0f ms off the clock of encoder and rod position (± %.0f ms).", high.Words(), 1e3*math.Abs(pressure.value), 1e3*(pressure.width+0.002)),
		"Record all channels on one clock, or join the recordings with + so that the skew is fitted.")}
}

// rodSkewed reports whether the rod position is surely off the encoder's clock by more
// than a usual sensor.
func (v *view) rodSkewed() bool {
	c := v.clocks
	return c.known && (c.rod.value+c.rod.width < 2*leastLag || c.rod.value-c.rod.width > usualLag)
}

func (v *view) rodLag(rod lag) (Finding, bool) {
	text := fmt.Sprintf("%s comes %.1f ± %.1f ms", trace.RodPosition.Words(), 1e3*math.Abs(rod.value), 1e3*rod.width)
	do := "Record all channels on one clock, or join the recordings with + so that the skew is fitted."
	if !v.has(trace.CapPressure, trace.RodPressure) && rod.value > 3*leastLag && rod.value < 3*mostLag {
		return Finding{}, false // the oil's own give cannot be told from a lag without pressures
	}
	switch {
	case rod.value+rod.width < leastLag-0.2*v.t.Period():
		return v.finding(TimeSkew, Harm, trace.RodPosition, waveParams, text+" before the encoder, which no sensor does.", do), true
	case rod.value-rod.width > mostLag:
		return v.finding(TimeSkew, Harm, trace.RodPosition, waveParams, text+" behind the encoder, more than a sensor explains.", do), true
	case rod.value-rod.width > usualLag:
		return v.finding(TimeSkew, Note, trace.RodPosition, waveParams, text+" behind the encoder: a slow transducer, or a skewed clock.", "It is taken as the transducer's delay. "+do), true
	}
	return Finding{}, false
}

// fineFrames are means over frames shorter than those of a view.
type fineFrames struct {
	theta, x []float64
	p        [][]float64 // both pressures, nil without
}

func (v *view) fine(step int) *fineFrames {
	theta, ok := v.samples(trace.MotorPosition)
	x, ok2 := v.samples(trace.RodPosition)
	if !ok || !ok2 {
		return nil
	}
	count := v.t.Len() / step
	f := &fineFrames{theta: means(theta, step, count), x: means(x, step, count)}
	p1, ok := v.samples(trace.CapPressure)
	p2, ok2 := v.samples(trace.RodPressure)
	if ok && ok2 {
		f.p = [][]float64{means(p1, step, count), means(p2, step, count)}
	}
	return f
}

// skewStarts picks the windows: one direction of travel throughout, no filler, no
// pressing, and of those the ones in which the speed changes most.
func (v *view) skewStarts(f *fineFrames, count, w, step int) []int {
	bad := make([]bool, count)
	for _, g := range v.t.Gaps() {
		for k := g.From / step; k <= (g.To-1)/step && k < count; k++ {
			bad[k] = true
		}
	}
	for _, s := range v.motion.Segments {
		if s.Kind == motion.Pressing || s.Kind == motion.Rest {
			for k := s.Span.From / step; k <= (s.Span.To-1)/step && k < count; k++ {
				bad[k] = true
			}
		}
	}
	blocked := make([]int, count+1)
	for k := range bad {
		blocked[k+1] = blocked[k]
		if bad[k] {
			blocked[k+1]++
		}
	}
	slow := 0.03 * v.motion.TopSpeed * float64(step) * v.t.Period()
	var starts []int
	var changes []float64
	for k := 1; k+w+1 < count; k += 2 {
		if blocked[k+w+2] > blocked[k-1] {
			continue
		}
		a, b := f.theta[k+1]-f.theta[k-1], f.theta[k+w+1]-f.theta[k+w-1]
		if a*b <= 0 || math.Min(math.Abs(a), math.Abs(b)) < 2*slow {
			continue
		}
		starts = append(starts, k)
		changes = append(changes, math.Abs(b-a))
	}
	if len(starts) <= skewWindows {
		return starts
	}
	limit := quantile(changes, 1-float64(skewWindows)/float64(len(starts)))
	var kept []int
	for i, k := range starts {
		if changes[i] >= limit {
			kept = append(kept, k)
		}
	}
	return kept
}

// rows builds the regression: travel by direction, change of speed, slip, and with
// pressures their changes and the changes of their rates.
func (f *fineFrames) rows(starts []int, w int, dt float64) (columns [][]float64, y []float64) {
	n := 4
	if f.p != nil {
		n = 8
	}
	columns = make([][]float64, n)
	for j := range columns {
		columns[j] = make([]float64, len(starts))
	}
	y = make([]float64, len(starts))
	rate := func(y []float64, k int) float64 { return (y[k+1] - y[k-1]) / (2 * dt) }
	for i, k := range starts {
		turned := f.theta[k+w] - f.theta[k]
		columns[int(extendOrRetract(turned))][i] = turned
		columns[2][i] = rate(f.theta, k+w) - rate(f.theta, k)
		columns[3][i] = float64(w) * dt
		y[i] = f.x[k+w] - f.x[k]
		if f.p == nil {
			continue
		}
		var across float64
		for j := k; j < k+w; j++ {
			across += f.p[0][j+1] - f.p[1][j+1]
		}
		columns[3][i] = across * dt
		for side, p := range f.p {
			columns[4+side][i] = p[k+w] - p[k]
			columns[6+side][i] = rate(p, k+w) - rate(p, k)
		}
	}
	return columns, y
}

func extendOrRetract(turned float64) plant.Direction {
	if turned < 0 {
		return plant.Retract
	}
	return plant.Extend
}
