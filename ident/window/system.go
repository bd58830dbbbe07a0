package window

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/floats"
	"gonum.org/v1/gonum/mat"

	"eha/strokewise/ident/trace"
)

// system is a Problem made ready: columns scaled to length one, instruments
// applied, priors in the same scale.
type system struct {
	y       []float64
	size    float64    // root mean square of y
	x, xhat *mat.Dense // unknowns by rows, so that a column of the Problem is contiguous; scaled
	scale   []float64  // length of each column
	noise   *mat.Dense // scaled as x, nil without
	block   []int
	mean    []float64 // prior means, scaled
	inverse []float64 // prior inverse variances, scaled

	product *mat.Dense // X̂ᵀWX, nil until the weights in hand are multiplied out
	right   []float64  // X̂ᵀWy
}

func newSystem(p Problem) *system {
	n, m := len(p.Y), len(p.X)
	s := &system{y: p.Y, block: p.Block, mean: make([]float64, m), inverse: make([]float64, m)}
	s.x, s.scale = columns(p.X, n)
	for _, v := range p.Y {
		s.size += v * v / float64(n)
	}
	s.size = math.Sqrt(s.size)
	if s.size == 0 {
		s.size = 1
	}
	for j := range m {
		if p.Priors != nil && p.Priors[j].Sigma > 0 {
			s.mean[j] = p.Priors[j].Mean * s.scale[j]
			sigma := p.Priors[j].Sigma * s.scale[j]
			s.inverse[j] = 1 / (sigma * sigma)
		}
	}
	s.xhat = s.x
	if p.Noise != nil {
		s.noise = mat.NewDense(m, n, nil)
		for j, column := range p.Noise {
			floats.ScaleTo(s.noise.RawRowView(j), 1/s.scale[j], column)
		}
	}
	if len(p.Z) > 0 {
		z, _ := columns(p.Z, n)
		s.xhat = project(s.x, z)
	}
	return s
}

// columns returns the columns as rows of a matrix, each scaled to length one, and
// their lengths; a column of zeros stays as it is and counts as of length one.
func columns(c [][]float64, n int) (*mat.Dense, []float64) {
	d := mat.NewDense(len(c), n, nil)
	length := make([]float64, len(c))
	for j, column := range c {
		length[j] = floats.Norm(column, 2)
		if length[j] == 0 {
			length[j] = 1
		}
		floats.ScaleTo(d.RawRowView(j), 1/length[j], column)
	}
	return d, length
}

// project returns x projected on the signals in z, of length one, nil if numbers overflow. Neighbouring instruments
// are nearly alike, so directions of z below 1e-9 of its strongest are left out
// by a ridge of that size; any combination of instruments remains a valid one.
func project(x, z *mat.Dense) *mat.Dense {
	k, _ := z.Dims()
	var gram mat.SymDense
	gram.SymOuterK(1, z)
	for j := range k {
		gram.SetSym(j, j, gram.At(j, j)+1e-9)
	}
	var cross, beta, fitted mat.Dense
	cross.Mul(z, x.T())
	var chol mat.Cholesky
	if !chol.Factorize(&gram) {
		return nil
	}
	if err := chol.SolveTo(&beta, &cross); err != nil {
		return nil
	}
	fitted.Mul(beta.T(), z)
	return &fitted
}

// solve sets coefficients, residuals, scale and condition for the weights in f.
func (s *system) solve(f *Fit) error {
	variance := f.Scale * f.Scale * f.Overlap
	if variance == 0 {
		// The first round knows no scale yet: a hundredth of y to begin with.
		variance = s.size * s.size * 1e-4
	}
	a, b := s.normal(f.Weight, variance)
	var lu mat.LU
	lu.Factorize(equilibrated(a, b))
	f.Condition = lu.Cond()
	if !(f.Condition < maxCondition) {
		return ErrUnexcited
	}
	var scaled mat.VecDense
	if err := lu.SolveVecTo(&scaled, false, b); err != nil {
		return ErrUnexcited
	}
	f.Coef = make([]float64, len(s.scale))
	for j := range f.Coef {
		f.Coef[j] = scaled.AtVec(j) / s.scale[j]
	}
	f.Residual = slices.Clone(s.y)
	for j := range f.Coef {
		floats.AddScaled(f.Residual, -scaled.AtVec(j), s.x.RawRowView(j))
	}
	// Rounding keeps even an exact fit from a scale of nothing.
	f.Scale = math.Max(robustScale(f.Residual), 1e-10*s.size)
	return nil
}

