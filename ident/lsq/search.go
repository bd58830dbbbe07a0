package lsq

import (
	"fmt"
	"math"
	"slices"

	"gonum.org/v1/gonum/mat"
)

// search is the state of one minimisation.
type search struct {
	p    Nonlinear
	fit  NonlinearFit
	jac  *mat.Dense
	size []float64 // longest Jacobian column seen, per unknown
}

func (s *search) run() {
	limit := s.p.MaxIterations
	if limit == 0 {
		limit = 200
	}
	damp := 1e-3
	trial := make([]float64, s.p.Rows)
	for s.fit.Iterations = 0; s.fit.Iterations < limit; s.fit.Iterations++ {
		s.jacobian()
		moved := false
		for damp < largestDamp {
			step, err := s.step(damp)
			if err != nil {
				damp *= 10
				continue
			}
			x := slices.Clone(s.fit.X)
			for k := range x {
				x[k] += step[k]
			}
			s.p.clamp(x)
			cost := s.cost(trial, x)
			if cost < s.fit.Cost {
				gain := (s.fit.Cost - cost) / s.fit.Cost
				small := s.relativeMove(x) < smallestStep || gain < max(s.p.Settled, smallestGain)
				copy(s.fit.X, x)
				copy(s.fit.Residual, trial)
				s.fit.Cost = cost
				damp = max(damp/10, 1e-12)
				if small || cost == 0 {
					s.fit.Ending = Converged
					return
				}
				moved = true
				break
			}
			if s.relativeMove(x) < smallestStep {
				break
			}
			damp *= 10
		}
		if !moved {
			s.fit.Ending = Stalled
			if s.flat() {
				s.fit.Ending = Converged
			}
			return
		}
	}
	s.fit.Ending = OutOfSteps
}

func (s *search) cost(dst, x []float64) float64 {
	s.fit.Evaluations++
	s.p.Residuals(dst, x)
	sum := 0.0
	for _, r := range dst {
		sum += r * r
	}
	return sum
}

// jacobian fills in the derivatives of the residuals by central differences,
// one-sided at a bound.
func (s *search) jacobian() {
	up, down := make([]float64, s.p.Rows), make([]float64, s.p.Rows)
	for k := range s.fit.X {
		h := differenceStep * s.scale(k)
		hi, lo := slices.Clone(s.fit.X), slices.Clone(s.fit.X)
		hi[k] += h
		lo[k] -= h
		s.p.clamp(hi)
		s.p.clamp(lo)
		width := hi[k] - lo[k]
		finite := isFinite(s.cost(up, hi)) && isFinite(s.cost(down, lo))
		length := 0.0
		for i := range up {
			d := 0.0
			if finite && width > 0 {
				d = (up[i] - down[i]) / width
			}
			s.jac.Set(i, k, d)
			length += d * d
		}
		s.size[k] = max(s.size[k], math.Sqrt(length))
	}
}

func (s *search) scale(k int) float64 {
	floor := math.Abs(s.p.Start[k])
	if s.p.Scale != nil {
		floor = s.p.Scale[k]
	}
	if floor == 0 {
		floor = 1
	}
	// A start far off must not fix the size for ever.
	return max(math.Abs(s.fit.X[k]), 1e-3*floor)
}

// step solves the damped problem [J; sqrt(damp)·D] δ = [-r; 0]. Unknowns on a
// bound that the descent pushes against stay where they are.
func (s *search) step(damp float64) ([]float64, error) {
	m, n := s.jac.Dims()
	a, b := mat.NewDense(m+n, n, nil), mat.NewVecDense(m+n, nil)
	a.Slice(0, m, 0, n).(*mat.Dense).Copy(s.jac)
	for i, r := range s.fit.Residual {
		b.SetVec(i, -r)
	}
	for k := range n {
		size := s.size[k]
		if size == 0 || s.held(k) {
			for i := range m {
				a.Set(i, k, 0)
			}
			size = 1
		}
		a.Set(m+k, k, math.Sqrt(damp)*size)
	}
	scale := unitColumns(a)
	var qr mat.QR
	qr.Factorize(a)
	x := mat.NewVecDense(n, nil)
	if err := qr.SolveVecTo(x, false, b); err != nil {
		if _, ill := err.(mat.Condition); !ill || !isFinite(mat.Norm(x, 2)) {
			return nil, fmt.Errorf("lsq: step: %w", err)
		}
	}
	step := make([]float64, n)
	for k := range step {
		step[k] = x.AtVec(k) / scale[k]
	}
	return step, nil
}

// held reports whether unknown k lies on a bound and the slope points outwards.
func (s *search) held(k int) bool {
	slope := s.slope(k)
	return s.p.Lower != nil && s.fit.X[k] <= s.p.Lower[k] && slope > 0 ||
		s.p.Upper != nil && s.fit.X[k] >= s.p.Upper[k] && slope < 0
}

// slope is half the derivative of the sum of squares by unknown k.
func (s *search) slope(k int) float64 {
	sum := 0.0
	for i, r := range s.fit.Residual {
		sum += r * s.jac.At(i, k)
	}
	return sum
}

// flat reports whether the residuals are as good as orthogonal to all columns
// of the Jacobian that may still move.
func (s *search) flat() bool {
	length := math.Sqrt(s.fit.Cost)
	for k := range s.fit.X {
		if s.held(k) || s.size[k] == 0 {
			continue
		}
		if math.Abs(s.slope(k)) > 1e-5*s.size[k]*length {
			return false
		}
	}
	return true
}

func (s *search) relativeMove(x []float64) float64 {
	move := 0.0
	for k := range x {
		move = max(move, math.Abs(x[k]-s.fit.X[k])/s.scale(k))
	}
	return move
}

func (s *search) covariance() *mat.SymDense {
	s.jacobian()
	a := mat.DenseCopyOf(s.jac)
	scale := unitColumns(a)
	var qr mat.QR
	m, n := a.Dims()
	if m < n {
		return nil
	}
	qr.Factorize(a)
	if c := qr.Cond(); !(c < 1e12) {
		return nil
	}
	cov, err := inverseNormal(&qr, scale)
	if err != nil {
		return nil
	}
	return cov
}

func (p Nonlinear) clamp(x []float64) []float64 {
	for k := range x {
		if p.Lower != nil {
			x[k] = math.Max(x[k], p.Lower[k])
		}
		if p.Upper != nil {
			x[k] = math.Min(x[k], p.Upper[k])
		}
	}
	return x
}

func isFinite(v float64) bool { return !math.IsNaN(v) && !math.IsInf(v, 0) }
