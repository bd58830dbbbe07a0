package window

import (
	"gonum.org/v1/gonum/floats"
	"gonum.org/v1/gonum/mat"
)

// normal returns X̂ᵀWX/σ² + P and X̂ᵀWy/σ² + P·b₀ in scaled units.
func (s *system) normal(weight []float64, variance float64) (*mat.Dense, *mat.VecDense) {
	if s.product == nil {
		s.multiply(weight)
	}
	m := len(s.scale)
	a, b := mat.NewDense(m, m, nil), mat.NewVecDense(m, nil)
	a.Scale(1/variance, s.product)
	for j := range m {
		a.Set(j, j, a.At(j, j)+s.inverse[j])
		b.SetVec(j, s.right[j]/variance+s.inverse[j]*s.mean[j])
	}
	return a, b
}

// piece is how many rows are multiplied out at a time: so few stay in the
// processor's nearest memory while all products of them are summed.
const piece = 256

// multiply sets product to X̂ᵀWX, less UᵀWU with noise, and right to X̂ᵀWy.
func (s *system) multiply(weight []float64) {
	m, n := s.x.Dims()
	s.product, s.right = mat.NewDense(m, m, nil), make([]float64, m)
	weighed := make([]float64, piece)
	for from := 0; from < n; from += piece {
		to := min(from+piece, n)
		w := weighed[:to-from]
		for j := range m {
			floats.MulTo(w, s.xhat.RawRowView(j)[from:to], weight[from:to])
			s.right[j] += floats.Dot(w, s.y[from:to])
			sum := s.product.RawRowView(j)
			first := 0
			if s.xhat == s.x { // symmetric: the upper half tells all
				first = j
			}
			for k := first; k < m; k++ {
				sum[k] += floats.Dot(w, s.x.RawRowView(k)[from:to])
			}
			if s.noise == nil {
				continue
			}
			floats.MulTo(w, s.noise.RawRowView(j)[from:to], weight[from:to])
			for k := first; k < m; k++ {
				sum[k] -= floats.Dot(w, s.noise.RawRowView(k)[from:to])
			}
		}
	}
	if s.xhat == s.x {
		for j := range m {
			for k := range j {
				s.product.Set(j, k, s.product.At(k, j))
			}
		}
	}
}
