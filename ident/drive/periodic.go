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

// guessedLoad is the factor on the doubt where the load on the motor is not logged.
const guessedLoad = 2

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
		for k := range fit.sigma {
			fit.sigma[k] *= guessedLoad
		}
	}
	return fit, ok
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
	motor := spectral.PeriodicLines(n, t.Period(), p.Period, count)
	kept := calmPeriods(motor)
	motor = only(kept, motor)
	transform := func(x []float64) spectral.Periodic {
		return only(kept, spectral.PeriodicLines(x, t.Period(), p.Period, count))
	}
	u, _ := t.Samples(trace.SpeedCommand)
	command := transform(u)
	acting := loadSignals(t, loads)
	spectra := make([]spectral.Periodic, len(acting))
	for i, x := range acting {
		spectra[i] = transform(x)
	}
	var across []float64
	if loads == withPressures {
		across = acting[0]
	}
	drift := meanSpeeds(n, isAngle, kept, p.Period, t.Period())
	friction := frictionLines(motor, isAngle, drift, kept, across, p.Period, t.Period())
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
		if len(kept) < 2 {
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
		for _, set := range friction {
			var of []complex128
			for i := range set {
				of = append(of, set[i].Mean(k))
			}
			ln.friction = append(ln.friction, of)
		}
		out = append(out, ln)
	}
	return out
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
