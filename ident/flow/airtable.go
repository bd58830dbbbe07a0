package flow

import "math"

// airTable holds airTerm at equal steps of pressure: a long log asks for it a
// million times, and a power is slow.
type airTable struct {
	from, step float64
	values     []float64
}

// newAirTable covers the pressures of the slices. With 4096 steps over 300 bar
// the straight line between entries is right to better than a part in a thousand
// where the term is steepest, and far better elsewhere.
func newAirTable(pressures ...[]float64) *airTable {
	low, high := math.Inf(1), math.Inf(-1)
	for _, p := range pressures {
		for _, v := range p {
			low, high = math.Min(low, v), math.Max(high, v)
		}
	}
	t := &airTable{from: low, step: math.Max(high-low, 1) / 4096, values: make([]float64, 4098)}
	for i := range t.values {
		t.values[i] = airTerm(low + float64(i)*t.step)
	}
	return t
}

func (t *airTable) at(p float64) float64 {
	s := (p - t.from) / t.step
	i := min(max(int(s), 0), len(t.values)-2)
	return t.values[i] + (s-float64(i))*(t.values[i+1]-t.values[i])
}

// over returns the term at every pressure.
func (t *airTable) over(p []float64) []float64 {
	out := make([]float64, len(p))
	for i, v := range p {
		out[i] = t.at(v)
	}
	return out
}
