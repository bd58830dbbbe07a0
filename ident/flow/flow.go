// Package flow fits what the flow of oil tells: how far the rod travels per
// motor turn, how much of the turns slips back through the pump, how much oil
// each chamber takes up per pressure, and from that the hydraulic resonance.
//
// All fits are linear regressions over windows of the log. They use the balance
// of the chamber that carries the load (h: the one under the higher pressure),
// the other being held at reservoir pressure by the valves:
//
//	D·(n - n_comp) = A_h·v + L·(p_cap - p_rod) ± C_h(x, p_h)·dp_h/dt
//
// with D the displacement (m³/rad), n the motor speed (rad/s), v the rod speed
// (m/s), L the leakage (m³/(s·Pa)) and C_h the chamber's compliance (m³/Pa),
// + for the cap side and - for the rod side. n_comp is what the oil between the
// pump's teeth loses by compression, only while the motor drives the pressure:
//
//	n_comp = n·[Δp/B + a·((p_a/p_low)^(1/κ) - (p_a/p_high)^(1/κ))]
//
// with a the share of free air, B the modulus of the oil itself, absolute
// pressures and κ the polytropic index. Slip is L/D (rad/s per Pa).
package flow

import (
	"errors"
	"math"

	"eha/strokewise/ident/plant"
	"eha/strokewise/ident/trace"
)

// Errors that a caller may act on.
var (
	ErrNoMotion    = errors.New("flow: no log holds both motor position and rod position")
	ErrTooLittle   = errors.New("flow: too little one-sided travel to fit the turns to the stroke")
	ErrNoPressures = errors.New("flow: no log holds both pressures: capacity needs them")
)

// Assumptions that no log can check.
const (
	oilModulus      = 1.4e9 // Pa, oil without free air in a usual cylinder and its walls (common practice, no source)
	oilModulusSpan  = 0.11  // standard deviation of it, as a share
	airShare        = 0.01  // free air at atmospheric pressure (common practice, no source)
	airSpan         = 0.01  // standard deviation of it
	airLow, airHigh = 0.002, 0.035
	pumpAirSpan     = 0.25  // standard deviation of what the same air takes of the pump's flow, as a share: the index κ of so quick a change lies between 1 and 1.4
	offsetSpan      = 1.5e5 // Pa, standard deviation of the sensors' relative offset
	oneSided        = 4e5   // Pa across the pump beyond which one chamber surely carries
	deadAirShare    = 0.9   // part of a line's volume that holds air like the chamber
	deadLength      = 0.1   // dead volume of a chamber for the air in it, as a share of its largest volume
	changeover      = 0.08  // s, within which the valves have changed when the other chamber takes over
	blockLength     = 3.0   // s, stretches taken as independent of each other
	sideTravel      = 0.02  // m, least travel of a chamber to fit a ratio of its own
	curveSpan       = 3.5e-4
	wallsSpan       = 0.1   // standard deviation of what a chamber's walls give along the stroke, as a share of its oil
	complianceDoubt = 0.04  // standard deviation of a chamber's compliance in the turns equation, whose air follows one index and one dead volume
	ratioFloor      = 1e-3  // half-width that the model's own error is worth, as a share of D
	leakRise        = 0.05  // rise of the leak up to the fastest speed, as a share (common practice, no source)
	leakRiseSpan    = 0.08  // standard deviation of it: some pumps hardly leak more, some a fifth
	surveyTime      = 120.0 // s of moves in a survey
	// unseenSlope is how steep, over the travel, the mean slope of a transducer's
	// curve may be for the size of the curve that is seen: 1.5 for one wave of a
	// sine with any phase.
	unseenSlope = 1.5
)

// Number is a fitted value with its standard deviation.
type Number struct{ Value, Sigma float64 }

// Interval returns the 95 % interval.
func (n Number) Interval() (low, high float64) {
	return n.Value - 1.959963985*n.Sigma, n.Value + 1.959963985*n.Sigma
}

// Relative returns the half-width of the 95 % interval over the value.
func (n Number) Relative() float64 { return 1.959963985 * n.Sigma / math.Abs(n.Value) }

// estimate returns the number as an estimate with the status its width earns.
func (n Number) estimate(p plant.Param, from string) plant.Estimate {
	low, high := n.Interval()
	return p.Found(n.Value, low, high, from)
}

// channels are the samples of one log that the flow needs.
type channels struct {
	log      *trace.Trace
	period   float64
	angle    []float64 // rad
	x        []float64 // m
	cap, rod []float64 // Pa, nil where not logged
	warmth   []float64 // K, of the oil; nil where not logged
}

// hold picks the channels of every log that has motion; it integrates a logged
// motor speed where the position is missing.
func hold(logs []*trace.Trace) []channels {
	var held []channels
	for _, t := range logs {
		c := channels{log: t, period: t.Period()}
		var ok bool
		if c.x, ok = t.Samples(trace.RodPosition); !ok {
			continue
		}
		if c.angle, ok = t.Samples(trace.MotorPosition); !ok {
			speed, ok := t.Samples(trace.MotorSpeed)
			if !ok {
				continue
			}
			c.angle = integrate(speed, t.Period())
		}
		if t.Has(trace.CapPressure, trace.RodPressure) {
			c.cap, _ = t.Samples(trace.CapPressure)
			c.rod, _ = t.Samples(trace.RodPressure)
		}
		c.warmth, _ = t.Samples(trace.OilTemperature)
		held = append(held, c)
	}
	return held
}

func (c *channels) pressures() bool { return c.cap != nil }

func integrate(rate []float64, period float64) []float64 {
	sum := make([]float64, len(rate))
	for i := 1; i < len(rate); i++ {
		sum[i] = sum[i-1] + (rate[i-1]+rate[i])/2*period
	}
	return sum
}

// airTerm returns (p_a/p)^(1/κ) at gauge pressure p (Pa): the volume of free air
// relative to that at atmospheric pressure. Below a tenth of an atmosphere it
// is held, where sensors' offsets rather than air would speak.
func airTerm(p float64) float64 {
	abs := math.Max(p+plant.AtmosphericPressure, 0.1*plant.AtmosphericPressure)
	return math.Pow(plant.AtmosphericPressure/abs, 1/plant.PolytropicIndex)
}

// airSlope returns g(p), the rate at which free air shrinks with pressure (1/Pa)
// relative to its volume at atmospheric pressure: -d(airTerm)/dp.
func airSlope(p float64) float64 {
	abs := math.Max(p+plant.AtmosphericPressure, 0.1*plant.AtmosphericPressure)
	return airTerm(p) / (plant.PolytropicIndex * abs)
}
