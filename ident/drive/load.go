package drive

import (
	"math"

	"eha/strokewise/ident/motion"
	"eha/strokewise/ident/trace"
)

// frictionWidths are the speeds (rad/s) over which the motor's friction may
// change sign; the one that explains the lines best is taken. Taken too narrow,
// part of the friction of small motions goes into damping, too wide the other way round.
var frictionWidths = [...]float64{0.25, 1, 3}

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
