package drive

import (
	"fmt"
	"math"
	"math/cmplx"
	"slices"

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
	// friction are loads too, a set for each of frictionWidths.
	friction [][]complex128
	rubs     int // how many of loads are friction, the last ones
	sigma    float64
	hold     float64
}

// Lines outside this band (Hz) say little of a drive of 5 to 100 Hz.
const lowestHz, highestHz = 1.0, 100.0

// excited is the share of the strongest line from which a line counts as played,
// and modelError the share of a line's amplitude to which the model is taken as true.
const excited, modelError = 0.03, 0.003

// slowest is the speed amplitude (rad/s) under which motor friction bends the
// response too much for a line to be used.
const slowest = 0.25

// leastLines is the least number of lines that six unknowns are fitted to.
const leastLines = 8

// guessedLoad is the factor on the doubt where the load on the motor is not logged.
const guessedLoad = 2

// fitPeriodic fits on periodic excitation of the speed command.
func fitPeriodic(logs []Log, controllerPeriod, pressureLag float64) (found, bool) {
	var lines []line
	var parts [][]line
	periods, late := 0, 0.0
	loads, slope := commonLoads(logs), ramp(logs)
	for _, l := range logs {
		for _, p := range l.Motion.Periodic {
			if p.Channel == trace.SpeedCommand && !limited(l.Motion, p.Span) && !steeper(l.Trace, p.Span, slope) {
				hold := holdTime(l.Trace, controllerPeriod)
				part := periodicLines(l.Trace, p, loads, hold, pressureLag)
				late = max(late, rounded(l.Trace, p.Span, slope, hold))
				lines, parts = append(lines, part...), append(parts, part)
				periods += p.Periods
			}
		}
	}
	if len(lines) < leastLines {
		return found{}, false
	}
	fit, width, ok := bestFit(lines)
	if ok {
		fit.disagree(parts, width)
	}
	fit.rounded = late
	fit.from = fmt.Sprintf("%d periods of multisine, %d lines", periods, len(lines))
	if loads != withPressures {
		fit.perPressure = 0
		for k := range fit.sigma {
			fit.sigma[k] *= guessedLoad
		}
	}
	return fit, ok
}

func limited(m *motion.Motion, s trace.Span) bool {
	return slices.ContainsFunc(m.Limits, func(l motion.Limited) bool { return l.Span.From < s.To && l.Span.To > s.From })
}

// heard holds the lines of one stretch's signals, those of its calm periods.
type heard struct {
	command, motor spectral.Periodic
	isAngle        bool                // motor is the motor's angle, else its speed
	loads          []spectral.Periodic // as loadSignals gives them
	pressures      bool                // the first load is the pressure across the pump
	friction       [len(frictionWidths)][]spectral.Periodic
}

// periodicLines transforms the signals of one stretch over its whole periods.
func periodicLines(t *trace.Trace, p motion.Periodic, loads loadTerms, hold, pressureLag float64) []line {
	h, ok := listen(t, p, loads)
	if !ok {
		return nil
	}
	strongest := 0.0
	for k := range h.command.Omega {
		strongest = max(strongest, cmplx.Abs(h.command.Mean(k)))
	}
	var out []line
	for k, omega := range h.command.Omega {
		if omega < 2*math.Pi*lowestHz || omega > 2*math.Pi*highestHz || cmplx.Abs(h.command.Mean(k)) < excited*strongest {
			continue
		}
		if ln := h.line(k, pressureLag); cmplx.Abs(ln.speed) >= slowest {
			ln.hold = hold
			out = append(out, ln)
		}
	}
	return out
}

