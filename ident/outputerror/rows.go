package outputerror

import "math"

// blocks is how many averages each channel of a stretch is reduced to.
const blocks = 120

// Pressures are weighed first as this many Pa per metre of rod position; the
// spread of the residuals then sets the weights.
const firstPressure = 5e9

// rows are a stretch's residuals: averages of position and pressures over
// blocks of samples, one channel after the other, weighed, less all that the
// unknowns do not explain and need not: see nuisance.
type rows struct {
	c        *course
	size     int // samples per block
	per      int // blocks per channel
	weight   []float64
	basis    [][]float64 // orthonormal columns of the nuisance
	measured []float64   // without the nuisance
	sums     []float64
}

func newRows(c *course) *rows {
	r := &rows{c: c, size: max(1, len(c.x)/blocks), weight: []float64{1}, sums: make([]float64, len(c.x)+1)}
	r.per = len(c.x) / r.size
	if c.Cap != nil {
		r.weight = []float64{1, 1 / firstPressure, 1 / firstPressure}
	}
	return r
}

func (r *rows) len() int { return r.per * len(r.weight) }

// average writes the weighed block means of the channel, y read delay samples ago.
func (r *rows) average(dst []float64, channel int, y []float64, delay float64) {
	for i, v := range y {
		r.sums[i+1] = r.sums[i] + v
	}
	last := float64(len(y))
	// until is the integral of y up to the sample edge t.
	until := func(t float64) float64 {
		switch {
		case t <= 0:
			return t * y[0]
		case t >= last:
			return r.sums[len(y)] + (t-last)*y[len(y)-1]
		}
		i := int(t)
		return r.sums[i] + (t-float64(i))*y[i]
	}
	part, w := dst[channel*r.per:(channel+1)*r.per], r.weight[channel]/float64(r.size)
	before := until(-delay)
	for k := range part {
		next := until(float64((k+1)*r.size) - delay)
		part[k], before = w*(next-before), next
	}
}

// model writes what the machine gives.
func (r *rows) model(dst []float64, m *machine, dv, dp float64) {
	r.c.run(m, dv, dp)
	r.average(dst, 0, r.c.x, m.delay/r.c.Period)
	if len(r.weight) > 1 {
		r.average(dst, 1, r.c.cap, m.lag/r.c.Period)
		r.average(dst, 2, r.c.rod, m.lag/r.c.Period)
	}
}

// residuals writes model less measured, without the nuisance.
func (r *rows) residuals(dst []float64, m *machine) {
	r.model(dst, m, 0, 0)
	remove(r.basis, dst)
	for i, y := range r.measured {
		dst[i] -= y
	}
}

// misfit sets the nuisance and returns the rms of the residuals and of what was measured.
func (r *rows) misfit(m *machine) (left, signal float64) {
	r.nuisance(m)
	residuals := make([]float64, r.len())
	r.residuals(residuals, m)
	size := math.Sqrt(float64(r.len()))
	return norm(residuals) / size, norm(r.measured) / size
}

// nuisance sets the basis: of each channel a level and a slope, of the position
// a curve too, which load, slip and sensors' offsets have a part in and the
// balances of flow and force tell better; and the answers to the start's speed
// and pressure. They are taken at the machine given and held while searching.
func (r *rows) nuisance(m *machine) {
	r.basis = nil
	for channel := range r.weight {
		for degree := range 3 {
			if degree == 2 && channel > 0 {
				continue
			}
			column := make([]float64, r.len())
			for k := range r.per {
				column[channel*r.per+k] = math.Pow(2*float64(k)/float64(r.per-1)-1, float64(degree))
			}
			r.add(column)
		}
	}
	base := make([]float64, r.len())
	r.model(base, m, 0, 0)
	for _, aside := range [][2]float64{{1e-3, 0}, {0, 1e4}} {
		column := make([]float64, r.len())
		r.model(column, m, aside[0], aside[1])
		for i := range column {
			column[i] -= base[i]
		}
		r.add(column)
	}
	r.measured = make([]float64, r.len())
	r.average(r.measured, 0, r.c.Position, 0)
	if len(r.weight) > 1 {
		r.average(r.measured, 1, r.c.Cap, 0)
		r.average(r.measured, 2, r.c.Rod, 0)
	}
	remove(r.basis, r.measured)
}

// add appends the column to the basis, made orthonormal; one that the basis holds already is left out.
func (r *rows) add(column []float64) {
	before := norm(column)
	remove(r.basis, column)
	remove(r.basis, column) // once more, against rounding
	size := norm(column)
	if !(size > 1e-6*before) {
		return
	}
	for i := range column {
		column[i] /= size
	}
	r.basis = append(r.basis, column)
}

// remove takes what lies along the basis out of y.
func remove(basis [][]float64, y []float64) {
	for _, column := range basis {
		along := 0.0
		for i, v := range column {
			along += v * y[i]
		}
		for i, v := range column {
			y[i] -= along * v
		}
	}
}

func norm(y []float64) float64 {
	sum := 0.0
	for _, v := range y {
		sum += v * v
	}
	return math.Sqrt(sum)
}
