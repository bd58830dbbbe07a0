// Package outputerror fits the dynamics of the compact model by output error:
// the model is run on stretches of log with the motor's angle as its input, and
// mass, oil, damping, valve and sensors' delays are searched together until rod
// position and pressures come out as logged.
package outputerror

import (
	"errors"
	"math"
	"slices"

	"eha/strokewise/ident/lsq"
	"eha/strokewise/ident/plant"
)

// Problem is the model to start from and the stretches to explain.
type Problem struct {
	Model plant.Model
	// Chamber, At (m) and Pressure (Pa) say where frequency and damping are meant.
	Chamber      plant.Chamber
	At, Pressure float64
	TopSpeed     float64 // rad/s, of the motor; a share of it is slow travel
	Stretches    []Stretch
	Tried        []Stretch // tried only

	mode  plant.Resonance // of Model there
	blind bool            // no pressures
}

// Number is a fitted value with its standard deviation.
type Number struct{ Value, Sigma float64 }

// Result is where the search ended.
type Result struct {
	Frequency Number // rad/s, undamped
	Damping   Number // ratio, at slow travel
	Delay     Number // s, of the rod position
	Ending    lsq.Ending
	Steps     int
	AtBound   []string // unknowns that ended at their limits
	Used      int      // stretches
	LeftOut   []Unexplained
	// Before and After are the shares of the motion in the stretches tried,
	// nuisance taken out, that the model leaves unexplained with the values to
	// start from and with those found; NaN without such stretches.
	Before, After float64
}

// Unexplained is a stretch that the model cannot explain.
type Unexplained struct {
	Stretch
	Share float64 // of its motion
}

// ErrTooLittle says that there are too few stretches with changing speed.
var ErrTooLittle = errors.New("outputerror: too few stretches of travel with changing speed")

const (
	fewest = 8 // stretches
	// Rounds of the search: weights and nuisance are set anew between them.
	rounds, stepsPerRound = 4, 6
	// settled is the relative gain of the sum of squares below which a search has converged.
	settled = 1e-4
	// A stretch is unexplained if the model leaves this share of its motion, and
	// this many times what it leaves of the stretch in the middle.
	unexplainedShare, unexplainedTimes = 0.2, 10.0
	// faint is the motion, as a share of that of the stretch in the middle, below
	// which a stretch tells nothing.
	faint = 0.3
)

// Fit searches. The standard deviations are those from the spread over
// stretches, each taken as one observation; what the model itself lacks is not
// in them.
//
// It returns ErrTooLittle for fewer than eight stretches that the model explains.
func Fit(p Problem) (Result, error) {
	p.mode = p.Model.Resonance(p.Chamber, p.At, p.Pressure, 1)
	if len(p.Stretches) < fewest || !(p.Model.Mass > 0) || !(p.mode.NaturalFreq > 0) {
		return Result{}, ErrTooLittle
	}
	p.blind = p.Stretches[0].Cap == nil
	s := &search{p: &p, free: allUnknowns, u: p.start()}
	if p.blind {
		s.free = blindUnknowns
	}
	s.begin = s.u
	for i := range p.Stretches {
		s.rows = append(s.rows, newRows(newCourse(&p.Model, p.mode.NaturalFreq, &p.Stretches[i])))
	}
	for round := range rounds {
		s.weigh(round > 0)
		if s.used() < fewest {
			return Result{}, ErrTooLittle
		}
		s.minimise()
		if round > 0 && s.fit.Ending == lsq.Converged && s.fit.Iterations <= 1 {
			break // the weights change nothing any more
		}
	}
	return s.result(), nil
}

// search is a fit on its way.
type search struct {
	p        *Problem
	free     []int
	begin, u [numUnknown]float64
	rows     []*rows
	trust    []float64 // weight of each stretch; 0 for one that is not used
	// middle and usual are the residual and the motion of the stretch in the middle.
	middle, usual float64
	leftOut       []Unexplained
	fit           lsq.NonlinearFit
	steps         int
}

func (s *search) used() int {
	n := 0
	for _, t := range s.trust {
		if t > 0 {
			n++
		}
	}
	return n
}

// weigh sets nuisance and weights anew: of each channel one over the residual in
// the middle of all stretches, of a stretch one over how much worse than that it
// is. Stretches in which next to nothing moves are set aside, and with judge those
// that stay unexplained are left out.
func (s *search) weigh(judge bool) {
	m := s.p.machine(&s.u)
	weight := s.channelWeights(&m)
	left, signal := make([]float64, len(s.rows)), make([]float64, len(s.rows))
	for i, r := range s.rows {
		copy(r.weight, weight)
		left[i], signal[i] = r.misfit(&m)
	}
	s.middle, s.usual = math.Max(median(left), 1e-12), median(signal)
	s.trust, s.leftOut = make([]float64, len(s.rows)), nil
	for i := range s.rows {
		switch {
		case signal[i] < faint*s.usual:
		case judge && s.unexplained(left[i], signal[i]):
			s.leftOut = append(s.leftOut, Unexplained{s.p.Stretches[i], left[i] / signal[i]})
		default:
			s.trust[i] = 1 / math.Max(left[i]/s.middle, 1)
		}
	}
}