// equilibrated divides each row of a and b by the row's largest entry: priors
// and data may differ by many orders of magnitude.
func equilibrated(a *mat.Dense, b *mat.VecDense) *mat.Dense {
	m, _ := a.Dims()
	for i := range m {
		var largest float64
		for j := range m {
			largest = math.Max(largest, math.Abs(a.At(i, j)))
		}
		if largest == 0 {
			continue
		}
		for j := range m {
			a.Set(i, j, a.At(i, j)/largest)
		}
		b.SetVec(i, b.AtVec(i)/largest)
	}
	return a
}

// scores returns the sum over blocks of the outer products of the rows' scores,
// and the sum over rows of their squares. A row's score is its part of the
// estimating equations, X̂ w e, and with noise U its known mean -U(Uᵀb)w taken out.
func (s *system) scores(f *Fit) (byBlock *mat.SymDense, byRow []float64) {
	m, n := s.x.Dims()
	weighed := floats.MulTo(make([]float64, n), f.Weight, f.Residual)
	var along []float64
	if s.noise != nil {
		along = make([]float64, n)
		for j := range m {
			floats.AddScaled(along, f.Coef[j]*s.scale[j], s.noise.RawRowView(j))
		}
		floats.Mul(along, f.Weight)
	}
	runs := s.runs()
	sums, byRow := mat.NewDense(m, len(runs), nil), make([]float64, m)
	buffer := make([]float64, n)
	for b, r := range runs {
		score := buffer[r.From:r.To]
		for j := range m {
			floats.MulTo(score, s.xhat.RawRowView(j)[r.From:r.To], weighed[r.From:r.To])
			if along != nil {
				for i, u := range s.noise.RawRowView(j)[r.From:r.To] {
					score[i] += u * along[r.From+i]
				}
			}
			sums.Set(j, b, floats.Sum(score))
			byRow[j] += floats.Dot(score, score)
		}
	}
	byBlock = &mat.SymDense{}
	byBlock.SymOuterK(1, sums)
	return byBlock, byRow
}

// runs returns the rows of each block.
func (s *system) runs() []trace.Span {
	var all []trace.Span
	for i, b := range s.block {
		if i == 0 || b != s.block[i-1] {
			all = append(all, trace.Span{From: i, To: i})
		}
		all[len(all)-1].To = i + 1
	}
	return all
}

// overlap returns how many rows count as one independent observation: the
// scores' variance by blocks over that by rows, the mean over the unknowns.
func (s *system) overlap(f *Fit) float64 {
	byBlock, byRow := s.scores(f)
	var ratio float64
	for j, v := range byRow {
		if v > 0 {
			ratio += byBlock.At(j, j) / v / float64(len(byRow))
		}
	}
	return math.Max(ratio, 1)
}

// covariance sets f.Cov: A⁻¹(S/σ⁴ + P)A⁻ᵀ, S the scores by block. The slope of
// the weighted residual e·w(e) stands in A for the weight itself, which is
// larger and would make intervals too short.
func (s *system) covariance(f *Fit) {
	m := len(s.scale)
	variance := f.Scale * f.Scale * f.Overlap
	s.information(f, variance)
	a, _ := s.normal(f.Weight, variance/slopeRatio(f.Weight))
	byBlock, _ := s.scores(f)
	middle := mat.NewDense(m, m, nil)
	middle.Scale(1/(variance*variance), byBlock)
	for j := range m {
		middle.Set(j, j, middle.At(j, j)+s.inverse[j])
	}
	var inverse, half, full mat.Dense
	f.Cov = mat.NewSymDense(m, nil)
	if err := inverse.Inverse(a); err != nil {
		if _, conditioned := err.(mat.Condition); !conditioned {
			return
		}
	}
	half.Mul(&inverse, middle)
	full.Mul(&half, inverse.T())
	for i := range m {
		for j := i; j < m; j++ {
			f.Cov.SetSym(i, j, (full.At(i, j)+full.At(j, i))/2/(s.scale[i]*s.scale[j]))
		}
	}
}

// slopeRatio returns the mean slope of e·w(e), w = 1/(1+r²), over the mean weight:
//
//	d(e·w)/de = (1 - r²)/(1 + r²)² = 2w² - w
func slopeRatio(weight []float64) float64 {
	var slope, sum float64
	for _, w := range weight {
		slope += 2*w*w - w
		sum += w
	}
	return math.Max(slope/sum, 0.1)
}

// information sets f.Info, in which X̂ᵀWX is made symmetric: the instruments
// leave it nearly so.
func (s *system) information(f *Fit, variance float64) {
	m := len(s.scale)
	a, _ := s.normal(f.Weight, variance)
	f.Info = mat.NewSymDense(m, nil)
	for i := range m {
		a.Set(i, i, a.At(i, i)-s.inverse[i])
		for j := range i + 1 {
			f.Info.SetSym(i, j, (a.At(i, j)+a.At(j, i))/2*s.scale[i]*s.scale[j])
		}
	}
}
