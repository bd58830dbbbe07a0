package compare

import (
	"math"
	"sort"

	"eha/strokewise/ident/plant"
	"eha/strokewise/ident/trace"
)

// band is the share of the travel within which a move counts as settled.
const band = 0.02

// reading is one figure of one repeat with the doubt (one standard deviation) that reading it off adds;
// ok is false where the repeat does not hold it.
type reading struct {
	value, doubt float64
	ok           bool
}

// readings holds every figure of one repeat.
type readings [numFigures]reading

// course is one repeat cut out of its log.
type course struct {
	passage
	period float64
	x      []float64 // m, rod from the start on, averaged over a few samples
	r      []float64 // m, command; nil without
	first  int       // index in the log of the first sample
	doubt  float64   // m, one standard deviation of the noise left in x
}

// cutOut returns the repeat over the window (s), its rod position averaged over
// smoothing (s).
func (p passage) cutOut(window, smoothing float64) course {
	all, _ := p.trace.Samples(trace.RodPosition)
	n := min(int(window/p.trace.Period()+1e-9), len(all)-p.start)
	half := int(smoothing/p.trace.Period()+0.5) / 2
	c := course{passage: p, period: p.trace.Period(), first: p.start, doubt: p.noise[trace.RodPosition] / math.Sqrt(float64(2*half+1))}
	c.x = averaged(all, p.start, n, half)
	if r, ok := p.trace.Samples(trace.PositionCommand); ok && p.kind != Motion {
		c.r = r[p.start : p.start+n]
	}
	return c
}

// averaged returns n samples from start on, each the mean of itself and half
// neighbours on either side where the log holds them.
func averaged(y []float64, start, n, half int) []float64 {
	out := make([]float64, n)
	for i := range out {
		at := start + i
		out[i] = mean(y[max(at-half, 0):min(at+half+1, len(y))])
	}
	return out
}

// noiseOf returns one standard deviation of the noise of y from its second differences,
// which motion hardly enters, sampling at most some 4000 places.
func noiseOf(y []float64) float64 {
	stride := max(len(y)/4000, 1)
	var d []float64
	for i := 1; i < len(y)-1; i += stride {
		d = append(d, math.Abs(y[i-1]-2*y[i]+y[i+1]))
	}
	if len(d) == 0 {
		return 0
	}
	sort.Float64s(d)
	// The median of |d| is 0.6745 standard deviations of a normal, and d has √6 of y's.
	return d[len(d)/2] / 0.6745 / math.Sqrt(6)
}

// read measures every figure of the repeat. Areas may be nil.
func (c course) read(areas *plant.PerChamber[float64]) readings {
	var out readings
	size := c.to - c.from
	share := make([]float64, len(c.x))
	for i, x := range c.x {
		share[i] = (x - c.from) / size
	}
	grid := c.period / math.Sqrt(12)
	if rise := crossing(share, 0.9) - crossing(share, 0.1); !math.IsInf(rise, 0) && !math.IsNaN(rise) {
		out[Rise] = reading{rise * c.period, grid, true}
	}
	out[Settling] = c.settling(share, grid)
	out[Overshoot] = reading{math.Max(largest(share)-1, 0), c.doubt / math.Abs(size), true}
	c.readErrors(&out)
	tail := c.tail()
	out[Hunting] = reading{swing(tail), c.doubt, true}
	c.readLoad(&out, areas)
	return out
}

// settling doubts a settling time that a slightly different width of the band would
// change: a ripple that just touches the band moves it by a whole period.
func (c course) settling(share []float64, grid float64) reading {
	edge := math.Min(math.Max(0.05*band, 3*c.doubt/math.Abs(c.to-c.from)), band/2)
	at, narrow, wide := enters(share, band), enters(share, band-edge), enters(share, band+edge)
	if math.IsInf(at, 1) {
		return reading{}
	}
	if math.IsInf(narrow, 1) {
		narrow = float64(len(share))
	}
	return reading{at * c.period, math.Hypot(grid, (narrow-wide)/2*c.period), true}
}

// readErrors measures what needs a command.
func (c course) readErrors(out *readings) {
	if c.r == nil {
		return
	}
	peak, square := 0.0, 0.0
	for i, r := range c.r {
		e := math.Abs(r - c.x[i])
		peak = math.Max(peak, e)
		square += e * e / float64(len(c.r))
	}
	out[FollowingPeak] = reading{peak, c.doubt, true}
	out[FollowingRMS] = reading{math.Sqrt(square), c.doubt / 3, true}
	out[FinalError] = reading{math.Abs(mean(c.tail()) - c.r[len(c.r)-1]), c.doubt / 3, true}
}

