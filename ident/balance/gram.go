package balance

import (
	"math"

	"gonum.org/v1/gonum/floats"
	"gonum.org/v1/gonum/mat"
)

// meanWeight is the mean of the rows' robust weights.
func (l *line) meanWeight() float64 { return floats.Sum(l.fit.Weight) / float64(len(l.fit.Weight)) }

// weighed returns the products of y's entries with the rows' robust weights.
func (l *line) weighed(y []float64) []float64 {
	out := make([]float64, len(y))
	floats.MulTo(out, y, l.fit.Weight)
	return out
}

// regress returns the coefficients of the original on the columns of l by least squares under
// the fit's robust weights and the sum of squares left; nil and that of itself
// where the columns are not independent.
func (l *line) regress(original []float64) (coef []float64, left float64) {
	columns := l.columns()
	y := l.weighed(original)
	left = floats.Dot(y, original)
	inverse, size := l.inverseGram()
	if inverse == nil {
		return nil, left
	}
	cross := mat.NewVecDense(len(columns), nil)
	for j, c := range columns {
		cross.SetVec(j, floats.Dot(c, y)/size[j])
	}
	var scaled mat.VecDense
	scaled.MulVec(inverse, cross)
	coef = make([]float64, len(columns))
	for j := range coef {
		coef[j] = scaled.AtVec(j) / size[j]
	}
	return coef, math.Max(left-mat.Dot(&scaled, cross), 0)
}

func (l *line) columns() [][]float64 {
	columns := make([][]float64, len(l.fit.Coef))
	for t, j := range l.index {
		columns[j] = l.rows.column(t)
	}
	return columns
}

// inverseGram returns the inverse of the columns' weighed products, columns divided
// by their root mean squares, and these; nil where the columns are not independent.
func (l *line) inverseGram() (*mat.SymDense, []float64) {
	columns := l.columns()
	gram := mat.NewSymDense(len(columns), nil)
	size := make([]float64, len(columns))
	for j, c := range columns {
		size[j] = math.Max(rms(c), math.SmallestNonzeroFloat64)
	}
	for j, c := range columns {
		w := l.weighed(c)
		for k := j; k < len(columns); k++ {
			gram.SetSym(j, k, floats.Dot(w, columns[k])/(size[j]*size[k]))
		}
	}
	var chol mat.Cholesky
	inverse := &mat.SymDense{}
	if !chol.Factorize(gram) || chol.InverseTo(inverse) != nil {
		return nil, nil
	}
	return inverse, size
}

func rms(y []float64) float64 {
	s := 0.0
	for _, v := range y {
		s += v * v
	}
	return math.Sqrt(s / math.Max(float64(len(y)), 1))
}
