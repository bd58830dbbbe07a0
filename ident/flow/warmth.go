package flow

import (
	"math"

	"eha/strokewise/ident/plant"
)

// Leaks through narrow gaps go with one over the oil's viscosity, which falls by a
// nearly constant share per kelvin: some 3 to 5 % of a mineral oil about 40 °C, less
// where it is hot (common practice, no source).
const (
	usualThinning = 0.035
	thinningSpan  = 0.015 // standard deviation of it
	// leastWarming (K) is what the temperature must span for slip to show it.
	leastWarming = 4.0
	// thinningInflation widens the regression's interval as slipInflation does slip's.
	thinningInflation = 1.5
	// thinningFloor is what the share changes by along the warming, which is no exponential.
	thinningFloor = 0.05
)

// warmth is how slip follows the oil's temperature T in the turns equation:
//
//	s(T) = s·exp(perKelvin·(T - mean))
type warmth struct {
	varies    bool    // enough for slip to show it
	mean      float64 // K
	perKelvin float64
}

// warmthOf returns the mean temperature of the moves, and whether it varies enough;
// moves of a log without a temperature leave nothing to say.
func warmthOf(moves []move) warmth {
	var all []float64
	sum := 0.0
	for _, v := range moves {
		if v.warmth <= 0 {
			return warmth{}
		}
		all = append(all, v.warmth)
		sum += v.warmth / float64(len(moves))
	}
	return warmth{varies: quantile(all, 0.98)-quantile(all, 0.02) >= leastWarming, mean: sum, perKelvin: usualThinning}
}

// thinned is the factor on slip at the move's temperature.
func (w warmth) thinned(v move) float64 {
	if !w.varies {
		return 1
	}
	return math.Exp(w.perKelvin * (v.warmth - w.mean))
}

// thinning returns the temperature to which slip belongs and how it follows it;
// nothing where the temperature was not logged, or hardly varied.
func (t *turns) thinning() plant.SlipThinning {
	n, found := t.at["thinning"]
	if !found {
		return plant.SlipThinning{}
	}
	value := t.warmth.perKelvin
	half := 1.96*thinningInflation*t.fit.Sigma(n) + thinningFloor*math.Abs(value)
	return plant.SlipThinning{Temperature: t.warmth.mean, PerKelvin: plant.Estimate{
		Value: value, Low: value - half, High: value + half, Status: plant.Identified, From: "turns lost as the oil warmed",
	}}
}
