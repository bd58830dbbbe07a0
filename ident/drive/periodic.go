package drive

import (
	"fmt"
	"math"
	"math/cmplx"
	"slices"

	"eha/strokewise/ident/lsq"
	"eha/strokewise/ident/motion"
	"eha/strokewise/ident/spectral"
	"eha/strokewise/ident/trace"
)

// line is one excited frequency of one periodic stretch, amplitudes averaged
// over its periods.
type line struct {
	omega   float64
	command complex128
	speed   complex128
	loads   []complex128 // each acts on speed as s/D₂
	signs   []complex128 // of friction, one for each of frictionWidths
	sigma   float64
	hold    float64
}

// Lines outside this band (Hz) say little of a drive of 5 to 100 Hz.
const lowestHz, highestHz = 1.0, 100.0

// excited is the share of the strongest line from which a line counts as played,
// and modelError the share of a line's amplitude to which the model is taken as true.
const excited, modelError = 0.03, 0.003

// frictionWidths are the speeds (rad/s) over which the motor's friction may
// change sign; the one that explains the lines best is taken. Taken too narrow,
// part of the friction of small motions goes into damping, too wide the other way round.
var frictionWidths = [...]float64{0.25, 1, 3}

// slowest is the speed amplitude (rad/s) under which motor friction bends the
// response too much for a line to be used.
const slowest = 0.25

// fitPeriodic fits on periodic excitation of the speed command.
func fitPeriodic(logs []Log, controllerPeriod, pressureLag float64) (found, bool) {
	var lines []line
	periods := 0
	loads := commonLoads(logs)
	for _, l := range logs {
		for _, p := range l.Motion.Periodic {
			if p.Channel == trace.SpeedCommand && !limited(l.Motion, p.Span) {
				lines = append(lines, periodicLines(l.Trace, p, loads, holdTime(l.Trace, controllerPeriod), pressureLag)...)
				periods += p.Periods
			}
		}
	}
	if len(lines) < 8 {
		return found{}, false
	}
	fit, ok := bestFit(lines)
	fit.from = fmt.Sprintf("%d periods of multisine, %d lines", periods, len(lines))
	if loads != withPressures {
		fit.perPressure = 0
	}
	return fit, ok
}

// loadTerms says by which signals the load on the motor is described.
type loadTerms int

const (
	frictionOnly  loadTerms = iota
	withTravel              // turns less travel stand for the pressure
	withPressures           // the pressures themselves
)

func commonLoads(logs []Log) loadTerms {
	loads := withPressures
	for _, l := range logs {
		if len(l.Motion.Periodic) == 0 {
			continue
		}
		switch {
		case l.Trace.Has(trace.CapPressure, trace.RodPressure):
		case l.Trace.Has(trace.MotorPosition, trace.RodPosition):
			loads = min(loads, withTravel)
		default:
			loads = frictionOnly
		}
	}
	return loads
}

func limited(m *motion.Motion, s trace.Span) bool {
	return slices.ContainsFunc(m.Limits, func(l motion.Limited) bool { return l.Span.From < s.To && l.Span.To > s.From })
}

// periodicLines transforms the signals of one stretch over its whole periods.
func periodicLines(t *trace.Trace, p motion.Periodic, loads loadTerms, hold, pressureLag float64) []line {
	from, count := p.Span.From, p.Periods
	if count > 2 {
		from, count = from+p.Period, count-1 // the first period still settles
	}
	for count > 0 && from+count*p.Period+1 > t.Len() {
		count--
	}
	if count < 1 {
		return nil
	}
	t = t.Slice(from, from+count*p.Period+1)
	n, isAngle := t.Samples(trace.MotorPosition)
	if !isAngle {
		n, _ = t.Samples(trace.MotorSpeed)
	}
	if n == nil {
		return nil
	}
	transform := func(x []float64) spectral.Periodic {
		return spectral.PeriodicLines(x, t.Period(), p.Period, count)
	}
	u, _ := t.Samples(trace.SpeedCommand)
	command, motor := transform(u), transform(n)
	acting := loadSignals(t, loads)
	spectra := make([]spectral.Periodic, len(acting))
	for i, x := range acting {
		spectra[i] = transform(x)
	}
	var signs []spectral.Periodic
	for _, x := range frictionSigns(t) {
		signs = append(signs, transform(x))
	}
	strongest := 0.0
	for k := range command.Omega {
		strongest = max(strongest, cmplx.Abs(command.Mean(k)))
	}
	var out []line
	for k, omega := range command.Omega {
		c := command.Mean(k)
		if omega < 2*math.Pi*lowestHz || omega > 2*math.Pi*highestHz || cmplx.Abs(c) < excited*strongest {
			continue
		}
		s := complex(0, omega)
		ln := line{omega: omega, command: c, speed: motor.Mean(k), hold: hold}
		spread := motor.MeanError(k)
		if isAngle {
			ln.speed *= s
			spread *= omega
		}
		if cmplx.Abs(ln.speed) < slowest {
			continue
		}
		if count < 2 {
			spread = 0.01 * cmplx.Abs(c) // a single period shows no spread
		}
		ln.sigma = modelError*cmplx.Abs(c) + spread
		for i := range spectra {
			load := spectra[i].Mean(k)
			if loads == withPressures && i == 0 {
				load *= 1 + s*complex(pressureLag, 0)
			}
			ln.loads = append(ln.loads, load)
		}
		for i := range signs {
			ln.signs = append(ln.signs, signs[i].Mean(k))
		}
		out = append(out, ln)
	}
	return out
}

// loadSignals returns the signals that load the motor, scaled to about one so
// that their factors are of one size.
func loadSignals(t *trace.Trace, loads loadTerms) [][]float64 {
	var out [][]float64
	switch loads {
	case withPressures:
		a, _ := t.Samples(trace.CapPressure)
		b, _ := t.Samples(trace.RodPressure)
		d := make([]float64, len(a))
		for i := range d {
			d[i] = (a[i] - b[i]) / pressureUnit
		}
		out = append(out, d)
	case withTravel:
		theta, _ := t.Samples(trace.MotorPosition)
		x, _ := t.Samples(trace.RodPosition)
		scaled := make([]float64, len(x))
		for i := range scaled {
			scaled[i] = x[i] / travelUnit
		}
		out = append(out, theta, scaled)
	}
	return out
}

// frictionSigns returns the sign of the motor speed, smoothed over each of frictionWidths.
func frictionSigns(t *trace.Trace) [][]float64 {
	speed := quickSpeed(t)
	out := make([][]float64, len(frictionWidths))
	for k, width := range frictionWidths {
		out[k] = make([]float64, len(speed))
		for i, v := range speed {
			out[k][i] = math.Tanh(v / width)
		}
	}
	return out
}

// quickSpeed is the motor speed over ±2 ms: friction changes sign within
// milliseconds, and smoothing it would put a lag into its share.
func quickSpeed(t *trace.Trace) []float64 {
	if theta, ok := t.Samples(trace.MotorPosition); ok {
		return motion.Slope(t, theta, 0.002)
	}
	speed, _ := t.Samples(trace.MotorSpeed)
	return speed
}

const (
	pressureUnit = 1e6  // Pa
	travelUnit   = 1e-3 // m
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
