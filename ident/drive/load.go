package drive

import (
	"math"

	"eha/strokewise/ident/motion"
	"eha/strokewise/ident/trace"
)

// frictionWidths are the speeds (rad/s) over which the motor's friction may
// change sign; the one that explains the lines best is taken. Taken too narrow,
// part of the friction of small motions goes into damping, too wide the other way round.
var frictionWidths = [...]float64{0.25, 0.5, 1, 1.5, 2.2, 3.3}

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

// frictionSignals returns for each of frictionWidths what friction loads the motor
// with: the sign of its speed, smoothed over the width, and where pressures are
// logged that sign times the pressure across the pump, with which its losses grow.
func frictionSignals(t *trace.Trace, loads loadTerms) [][][]float64 {
	speed := quickSpeed(t)
	across := loadSignals(t, loads)
	out := make([][][]float64, len(frictionWidths))
	for k, width := range frictionWidths {
		sign := make([]float64, len(speed))
		for i, v := range speed {
			sign[i] = math.Tanh(v / width)
		}
		out[k] = [][]float64{sign}
		if loads != withPressures {
			continue
		}
		loss := make([]float64, len(speed))
		for i := range loss {
			loss[i] = math.Abs(across[0][i]) * sign[i]
		}
		out[k] = append(out[k], loss)
	}
	return out
}

// quickSpeed is the motor speed with as little lag and as little of the encoder's
// steps as can be had: friction changes sign within milliseconds.
func quickSpeed(t *trace.Trace) []float64 {
	theta, ok := t.Samples(trace.MotorPosition)
	if !ok {
		speed, _ := t.Samples(trace.MotorSpeed)
		return speed
	}
	half := int(math.Round(quickHalf / t.Period()))
	speed := motion.Slope(t, theta, t.Period())
	if half < 2 {
		return speed
	}
	// The slope of a cubic through the samples within half of each, by least squares
	// (A. Savitzky and M. J. E. Golay, Analytical Chemistry 36(8), 1964, pp. 1627-1639;
	// value from memory): a straight line would round off the changes of sign.
	var s2, s4, s6 float64
	for k := -half; k <= half; k++ {
		q := float64(k * k)
		s2, s4, s6 = s2+q, s4+q*q, s6+q*q*q
	}
	weight := make([]float64, 2*half+1)
	for i := range weight {
		k := float64(i - half)
		weight[i] = k * (s6 - s4*k*k) / ((s2*s6 - s4*s4) * t.Period())
	}
	for i := half; i+half < len(theta); i++ {
		sum := 0.0
		for k, w := range weight {
			sum += w * theta[i-half+k]
		}
		speed[i] = sum
	}
	return speed
}

// quickHalf (s) to both sides is what quickSpeed is taken from.
const quickHalf = 0.004

const (
	pressureUnit = 1e6  // Pa
	travelUnit   = 1e-3 // m
)
