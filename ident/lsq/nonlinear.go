package lsq

import (
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
	// Settled is the gain of a step, as a share of the sum of squares, below which
	// the search has converged; 0 for the least that double precision can show.
	Settled float64
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
