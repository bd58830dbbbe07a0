package window

import (
	"errors"
	"math"

	"gonum.org/v1/gonum/mat"

	"eha/strokewise/ident/motion"
)

// Errors of Solve that a caller may act on.
var (
	ErrTooFew    = errors.New("window: too few rows for the number of unknowns")
	ErrUnexcited = errors.New("window: the rows do not tell the unknowns apart")
)

// Prior is what is known of a coefficient beforehand: a normal distribution.
// Sigma zero means that nothing is known.
type Prior struct{ Mean, Sigma float64 }

// Problem is the linear model
//
//	y = X·b + e
//
// with one row per window. X and Z hold columns, each as long as Y. Z are
// instruments (columns that go with X but not with the noise in it) and may be
// nil for plain least squares. Block numbers the stretch of 1 to 5 s that a row
// lies in: rows of one block are taken as dependent. Priors is nil or has one
// entry per column of X. None of the slices is changed.
type Problem struct {
	Y      []float64
	X, Z   [][]float64
	Block  []int
	Priors []Prior
	// Noise is nil or has one column per column of X: what an error of one
	// standard deviation, common to the row, adds to that column. Its known bias is
	// then taken out, which is the better way where noise is white and its size
	// known; leave Z nil.
	Noise [][]float64
	// NotRobust takes all rows at full weight.
	NotRobust bool
}

// Fit is the solution of a Problem.
type Fit struct {
	Coef []float64
	// Cov is the covariance of Coef: the sandwich over blocks plus the priors' share.
	Cov *mat.SymDense
	// Info is the information that the rows hold on Coef, X̂ᵀWX/σ² in the units of
	// Coef, priors left out: the weight of these coefficients in a further fit.
	Info *mat.SymDense
	// Residual is y - X·b with the columns of X themselves, not their projections.
	Residual []float64
	Weight   []float64 // robust weight of each row, 0 to 1
	Scale    float64   // robust standard deviation of the residuals
	Overlap  float64   // rows that count as one independent observation
	// Condition is that of the normal equations with columns scaled to length one.
	Condition float64
}

// Sigma returns the standard deviation of coefficient j.
func (f *Fit) Sigma(j int) float64 { return math.Sqrt(math.Max(f.Cov.At(j, j), 0)) }

// Variance returns the variance of the linear combination g·Coef.
func (f *Fit) Variance(g []float64) float64 {
	v := mat.NewVecDense(len(g), g)
	return math.Max(mat.Inner(v, f.Cov, v), 0)
}

const (
	robustRounds = 8
	// settled is the change of the residuals' scale, as a share, at which the
	// robust weights no longer move the coefficients by anything that matters.
	settled = 1e-3
	// maxCondition is the condition number beyond which the unknowns are not
	// told apart: double precision leaves five digits there.
	maxCondition = 1e11
)

// Solve fits the problem by two-stage least squares: the columns of X are
// projected on the instruments, and the normal equations
//
//	(X̂ᵀWX/σ² + P) b = X̂ᵀWy/σ² + P·b₀
//
// are iterated with the robust weights W = 1/(1 + (e/3σ)²), σ the residuals'
// scale from their median. Overlapping windows are not independent; σ² is
// enlarged by Overlap before data and priors P are weighed against each other.
// With Noise U, X̂ᵀWX becomes XᵀWX - UᵀWU.
//
// Solve returns ErrTooFew if there are not at least three rows per unknown, and
// ErrUnexcited if the equations are singular. It panics if lengths differ.
//
// Source of the sandwich covariance over groups of rows: K.-Y. Liang and S. L.
// Zeger, "Longitudinal data analysis using generalized linear models",
// Biometrika 73, 1986, pp. 13–22 (value from memory).
func Solve(p Problem) (*Fit, error) {
	check(p)
	n, m := len(p.Y), len(p.X)
	if n < 3*m {
		return nil, ErrTooFew
	}
	s := newSystem(p)
	if s.xhat == nil {
		return nil, ErrUnexcited
	}
	f := &Fit{Weight: ones(n), Overlap: 1}
	for round := range robustRounds {
		before := f.Scale
		if err := s.solve(f); err != nil {
			return nil, err
		}
		f.Overlap = s.overlap(f)
		if round > 1 && (p.NotRobust || math.Abs(f.Scale-before) < settled*before) {
			break
		}
		if !p.NotRobust {
			reweigh(f)
			s.product = nil
		}
	}
	if err := s.solve(f); err != nil {
		return nil, err
	}
	s.covariance(f)
	return f, nil
}

func check(p Problem) {
	same := len(p.Block) == len(p.Y) && (p.Priors == nil || len(p.Priors) == len(p.X)) && len(p.X) > 0
	same = same && (p.Noise == nil || len(p.Noise) == len(p.X) && len(p.Z) == 0)
	for _, c := range append(append(append([][]float64(nil), p.X...), p.Z...), p.Noise...) {
		same = same && len(c) == len(p.Y)
	}
	if !same {
		panic("window: Solve: lengths differ")
	}
}

func ones(n int) []float64 {
	w := make([]float64, n)
	for i := range w {
		w[i] = 1
	}
	return w
}

// reweigh sets the robust weights from the residuals.
func reweigh(f *Fit) {
	for i, e := range f.Residual {
		r := e / (3 * f.Scale)
		f.Weight[i] = 1 / (1 + r*r)
	}
}

// scaleSample is how many residuals, evenly spaced, the scale is taken from:
// their median is good to some 2 %, and ranking all of a long log's is slow.
const scaleSample = 4000

// robustScale returns the standard deviation that a normal distribution with
// the residuals' median absolute value has.
func robustScale(residual []float64) float64 {
	step := max(len(residual)/scaleSample, 1)
	magnitude := make([]float64, 0, len(residual)/step+1)
	for i := 0; i < len(residual); i += step {
		magnitude = append(magnitude, math.Abs(residual[i]))
	}
	return 1.4826 * motion.Quantile(magnitude, 0.5)
}
