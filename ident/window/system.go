package window

import (
	"math"

	"gonum.org/v1/gonum/floats"
	"gonum.org/v1/gonum/mat"
)

// system is a Problem made ready: columns scaled to length one, instruments
// applied, priors in the same scale.
type system struct {
	y       []float64
	size    float64    // root mean square of y
	x, xhat *mat.Dense // rows by unknowns, scaled
	scale   []float64  // length of each column
	noise   *mat.Dense // scaled as x, nil without
	block   []int
	mean    []float64 // prior means, scaled
	inverse []float64 // prior inverse variances, scaled
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
		s.noise = mat.NewDense(n, m, nil)
		for j, column := range p.Noise {
			for i, v := range column {
				s.noise.Set(i, j, v/s.scale[j])
			}
		}
	}
	if len(p.Z) > 0 {
		z, _ := columns(p.Z, n)
		s.xhat = project(s.x, z)
	}
	return s
}

// columns returns the columns side by side, each scaled to length one, and
// their lengths; a column of zeros stays as it is and counts as of length one.
func columns(c [][]float64, n int) (*mat.Dense, []float64) {
	d := mat.NewDense(n, len(c), nil)
	raw := d.RawMatrix()
	length := make([]float64, len(c))
	for j, column := range c {
		length[j] = floats.Norm(column, 2)
		if length[j] == 0 {
			length[j] = 1
		}
		for i, v := range column {
			raw.Data[i*raw.Stride+j] = v / length[j]
		}
	}
	return d, length
}

// project returns x projected on the columns of z, of length one, nil if numbers overflow. Neighbouring instruments
// are nearly alike, so directions of z below 1e-9 of its strongest are left out
// by a ridge of that size; any combination of instruments remains a valid one.
func project(x, z *mat.Dense) *mat.Dense {
	_, k := z.Dims()
	var gram mat.SymDense
	gram.SymOuterK(1, z.T())
	for j := range k {
		gram.SetSym(j, j, gram.At(j, j)+1e-9)
	}
	var cross, beta, fitted mat.Dense
	cross.Mul(z.T(), x)
	var chol mat.Cholesky
	if !chol.Factorize(&gram) {
		return nil
	}
	if err := chol.SolveTo(&beta, &cross); err != nil {
		return nil
	}
	fitted.Mul(z, &beta)
	return &fitted
}

// normal returns X̂ᵀWX/σ² + P and X̂ᵀWy/σ² + P·b₀ in scaled units.
func (s *system) normal(weight []float64, variance float64) (*mat.Dense, *mat.VecDense) {
	n, m := s.x.Dims()
	a, b := mat.NewDense(m, m, nil), mat.NewVecDense(m, nil)
	rawA, rawX, rawH := a.RawMatrix(), s.x.RawMatrix(), s.xhat.RawMatrix()
	right := make([]float64, m)
	for i := range n {
		rowX, rowH := rawX.Data[i*rawX.Stride:i*rawX.Stride+m], rawH.Data[i*rawH.Stride:i*rawH.Stride+m]
		for j, h := range rowH {
			h *= weight[i]
			right[j] += h * s.y[i]
			rowA := rawA.Data[j*rawA.Stride : j*rawA.Stride+m]
			for k, x := range rowX {
				rowA[k] += h * x
			}
		}
	}
	if s.noise != nil {
		var weighed, bias mat.Dense
		weighed.Apply(func(i, _ int, v float64) float64 { return v * weight[i] }, s.noise)
		bias.Mul(weighed.T(), s.noise)
		a.Sub(a, &bias)
	}
	a.Scale(1/variance, a)
	for j := range m {
		a.Set(j, j, a.At(j, j)+s.inverse[j])
		b.SetVec(j, right[j]/variance+s.inverse[j]*s.mean[j])
	}
	return a, b
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
	var fitted mat.VecDense
	fitted.MulVec(s.x, &scaled)
	f.Residual = make([]float64, len(s.y))
	for i := range s.y {
		f.Residual[i] = s.y[i] - fitted.AtVec(i)
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

// score adds row i's part of the estimating equations to sum: X̂ w e, and with
// noise U its known mean -U(Uᵀb)w taken out.
func (s *system) score(f *Fit, i int, sum []float64) {
	we := f.Weight[i] * f.Residual[i]
	for j, h := range s.xhat.RawRowView(i) {
		sum[j] += h * we
	}
	if s.noise == nil {
		return
	}
	u := s.noise.RawRowView(i)
	var along float64
	for j, v := range u {
		along += v * f.Coef[j] * s.scale[j]
	}
	for j, v := range u {
		sum[j] += v * along * f.Weight[i]
	}
}

// scores returns the sum over blocks of the outer products of the rows' scores.
func (s *system) scores(f *Fit) *mat.SymDense {
	n, m := s.x.Dims()
	meat := mat.NewSymDense(m, nil)
	sum := mat.NewVecDense(m, nil)
	for i := range n {
		s.score(f, i, sum.RawVector().Data)
		if i == n-1 || s.block[i+1] != s.block[i] {
			meat.SymRankOne(meat, 1, sum)
			sum.Zero()
		}
	}
	return meat
}

// overlap returns how many rows count as one independent observation: the
// scores' variance by blocks over that by rows, the mean over the unknowns.
func (s *system) overlap(f *Fit) float64 {
	meat := s.scores(f)
	n, m := s.x.Dims()
	byRow := make([]float64, m)
	row := make([]float64, m)
	for i := range n {
		clear(row)
		s.score(f, i, row)
		for j, v := range row {
			byRow[j] += v * v
		}
	}
	var ratio float64
	for j, v := range byRow {
		if v > 0 {
			ratio += meat.At(j, j) / v / float64(m)
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
	middle := mat.NewDense(m, m, nil)
	middle.Scale(1/(variance*variance), s.scores(f))
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