// tail returns the end of the window in which the command stands: its last
// third, at least 0.1 s.
func (c course) tail() []float64 {
	stands := len(c.x) - (c.end - c.start)
	n := max(stands/3, int(0.1/c.period))
	return c.x[max(len(c.x)-n, 0):]
}

// readLoad measures pressure, speed and work.
func (c course) readLoad(out *readings, areas *plant.PerChamber[float64]) {
	n, t := len(c.x), c.trace
	half := max(int(2e-3/c.period+0.5), 0)
	cap1, hasCap := t.Samples(trace.CapPressure)
	rod, hasRod := t.Samples(trace.RodPressure)
	if hasCap && hasRod {
		a, b := averaged(cap1, c.first, n, half), averaged(rod, c.first, n, half)
		peak := math.Max(largest(a), largest(b))
		out[PeakPressure] = reading{peak, c.noise[trace.CapPressure] + c.noise[trace.RodPressure], true}
		if areas != nil {
			work := 0.0
			for i := 1; i < n; i++ {
				work += math.Max(0, (a[i]*areas.Cap-b[i]*areas.Rod)*(c.x[i]-c.x[i-1]))
			}
			out[OilWork] = reading{work, 0.002 * work, true}
		}
	}
	if theta, ok := t.Samples(trace.MotorPosition); ok {
		k := max(int(5e-3/c.period+0.5), 1)
		peak := 0.0
		for i := c.first; i+k < c.first+n; i++ {
			peak = math.Max(peak, math.Abs(theta[i+k]-theta[i]))
		}
		out[PeakSpeed] = reading{peak / (float64(k) * c.period), 0.002 * peak / (float64(k) * c.period), true}
	} else if speed, ok := t.Samples(trace.MotorSpeed); ok {
		s := averaged(speed, c.first, n, half)
		for i := range s {
			s[i] = math.Abs(s[i])
		}
		out[PeakSpeed] = reading{largest(s), c.noise[trace.MotorSpeed], true}
	}
}

// crossing returns the first index, between samples, at which share reaches level.
func crossing(share []float64, level float64) float64 {
	for i, s := range share {
		switch {
		case s < level:
		case i == 0:
			return 0
		default:
			return float64(i) - (s-level)/(s-share[i-1])
		}
	}
	return math.Inf(1)
}

// enters returns the index, between samples, at which share enters the band about
// 1 for good, +Inf where it does not.
func enters(share []float64, width float64) float64 {
	for i := len(share) - 1; i >= 0; i-- {
		off := share[i] - 1
		switch {
		case math.Abs(off) <= width:
		case i == len(share)-1:
			return math.Inf(1)
		default:
			edge := math.Copysign(width, off)
			return float64(i) + (off-edge)/(share[i]-share[i+1])
		}
	}
	return 0
}

func largest(y []float64) float64 {
	most := math.Inf(-1)
	for _, v := range y {
		most = math.Max(most, v)
	}
	return most
}

// swing returns half of peak to peak of y less its straight line.
func swing(y []float64) float64 {
	if len(y) < 3 {
		return 0
	}
	return spread(detrended(y)) / 2
}

// detrended returns y less its straight line.
func detrended(y []float64) []float64 {
	n := float64(len(y))
	centre, level := (n-1)/2, mean(y)
	var up, across float64
	for i, v := range y {
		d := float64(i) - centre
		up += d * (v - level)
		across += d * d
	}
	out := make([]float64, len(y))
	for i, v := range y {
		out[i] = v - level - up/across*(float64(i)-centre)
	}
	return out
}

// cycle returns the period (s) of an oscillation in y from where it rises past half
// its swing, having fallen past the other half before; 0 where it swings no more than the floor
// or for less than two periods.
func cycle(y []float64, period, floor float64) float64 {
	if len(y) < 3 || swing(y) < floor {
		return 0
	}
	level := swing(y) / 2
	var rises []int
	below := false
	for i, v := range detrended(y) {
		switch {
		case v < -level:
			below = true
		case v > level && below:
			below = false
			rises = append(rises, i)
		}
	}
	if len(rises) < 3 {
		return 0
	}
	return float64(rises[len(rises)-1]-rises[0]) / float64(len(rises)-1) * period
}
