package drive

import (
	"math"
	"math/cmplx"
	"slices"

	"eha/strokewise/ident/lsq"
)

// bestFit fits with each width of friction and returns the fit that explains the
// lines best. By how much the widths next to it change the answer is what the
// form of friction leaves open.
func bestFit(lines []line) (f found, width int, ok bool) {
	fits := make([]found, len(frictionWidths))
	best := -1
	starts := []float64{15, 30, 60}
	for k := range frictionWidths {
		f, ok := fitLines(rubbed(lines, k), starts)
		if !ok {
			continue
		}
		fits[k] = f
		starts = []float64{f.value[0] / (2 * math.Pi)}
		if best < 0 || f.cost < fits[best].cost {
			best = k
		}
	}
	if best < 0 {
		return found{}, 0, false
	}
	f = fits[best]
	for _, k := range []int{best - 1, best + 1} {
		if k < 0 || k >= len(fits) || fits[k].value[0] == 0 {
			continue
		}
		for i := range f.sigma {
			f.sigma[i] = math.Hypot(f.sigma[i], widthDoubt*(fits[k].value[i]-f.value[i]))
		}
	}
	return f, best, true
}

// rubbed returns the lines with the friction of width k among their loads.
func rubbed(lines []line, k int) []line {
	with := make([]line, len(lines))
	for i, l := range lines {
		with[i] = l
		with[i].loads = append(l.loads[:len(l.loads):len(l.loads)], l.friction[k]...)
		with[i].rubs = len(l.friction[k])
	}
	return with
}

// disagree adds to the deviations what the stretches, each fitted alone, disagree by
// beyond their own: a loop that answers small and large excitation differently, as
// one with a ramp, a limit or much friction does, has no one bandwidth.
func (f *found) disagree(parts [][]line, width int) {
	var alone []found
	for _, part := range parts {
		if len(part) < leastLines {
			continue
		}
		if fit, ok := fitLines(rubbed(part, width), []float64{f.value[0] / (2 * math.Pi)}); ok {
			alone = append(alone, fit)
		}
	}
	for k := range f.sigma {
		most := 0.0
		for i, a := range alone {
			for _, b := range alone[:i] {
				d := (a.value[k] - b.value[k]) / 2
				most = max(most, d*d-(a.sigma[k]*a.sigma[k]+b.sigma[k]*b.sigma[k])/4)
			}
		}
		f.sigma[k] = math.Sqrt(f.sigma[k]*f.sigma[k] + most)
	}
}

// widthDoubt is the share of the change to the next width that counts as doubt.
const widthDoubt = 0.7

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
	for i, l := range lines {
		weight[i] = 1 / l.sigma
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
			e := l.residual(x) * complex(weight[i], 0)
			dst[2*i], dst[2*i+1] = real(e), imag(e)
		}
	}
	var fit lsq.NonlinearFit
	for range 3 {
		fit = p.Minimise()
		if fit.Ending == lsq.NotStarted {
			return fit
		}
		reweigh(weight, lines, fit)
		p.Start = fit.X
	}
	return fit
}

// residual is what the model leaves of the line's speed.
func (l line) residual(x []float64) complex128 {
	s := complex(0, l.omega)
	w := complex(x[0], 0)
	held := complex(1, 0)
	if l.hold > 0 {
		held = (1 - cmplx.Exp(-s*complex(l.hold, 0))) / (s * complex(l.hold, 0))
	}
	return l.speed - w*w/l.lag(x)*cmplx.Exp(-s*complex(x[2]*1e-3, 0))*held*l.command + l.slowed(x, 0)
}

// lag is D₂ at the line.
func (l line) lag(x []float64) complex128 {
	s, w := complex(0, l.omega), complex(x[0], 0)
	return s*s + 2*complex(x[1], 0)*w*s + w*w
}

// slowed is the speed that the loads from the given one on take away.
func (l line) slowed(x []float64, from int) complex128 {
	var sum complex128
	for i := from; i < len(l.loads); i++ {
		sum += complex(x[3+i], 0) * l.loads[i]
	}
	return sum * complex(0, l.omega) / l.lag(x)
}

// frictionDoubt is the share of its friction by which a line may be off: real
// friction has no plain sign.
const frictionDoubt = 0.15

// reweigh sets the lines' weights from their errors, friction's share in them,
// and lowers that of lines whose residual is beyond three times the median one.
func reweigh(weight []float64, lines []line, fit lsq.NonlinearFit) {
	size := make([]float64, len(weight))
	for i, l := range lines {
		size[i] = math.Hypot(fit.Residual[2*i], fit.Residual[2*i+1]) / weight[i]
		weight[i] = 1 / math.Hypot(l.sigma, frictionDoubt*cmplx.Abs(l.slowed(fit.X, len(l.loads)-l.rubs)))
		size[i] *= weight[i]
	}
	sorted := slices.Clone(size)
	slices.Sort(sorted)
	scale := 3 * sorted[len(sorted)/2]
	for i, e := range size {
		if scale > 0 {
			weight[i] /= math.Sqrt(1 + (e/scale)*(e/scale))
		}
	}
}
