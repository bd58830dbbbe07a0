package trace

import (
	"math"
	"slices"
)

// longestBridge is the longest run of missing samples that a straight line may
// stand for; what is longer is a gap.
const longestBridge = 3

// conditioned is one channel ready for the trace, with what was found on the way.
type conditioned struct {
	samples       []float64
	gaps          []Span
	spikes        []Spike
	wrap          Wrap
	bridged, lost int
	held, quantum float64 // s, SI
	dropouts      []Dropout
}

// condition turns a column into a channel's samples on the grid. It works in
// place where the grid allows.
func (g *grid) condition(x []float64, t taken, missing []Span, atStamps bool) conditioned {
	var d conditioned
	if t.channel == MotorPosition {
		d.wrap = t.column.unwrap(x, g.at)
	}
	complete := convert(x, t.channel, t.column)
	if g.at != nil {
		x = g.regrid(x, atStamps)
		complete = allNumbers(x)
	}
	if !complete {
		if every, longest := sparse(x, t.channel); every > 0 {
			g.conditionSparse(&d, x, t.channel, missing, every, longest)
			return d
		}
		d.bridged, d.lost, d.gaps = bridge(x, missing, longestBridge)
	}
	timeAt := func(i int) float64 { return g.start + float64(i)*g.Period }
	g.clean(&d, x, t.channel, 1, timeAt)
	var gaps []Span
	d.dropouts, gaps = dropOut(x, t.channel, g.Period, timeAt)
	d.gaps = append(d.gaps, gaps...)
	d.samples = x
	return d
}

// clean finds in x, whose values stand every samples apart, its step, the spikes,
// which it bridges, and whether the recorder repeats it between updates.
func (g *grid) clean(d *conditioned, x []float64, c Channel, every float64, timeAt func(int) float64) {
	d.quantum = quantum(x)
	if c.measured() {
		d.spikes = despike(x, c, timeAt)
	}
	if n := g.held(x, c, every); n > 0 {
		d.held = float64(n) * every * g.Period
		if c.measured() {
			release(x, n)
		}
	} else if longest, mean := irregularHold(x, d.quantum); longest > 1 && c.measured() && mean*every*g.Period <= longestRest {
		d.held = mean * every * g.Period
		release(x, longest)
	}
}

// allNumbers reports whether every sample is a finite number: v-v is zero, which has
// no bit set, for those alone.
func allNumbers(x []float64) bool {
	var odd uint64
	for _, v := range x {
		odd |= math.Float64bits(v - v)
	}
	return odd == 0
}

// longestRest (s) is how long a recorder may repeat a measured channel.
const longestRest = 2.0

// held returns after how many values, which stand every samples apart, a channel is
// updated that the recorder repeats between updates, and 0 for others.
func (g *grid) held(x []float64, c Channel, every float64) int {
	// Longer than this it is a stepped command or a slow change, not a recorder's habit.
	longest := longestRest
	if !c.measured() {
		longest = 0.05
	}
	if n := heldPeriod(x); float64(n)*every*g.Period <= longest {
		return n
	}
	return 0
}

// regrid puts a column's numbers on the grid. Rows without a place are left out,
// samples without a row are NaN.
func (g *grid) regrid(x []float64, atStamps bool) []float64 {
	if g.at == nil {
		return x
	}
	y := make([]float64, g.n)
	for i := range y {
		y[i] = math.NaN()
	}
	for i, k := range g.at {
		if k >= 0 {
			y[k] = x[i]
		}
	}
	if !atStamps {
		return y
	}
	return g.interpolate(x, y)
}

// interpolate moves the samples from their stamps to the grid along straight
// lines between neighbouring rows; y holds them by row and stays where there is none.
func (g *grid) interpolate(x, y []float64) []float64 {
	rows := make([]int, 0, len(g.at))
	for i, k := range g.at {
		if k >= 0 {
			rows = append(rows, i)
		}
	}
	out := append([]float64(nil), y...)
	for r, i := range rows {
		k := g.at[i]
		want := g.start + float64(k)*g.Period
		a, b := r-1, r
		if g.stamp[i] < want {
			a, b = r, r+1
		}
		if a < 0 || b >= len(rows) {
			continue
		}
		ta, tb := g.stamp[rows[a]], g.stamp[rows[b]]
		if tb-ta > 2.5*g.Period || tb <= ta {
			continue
		}
		u := (want - ta) / (tb - ta)
		if v := x[rows[a]]*(1-u) + x[rows[b]]*u; u >= 0 && u <= 1 && !math.IsNaN(v) {
			out[k] = v
		}
	}
	return out
}

// stampsOnly decides whether the jitter is in the stamps alone: then a fast-moving
// signal is smoother with its rows at even distances than at their stamps.
func (g *grid) stampsOnly(x []float64) bool {
	even := roughness(g.regrid(x, false))
	moved := roughness(g.regrid(x, true))
	// Straight lines smooth noise as well, so they must win clearly.
	return moved > 0.5*even
}

// roughness sums squared third differences over the quarter of x that moves fastest.
func roughness(x []float64) float64 {
	var steps []float64
	stride := max(1, len(x)/4000)
	for i := stride; i < len(x); i += stride {
		if d := math.Abs(x[i] - x[i-1]); !math.IsNaN(d) {
			steps = append(steps, d)
		}
	}
	if len(steps) < 8 {
		return 0
	}
	slices.Sort(steps)
	fast := steps[len(steps)*3/4]
	var sum float64
	for i := 3; i < len(x); i++ {
		if d := math.Abs(x[i-1] - x[i-2]); d >= fast {
			if e := x[i] - 3*x[i-1] + 3*x[i-2] - x[i-3]; !math.IsNaN(e) && math.Abs(e) < 3*d {
				sum += e * e
			}
		}
	}
	return sum
}

// bridge fills runs of missing samples with straight lines, in place. It returns
// how many samples stood in runs of up to longest, how many in longer ones,
// and those as gaps. Samples that already lie in missing rows are filled but not counted.
func bridge(x []float64, missing []Span, longest int) (bridged, lost int, gaps []Span) {
	n := len(x)
	m := 0
	for i := 0; i < n; i++ {
		if !math.IsNaN(x[i]) {
			continue
		}
		end := i
		for end < n && math.IsNaN(x[end]) {
			end++
		}
		if i == 0 && end == n {
			return 0, n, []Span{{0, n}}
		}
		fill(x, i, end)
		for m < len(missing) && missing[m].To <= i {
			m++
		}
		own := end - i
		for k := m; k < len(missing) && missing[k].From < end; k++ {
			own -= min(end, missing[k].To) - max(i, missing[k].From)
		}
		if own > 0 && end-i <= longest {
			bridged += own
		} else if own > 0 {
			lost += own
			gaps = append(gaps, Span{i, end})
		}
		i = end
	}
	return bridged, lost, gaps
}

// fill draws a straight line over [from, to), level at the ends of x.
func fill(x []float64, from, to int) {
	switch {
	case from == 0:
		for i := from; i < to; i++ {
			x[i] = x[to]
		}
	case to == len(x):
		for i := from; i < to; i++ {
			x[i] = x[from-1]
		}
	default:
		a, b := x[from-1], x[to]
		for i := from; i < to; i++ {
			x[i] = a + (b-a)*float64(i-from+1)/float64(to-from+1)
		}
	}
}
