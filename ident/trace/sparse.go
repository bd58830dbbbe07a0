package trace

import "slices"

// sparse returns the usual distance (samples) of the values of a channel that is
// written only now and then, the cells between left empty, and the longest run of
// empty cells that belongs to that habit; 0, 0 for others. A channel that is full
// where it is written at all, and lost for the rest, is no such channel.
func sparse(x []float64, c Channel) (every float64, longest int) {
	var apart []int
	last := -1
	for i, v := range x {
		if v != v {
			continue
		}
		if last >= 0 {
			apart = append(apart, i-last)
		}
		last = i
	}
	switch {
	case last < 0:
		return 0, 0
	case len(apart) == 0: // one value, such as a temperature noted at the start
		return float64(len(x)), len(x)
	}
	slices.Sort(apart)
	if apart[(len(apart)-1)/2] < 2 {
		return 0, 0
	}
	const tolerated = 4 // times all distances but the longest: beyond, values are lost
	longest = tolerated * apart[len(apart)-1-len(apart)/20]
	sum, n := 0, 0
	for _, d := range apart {
		if d <= longest {
			sum, n = sum+d, n+1
		}
	}
	if c == OilTemperature { // too slow to be lost between two values
		longest = len(x)
	}
	return float64(sum) / float64(n), longest
}

// conditionSparse conditions a channel whose values stand every samples apart on
// average, with up to longest empty cells between: it is judged by its values
// alone, since a line between two of them hides the noise that a spike is
// measured by. A command holds its value up to the next, as the drive does.
func (g *grid) conditionSparse(d *conditioned, x []float64, c Channel, missing []Span, every float64, longest int) {
	d.held, d.samples = every*g.Period, x
	var at []int
	var values []float64
	for i, v := range x {
		if v == v {
			at, values = append(at, i), append(values, v)
		}
	}
	g.clean(d, values, c, every, func(k int) float64 { return g.start + float64(at[k])*g.Period })
	for k, i := range at {
		x[i] = values[k]
		if c.measured() || k == 0 || i-at[k-1] > longest {
			continue
		}
		for j := at[k-1] + 1; j < i; j++ {
			x[j] = values[k-1]
		}
	}
	if c.measured() {
		drawSparse(x, at, longest)
	}
	_, d.lost, d.gaps = bridge(x, missing, longest)
}

// drawSparse draws smooth curves between values no more than longest samples apart.
func drawSparse(x []float64, at []int, longest int) {
	from := 0
	for k := 1; k <= len(at); k++ {
		if k == len(at) || at[k]-at[k-1] > longest {
			throughKnots(x, at[from:k])
			from = k
		}
	}
}