// listen takes the lines of command, motor and loads; ok is false without a whole
// period or without a motor signal.
func listen(t *trace.Trace, p motion.Periodic, loads loadTerms) (h heard, ok bool) {
	from, count := p.Span.From, p.Periods
	if count > 2 {
		from, count = from+p.Period, count-1 // the first period still settles
	}
	for count > 0 && from+count*p.Period+1 > t.Len() {
		count--
	}
	if count < 1 {
		return h, false
	}
	t = t.Slice(from, from+count*p.Period+1)
	n, isAngle := t.Samples(trace.MotorPosition)
	if !isAngle {
		n, _ = t.Samples(trace.MotorSpeed)
	}
	if n == nil {
		return h, false
	}
	motor := spectral.PeriodicLines(n, t.Period(), p.Period, count)
	kept := calmPeriods(motor)
	transform := func(x []float64) spectral.Periodic {
		return only(kept, spectral.PeriodicLines(x, t.Period(), p.Period, count))
	}
	u, _ := t.Samples(trace.SpeedCommand)
	h = heard{command: transform(u), motor: only(kept, motor), isAngle: isAngle, pressures: loads == withPressures}
	acting := loadSignals(t, loads)
	for _, x := range acting {
		h.loads = append(h.loads, transform(x))
	}
	var across []float64
	if h.pressures {
		across = acting[0]
	}
	drift := meanSpeeds(n, isAngle, kept, p.Period, t.Period())
	h.friction = frictionLines(h.motor, isAngle, drift, kept, across, p.Period, t.Period())
	return h, true
}

// line returns line k with its error, the lag of the pressure sensors (s) taken out.
func (h *heard) line(k int, pressureLag float64) line {
	omega, c := h.command.Omega[k], h.command.Mean(k)
	s := complex(0, omega)
	ln := line{omega: omega, command: c, speed: h.motor.Mean(k)}
	spread := h.motor.MeanError(k)
	if h.isAngle {
		ln.speed *= s
		spread *= omega
	}
	if len(h.motor.Period) < 2 {
		spread = 0.01 * cmplx.Abs(c) // a single period shows no spread
	}
	ln.sigma = modelError*cmplx.Abs(c) + spread
	for i := range h.loads {
		load := h.loads[i].Mean(k)
		if h.pressures && i == 0 {
			load *= 1 + s*complex(pressureLag, 0)
		}
		ln.loads = append(ln.loads, load)
	}
	for _, set := range h.friction {
		var of []complex128
		for i := range set {
			of = append(of, set[i].Mean(k))
		}
		ln.friction = append(ln.friction, of)
	}
	return ln
}

// meanSpeeds returns the mean speed (rad/s) over each period kept, from the angle n
// or the speed n, for periods of so many samples of the step (s).
func meanSpeeds(n []float64, isAngle bool, kept []int, period int, step float64) []float64 {
	out := make([]float64, len(kept))
	for i, k := range kept {
		from, to := k*period, (k+1)*period
		if isAngle {
			out[i] = (n[to] - n[from]) / (float64(period) * step)
			continue
		}
		for _, v := range n[from:to] {
			out[i] += v / float64(period)
		}
	}
	return out
}

// wildPeriod is how many times further than usual from the lines' medians a period
// may be: one in which the travel turned about or a stop was met is no steady response.
const wildPeriod = 4.0

// calmPeriods returns the periods whose lines are like those of most.
func calmPeriods(motor spectral.Periodic) []int {
	away := make([]float64, len(motor.Period))
	re, im := make([]float64, len(motor.Period)), make([]float64, len(motor.Period))
	for k, omega := range motor.Omega {
		if omega > 2*math.Pi*highestHz {
			break
		}
		for i, c := range motor.Period {
			re[i], im[i] = real(c[k]), imag(c[k])
		}
		middle := complex(motion.Quantile(re, 0.5), motion.Quantile(im, 0.5))
		for i, c := range motor.Period {
			away[i] += omega * cmplx.Abs(c[k]-middle)
		}
	}
	limit := wildPeriod * motion.Quantile(away, 0.5)
	var kept []int
	for i, d := range away {
		if d <= limit {
			kept = append(kept, i)
		}
	}
	return kept
}

// only returns the lines of the periods kept.
func only(kept []int, p spectral.Periodic) spectral.Periodic {
	out := spectral.Periodic{Omega: p.Omega}
	for _, i := range kept {
		out.Period = append(out.Period, p.Period[i])
	}
	return out
}
