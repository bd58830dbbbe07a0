package drive

import "eha/strokewise/ident/trace"

// loadTerms says by which signals the load on the motor is described.
type loadTerms int

const (
	frictionOnly  loadTerms = iota
	withTravel              // turns less travel stand for the pressure
	withPressures           // the pressures themselves
)

// commonLoads returns the load terms whose signals every log with periodic excitation
// holds: short buffers of one machine may differ in what they log.
func commonLoads(logs []Log) loadTerms {
	pressures, travel := true, true
	for _, l := range logs {
		if len(l.Motion.Periodic) > 0 {
			pressures = pressures && l.Trace.Has(trace.CapPressure, trace.RodPressure)
			travel = travel && l.Trace.Has(trace.MotorPosition, trace.RodPosition)
		}
	}
	switch {
	case pressures:
		return withPressures
	case travel:
		return withTravel
	}
	return frictionOnly
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

const (
	pressureUnit = 1e6  // Pa
	travelUnit   = 1e-3 // m
)
