package lsq

import (
	"fmt"
	"math"
	"slices"

	"gonum.org/v1/gonum/mat"
)

// Nonlinear is the problem to find x that minimises the sum of squares of the
// residuals inside bounds.
type Nonlinear struct {
	// Residuals writes the residuals at x into dst, which has Rows entries. A
	// residual that is not finite marks x as out of reach; the search turns back.
	Residuals func(dst, x []float64)
	Rows      int
	Start     []float64
	// Lower and Upper are bounds on x, or nil.
	Lower, Upper []float64
	// Scale is the size that a change of each unknown has where its value says
	// nothing, as near zero; nil takes the start's magnitude, or 1 where that is zero.
	Scale         []float64
	MaxIterations int // 0 for 200
}

// Ending says how a search ended.
type Ending int

// The endings.
const (
	NotStarted Ending = iota // the start itself has residuals that are not finite
	Converged                // neither the sum of squares nor the unknowns move any more
	Stalled                  // no step lowers the sum of squares, yet its slope is not zero
	OutOfSteps               // stopped at the largest number of iterations
)

// String returns the ending in words.
func (e Ending) String() string {
	return [...]string{"not started", "converged", "stalled", "out of steps"}[e]
}

// NonlinearFit is where a search ended.
type NonlinearFit struct {
	X           []float64
	Residual    []float64
	Cost        float64 // sum of squares
	Ending      Ending
	AtBound     []bool // which unknowns lie on a bound
	Iterations  int
	Evaluations int
	DOF         int
	cov         *mat.SymDense // (JᵀJ)⁻¹, nil where unknowns cannot be told apart
	jac         *mat.Dense    // at X
}

// Settled reports whether the search converged with no unknown on a bound.
func (f NonlinearFit) Settled() bool {
	return f.Ending == Converged && !slices.Contains(f.AtBound, true)
}

// StdDev returns the standard deviation of unknown k if residuals are
// independent, from their own scatter; +Inf where unknowns cannot be told apart.
func (f NonlinearFit) StdDev(k int) float64 {
	if f.cov == nil {
		return math.Inf(1)
	}
	return math.Sqrt(f.Cost / float64(max(f.DOF, 1)) * f.cov.At(k, k))
}

// BlockStdDev returns the standard deviation of unknown k where residuals are
// independent only between blocks: block gives the number from 0 of the block
// that each residual belongs to. It is the sandwich estimate with blocks/(blocks-1)
// as correction for few of them; +Inf where unknowns cannot be told apart or there
// are fewer than two blocks. It panics if len(block) is not the number of residuals.
//
// K.-Y. Liang and S. L. Zeger, Biometrika 73, 1986, pp. 13-22 (value from memory).
func (f NonlinearFit) BlockStdDev(k int, block []int) float64 {
	if len(block) != len(f.Residual) {
		panic("lsq: lengths differ")
	}
	if f.cov == nil {
		return math.Inf(1)
	}
	sums := map[int]float64{}
	for i, r := range f.Residual {
		influence := 0.0
		for j := range f.X {
			influence += f.cov.At(k, j) * f.jac.At(i, j)
		}
		sums[block[i]] += influence * r
	}
	n := float64(len(sums))
	if n < 2 {
		return math.Inf(1)
	}
	total := 0.0
	for b := range len(sums) { // in order, so that the result is the same every time
		total += sums[b] * sums[b]
	}
	return math.Sqrt(total * n / (n - 1))
}

const (
	// The relative step of a central difference that balances rounding against
	// curvature is the cube root of the rounding error.
	differenceStep = 6e-6
	// A relative gain this small is below what residuals computed in double
	// precision can show.
	smallestGain = 1e-14
	smallestStep = 1e-12
	largestDamp  = 1e16
)

// Minimise searches by the Levenberg-Marquardt method with the unknowns scaled
// by the longest columns of the Jacobian seen, derivatives by central
// differences, and steps cut at the bounds. It panics if lengths differ or
// nothing is to be found.
//
// J. J. Moré, "The Levenberg-Marquardt algorithm: implementation and theory",
// in Numerical Analysis, Lecture Notes in Mathematics 630, Springer 1978,
// pp. 105-116 (scaling); the damping rule is the plain one of tenfold steps.
func (p Nonlinear) Minimise() NonlinearFit {
	n := len(p.Start)
	if n == 0 || p.Rows <= 0 || p.Lower != nil && len(p.Lower) != n || p.Upper != nil && len(p.Upper) != n || p.Scale != nil && len(p.Scale) != n {
		panic("lsq: lengths differ")
	}
	s := &search{p: p, jac: mat.NewDense(p.Rows, n, nil), size: make([]float64, n)}
	s.fit = NonlinearFit{X: p.clamp(slices.Clone(p.Start)), Residual: make([]float64, p.Rows), DOF: p.Rows - n}
	s.fit.Cost = s.cost(s.fit.Residual, s.fit.X)
	if !isFinite(s.fit.Cost) {
		return s.fit
	}
	s.run()
	s.fit.AtBound = make([]bool, n)
	for k, x := range s.fit.X {
		s.fit.AtBound[k] = p.Lower != nil && x <= p.Lower[k] || p.Upper != nil && x >= p.Upper[k]
	}
	s.fit.cov = s.covariance()
	s.fit.jac = s.jac
	return s.fit
}

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
				small := s.relativeMove(x) < smallestStep || gain < smallestGain
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
