// Package lsq fits by least squares: problems linear in their unknowns, with
// priors and a robust loss, and non-linear ones by Levenberg-Marquardt. It says
// how well the unknowns were determined and how a search ended, and knows
// nothing of machines.
package lsq

import (
	"fmt"
	"math"
	"slices"

	"gonum.org/v1/gonum/mat"
)

// Linear is the problem to find x that minimises
//
//	Σ_i w_i² (y_i - Σ_k Columns[k][i] x_k)² + Σ_k ((x_k - Prior_k)/σ_k)²
type Linear struct {
	Columns [][]float64 // one per unknown, each as long as Y
	Y       []float64
	Weights []float64 // w, one over the standard deviation of each row; nil for 1
	// Priors holds one entry per unknown, or is nil. With priors the weights must
	// be true ones, or the priors count for too much or too little.
	Priors []Prior
	// MaxCondition is the condition number of the columns, scaled to unit length,
	// above which the unknowns are taken as not separable; 0 for 1e10.
	MaxCondition float64
}

// Prior is what is known of an unknown beforehand, as a normal distribution. A
// Sigma of zero means that nothing is known.
type Prior struct{ Value, Sigma float64 }

// LinearFit is the solution of a Linear problem.
type LinearFit struct {
	X         []float64
	Residual  []float64 // y - fitted, unweighted
	Sigma     float64   // standard deviation of the weighted residuals, per degree of freedom
	DOF       int       // rows, priors included, less unknowns
	Condition float64
	Weights   []float64 // the weights in the end, robust ones included
	// cov is (AᵀA)⁻¹ of the weighted rows.
	cov *mat.SymDense
}

// ConditionError says that unknowns could not be told apart.
type ConditionError struct{ Condition, Limit float64 }

// Error implements error.
func (e *ConditionError) Error() string {
	return fmt.Sprintf("lsq: columns too alike: condition %.3g, need at most %.3g", e.Condition, e.Limit)
}

// Solve returns the least squares solution by QR decomposition. It returns a
// *ConditionError where columns cannot be told apart, and an error where there
// are fewer rows than unknowns or a number is not finite. It panics if lengths differ.
func (p Linear) Solve() (LinearFit, error) {
	p.checkLengths()
	a, b, err := p.rows()
	if err != nil {
		return LinearFit{}, err
	}
	m, n := a.Dims()
	scale := unitColumns(a)
	var qr mat.QR
	qr.Factorize(a)
	limit := p.MaxCondition
	if limit == 0 {
		limit = 1e10
	}
	fit := LinearFit{Condition: qr.Cond(), DOF: m - n, Weights: p.Weights}
	if !(fit.Condition <= limit) {
		return LinearFit{}, &ConditionError{fit.Condition, limit}
	}
	x := mat.NewVecDense(n, nil)
	if err := qr.SolveVecTo(x, false, b); err != nil {
		// Within the limit set, closeness to singular was accepted above.
		if _, ill := err.(mat.Condition); !ill {
			return LinearFit{}, fmt.Errorf("lsq: %w", err)
		}
	}
	var left mat.VecDense
	left.MulVec(a, x)
	left.SubVec(b, &left)
	fit.Sigma = mat.Norm(&left, 2) / math.Sqrt(float64(max(fit.DOF, 1)))
	if fit.cov, err = inverseNormal(&qr, scale); err != nil {
		return LinearFit{}, err
	}
	fit.X = make([]float64, n)
	for k := range fit.X {
		fit.X[k] = x.AtVec(k) / scale[k]
	}
	fit.Residual = p.residual(fit.X)
	return fit, nil
}

// SolveRobust solves as Solve does, then again rounds times with each row
// weighted down by 1/(1+(e/3s)²) in the square, e its residual and s the scale of
// the residuals by their median magnitude. Eight rounds settle as a rule.
func (p Linear) SolveRobust(rounds int) (LinearFit, error) {
	fit, err := p.Solve()
	base := p.Weights
	for range rounds {
		if err != nil {
			return fit, err
		}
		p.Weights = robustWeights(fit.Residual, base)
		fit, err = p.Solve()
	}
	return fit, err
}