// unexplained reports whether the model explains neither most of a stretch's
// motion nor nearly as much as it does of others. Faint motion does not count.
func (s *search) unexplained(left, signal float64) bool {
	return signal > s.usual/2 && left > unexplainedShare*signal && left > unexplainedTimes*s.middle
}

// channelWeights returns, of each channel, one over its residual in the middle of
// all stretches.
func (s *search) channelWeights(m *machine) []float64 {
	weight := make([]float64, len(s.rows[0].weight))
	sizes := make([][]float64, len(weight))
	for _, r := range s.rows {
		r.nuisance(m)
		residuals := make([]float64, r.len())
		r.residuals(residuals, m)
		for c := range sizes {
			sizes[c] = append(sizes[c], norm(residuals[c*r.per:(c+1)*r.per])/r.weight[c]/math.Sqrt(float64(r.per)))
		}
	}
	for c := range weight {
		weight[c] = 1 / math.Max(median(sizes[c]), 1e-12)
	}
	return weight
}

// minimise searches for the free unknowns by Levenberg-Marquardt. What is
// searched is one more than their departure from the start in standard
// deviations of the priors: steps and derivatives then have sizes alike.
func (s *search) minimise() {
	n := len(s.free)
	x, low, high := make([]float64, n), make([]float64, n), make([]float64, n)
	for k, name := range s.free {
		scaled := func(v float64) float64 { return 1 + (v-s.begin[name])/prior[name] }
		x[k], low[k], high[k] = scaled(s.u[name]), scaled(lower[name]), scaled(upper[name])
	}
	total := n
	for _, r := range s.rows {
		total += r.len()
	}
	s.fit = lsq.Nonlinear{Residuals: s.residuals, Rows: total, Start: x, Lower: low, Upper: high, MaxIterations: stepsPerRound, Settled: settled}.Minimise()
	s.steps += s.fit.Iterations
	s.u = s.at(s.fit.X)
}

// at returns the unknowns at x.
func (s *search) at(x []float64) [numUnknown]float64 {
	u := s.u
	for k, name := range s.free {
		u[name] = s.begin[name] + prior[name]*(x[k]-1)
	}
	return u
}

// residuals writes those of all stretches and of the priors for the free unknowns at x.
func (s *search) residuals(dst, x []float64) {
	u := s.at(x)
	m := s.p.machine(&u)
	at := 0
	for i, r := range s.rows {
		part := dst[at : at+r.len()]
		at += r.len()
		if s.trust[i] == 0 {
			clear(part)
			continue
		}
		r.residuals(part, &m)
		for k := range part {
			part[k] *= s.trust[i]
		}
	}
	for k := range x {
		dst[at+k] = x[k] - 1
	}
}

func (s *search) result() Result {
	var block []int
	for i, r := range s.rows {
		for range r.len() {
			block = append(block, i)
		}
	}
	for k := range s.free {
		block = append(block, len(s.rows)+k)
	}
	sigma := func(unknown int) float64 {
		for k, name := range s.free {
			if name == unknown {
				return prior[name] * s.fit.BlockStdDev(k, block)
			}
		}
		return 0
	}
	omega := s.p.mode.NaturalFreq * math.Exp(s.u[frequency])
	out := Result{
		Frequency: Number{omega, omega * sigma(frequency)}, Damping: Number{s.u[damping], sigma(damping)}, Delay: Number{s.u[delay], sigma(delay)},
		Ending: s.fit.Ending, Steps: s.steps, Used: s.used(), LeftOut: s.leftOut,
	}
	for k, at := range s.fit.AtBound {
		if at {
			out.AtBound = append(out.AtBound, names[s.free[k]])
		}
	}
	s.try(&out)
	return out
}

// try sets what the model leaves of the stretches tried with the values to start
// from and with those found, faint motion aside, and names those that it cannot
// explain either way.
func (s *search) try(out *Result) {
	var all, before, after float64
	begin, end := s.p.machine(&s.begin), s.p.machine(&s.u)
	for i := range s.p.Tried {
		r := newRows(newCourse(&s.p.Model, s.p.mode.NaturalFreq, &s.p.Tried[i]))
		copy(r.weight, s.rows[0].weight)
		old, _ := r.misfit(&begin)
		left, signal := r.misfit(&end)
		if signal < faint*s.usual {
			continue
		}
		if s.unexplained(min(left, old), signal) {
			out.LeftOut = append(out.LeftOut, Unexplained{s.p.Tried[i], min(left, old) / signal})
			continue
		}
		all, before, after = all+signal*signal, before+old*old, after+left*left
	}
	out.Before, out.After = math.Sqrt(before/all), math.Sqrt(after/all)
}

func median(v []float64) float64 {
	sorted := slices.Clone(v)
	slices.Sort(sorted)
	return sorted[len(sorted)/2]
}
