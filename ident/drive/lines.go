package drive

import (
	"math"
	"math/cmplx"
	"slices"

	"eha/strokewise/ident/lsq"
)

// bestFit fits with each width of friction and returns the fit that explains
// the lines best.
func bestFit(lines []line) (found, bool) {
	var best found
	ok := false
	starts := []float64{15, 30, 60}
	for k := range frictionWidths {
		with := make([]line, len(lines))
		for i, l := range lines {
			with[i] = l
			with[i].loads = append(l.loads[:len(l.loads):len(l.loads)], l.signs[k])
		}
		if f, found := fitLines(with, starts); found && (!ok || f.cost < best.cost) {
			best, ok = f, true
			starts = []float64{f.value[0] / (2 * math.Pi)}
		}
	}
	return best, ok
}

// fitLines searches the three figures and the load factors by least squares of
// the complex residuals, from several starts (Hz), with a soft robust loss.
func fitLines(lines []line, starts []float64) (found, bool) {
	unknowns := 3 + len(lines[0].loads)
	best := lsq.NonlinearFit{Cost: math.Inf(1)}
	for _, startHz := range starts {
		fit := searchLines(lines, unknowns, startHz)
		if fit.Ending != lsq.NotStarted && fit.Cost < best.Cost {
			best = fit
		}
	}
	if len(best.X) == 0 || slices.Contains(best.AtBound[:3], true) {
		return found{}, false
	}
	f := found{perPressure: best.X[3] / pressureUnit, cost: best.Cost}
	for k := range f.value {
		f.value[k], f.sigma[k] = best.X[k], best.StdDev(k)
		if math.IsInf(f.sigma[k], 0) || math.IsNaN(f.sigma[k]) {
			return found{}, false
		}
	}
	f.value[2] /= 1e3
	f.sigma[2] /= 1e3
	return f, true
}

func searchLines(lines []line, unknowns int, startHz float64) lsq.NonlinearFit {
	weight := make([]float64, len(lines))
	for i := range weight {
		weight[i] = 1
	}
	start, scale := make([]float64, unknowns), make([]float64, unknowns)
	lower, upper := make([]float64, unknowns), make([]float64, unknowns)
	for k := range start {
		scale[k], lower[k], upper[k] = 100, -1e7, 1e7
	}
	// Dead time in ms, so that all three are of a size.
	copy(start, []float64{2 * math.Pi * startHz, 0.8, 1})
	copy(scale, []float64{100, 1, 1})
	copy(lower, []float64{2 * math.Pi * 2, 0.05, 0})
	copy(upper, []float64{2 * math.Pi * 400, 3, 50})
	p := lsq.Nonlinear{Rows: 2 * len(lines), Start: start, Scale: scale, Lower: lower, Upper: upper, MaxIterations: 40}
	p.Residuals = func(dst, x []float64) {
		for i, l := range lines {
			e := l.residual(x) * complex(weight[i]/l.sigma, 0)
			dst[2*i], dst[2*i+1] = real(e), imag(e)
		}
	}
	var fit lsq.NonlinearFit
	for range 3 {
		fit = p.Minimise()
		if fit.Ending == lsq.NotStarted {
			return fit
		}
		soften(weight, fit.Residual)
		p.Start = fit.X
	}
	return fit
}

// residual is what the model leaves of the line's speed.
func (l line) residual(x []float64) complex128 {
	s := complex(0, l.omega)
	w := complex(x[0], 0)
	d2 := s*s + 2*complex(x[1], 0)*w*s + w*w
	held := complex(1, 0)
	if l.hold > 0 {
		held = (1 - cmplx.Exp(-s*complex(l.hold, 0))) / (s * complex(l.hold, 0))
	}
	e := l.speed - w*w/d2*cmplx.Exp(-s*complex(x[2]*1e-3, 0))*held*l.command
	for i, load := range l.loads {
		e += complex(x[3+i], 0) * s / d2 * load
	}
	return e
}

// soften lowers the weight of lines whose residual is beyond three times the
// median one.
func soften(weight, residual []float64) {
	size := make([]float64, len(weight))
	for i := range size {
		size[i] = math.Hypot(residual[2*i], residual[2*i+1]) / weight[i]
	}
	sorted := slices.Clone(size)
	slices.Sort(sorted)
	scale := 3 * sorted[len(sorted)/2]
	for i, e := range size {
		if scale > 0 {
			weight[i] = 1 / math.Sqrt(1+(e/scale)*(e/scale))
		}
	}
}