func robustWeights(residual, base []float64) []float64 {
	size := make([]float64, len(residual))
	for i, e := range residual {
		size[i] = math.Abs(e) * weight(base, i)
	}
	sorted := slices.Clone(size)
	slices.Sort(sorted)
	s := 1.4826 * sorted[len(sorted)/2]
	w := make([]float64, len(residual))
	for i, e := range size {
		w[i] = weight(base, i)
		if s > 0 {
			w[i] /= math.Sqrt(1 + (e/(3*s))*(e/(3*s)))
		}
	}
	return w
}

// StdDev returns the standard deviation of unknown k if rows are independent:
// from the scatter of the residuals without priors, from the weights given with them.
func (f LinearFit) StdDev(k int) float64 { return f.Sigma * math.Sqrt(f.cov.At(k, k)) }

// Covariance returns (AᵀWA)⁻¹ between unknowns j and k, priors included, not
// multiplied by the variance of the residuals.
func (f LinearFit) Covariance(j, k int) float64 { return f.cov.At(j, k) }

func (p Linear) checkLengths() {
	bad := len(p.Columns) == 0 || p.Weights != nil && len(p.Weights) != len(p.Y) || p.Priors != nil && len(p.Priors) != len(p.Columns)
	for _, c := range p.Columns {
		bad = bad || len(c) != len(p.Y)
	}
	if bad {
		panic("lsq: lengths differ")
	}
}

// rows returns the weighted matrix and right side with one row per prior below.
func (p Linear) rows() (*mat.Dense, *mat.VecDense, error) {
	n, m := len(p.Columns), len(p.Y)
	for _, q := range p.Priors {
		if q.Sigma > 0 {
			m++
		}
	}
	if m < n {
		return nil, nil, fmt.Errorf("lsq: %d rows, need at least the %d unknowns", m, n)
	}
	a, b := mat.NewDense(m, n, nil), mat.NewVecDense(m, nil)
	for i, y := range p.Y {
		w := weight(p.Weights, i)
		row := a.RawRowView(i)
		sum := y * w
		for k, c := range p.Columns {
			row[k] = c[i] * w
			sum += row[k]
		}
		if math.IsNaN(sum) || math.IsInf(sum, 0) {
			return nil, nil, fmt.Errorf("lsq: row %d is not finite", i)
		}
		b.SetVec(i, y*w)
	}
	i := len(p.Y)
	for k, q := range p.Priors {
		if q.Sigma > 0 {
			a.Set(i, k, 1/q.Sigma)
			b.SetVec(i, q.Value/q.Sigma)
			i++
		}
	}
	return a, b, nil
}

func (p Linear) residual(x []float64) []float64 {
	r := slices.Clone(p.Y)
	for k, c := range p.Columns {
		for i, v := range c {
			r[i] -= v * x[k]
		}
	}
	return r
}

func weight(w []float64, i int) float64 {
	if w == nil {
		return 1
	}
	return w[i]
}

// unitColumns scales each column to unit length and returns the lengths.
func unitColumns(a *mat.Dense) []float64 {
	m, n := a.Dims()
	scale := make([]float64, n)
	for i := range m {
		for k, v := range a.RawRowView(i) {
			scale[k] += v * v
		}
	}
	for k, square := range scale {
		scale[k] = math.Sqrt(square)
		if !(square > 1e-280 && square < 1e280) { // squares went out of range
			scale[k] = mat.Norm(a.ColView(k), 2)
		}
		if scale[k] == 0 {
			scale[k] = 1
		}
	}
	for i := range m {
		row := a.RawRowView(i)
		for k := range row {
			row[k] /= scale[k]
		}
	}
	return scale
}

// inverseNormal returns (AᵀA)⁻¹ from the decomposition of A with scaled columns.
func inverseNormal(qr *mat.QR, scale []float64) (*mat.SymDense, error) {
	n := len(scale)
	var full mat.Dense
	qr.RTo(&full)
	r := mat.NewTriDense(n, mat.Upper, nil)
	for i := range n {
		for k := i; k < n; k++ {
			r.SetTri(i, k, full.At(i, k))
		}
	}
	var inv mat.TriDense
	if err := inv.InverseTri(r); err != nil {
		if _, ill := err.(mat.Condition); !ill {
			return nil, fmt.Errorf("lsq: %w", err)
		}
	}
	cov := mat.NewSymDense(n, nil)
	for i := range n {
		for k := i; k < n; k++ {
			sum := 0.0
			for j := k; j < n; j++ {
				sum += inv.At(i, j) * inv.At(k, j)
			}
			cov.SetSym(i, k, sum/(scale[i]*scale[k]))
		}
	}
	return cov, nil
}
