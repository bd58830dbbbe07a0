package twin

import (
	"maps"
	"math"
)

// Warmth is how the oil warms from a log's start on. The zero value keeps it as it
// is, and no temperature is logged.
type Warmth struct {
	Start float64 // K
	Rise  float64 // K, in the end
	Time  float64 // s, in which the first two thirds of it are done
}

// leakTemperature (K) is that at which a warming machine has the leaks it states.
const leakTemperature = 313.15

// at returns the temperature (K) at time t (s) of a log.
func (w Warmth) at(t float64) float64 {
	if w == (Warmth{}) {
		return leakTemperature
	}
	return w.Start + w.Rise*(1-math.Exp(-t/w.Time))
}

// mean returns the mean temperature (K) over a survey.
func (w Warmth) mean() float64 {
	if w == (Warmth{}) {
		return leakTemperature
	}
	const length = 2 * middleOfLog
	return w.Start + w.Rise*(1-w.Time/length*(1-math.Exp(-length/w.Time)))
}

// Thinned returns by what factor leaks are larger at the temperature (K) than at
// leakTemperature; 1 without warmth. They go with one over the viscosity
//
//	log log(ν + 0.7) = A - B·log T
//
// of a mineral oil of 46 mm²/s at 40 °C and 6.8 mm²/s at 100 °C (common practice, no
// source; the law is that of ASTM D341, value from memory).
func (w Warmth) Thinned(temperature float64) float64 {
	if w == (Warmth{}) {
		return 1
	}
	return viscosity(leakTemperature) / viscosity(temperature)
}

// AtTemperature returns the truth with slip restated at the temperature (K); a
// machine whose oil does not warm has the same slip at any.
func (t Truth) AtTemperature(m *Machine, temperature float64) Truth {
	factor := m.Warmth.Thinned(temperature) / m.Warmth.Thinned(m.Warmth.mean())
	slip := t.Params["slip"]
	slip.Value *= factor
	slip.Range = [2]float64{slip.Range[0] * factor, slip.Range[1] * factor}
	out := Truth{Carrier: t.Carrier, Params: maps.Clone(t.Params)}
	out.Params["slip"] = slip
	return out
}

// viscosity returns mm²/s at the temperature (K).
func viscosity(temperature float64) float64 {
	twice := func(v float64) float64 { return math.Log10(math.Log10(v + 0.7)) }
	cold, hot := math.Log10(313.15), math.Log10(373.15)
	slope := (twice(46) - twice(6.8)) / (hot - cold)
	return math.Pow(10, math.Pow(10, twice(46)-slope*(math.Log10(temperature)-cold))) - 0.7
}

// warm draws how the oil warms.
func (m *Machine) warm(d draw) {
	m.Warmth = Warmth{Start: d.between(293, 308), Rise: d.between(10, 25), Time: d.between(60, 150)}
}
