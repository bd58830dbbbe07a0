package balance

import (
	"fmt"
	"math"
	"sort"

	"eha/strokewise/ident/plant"
)

// massFits are the window widths (s) and lower limits of speed (shares of full
// speed) that the mass is fitted with; that the answers differ is part of the doubt.
var massFits = []struct{ width, low float64 }{{0.060, 0.03}, {0.080, 0.03}, {0.080, 0.06}, {0.120, 0.06}}

const (
	// massShare is the factor on the interval that the fits and their differences
	// give, massDoubt the share of the mass that it has at least, and
	// frictionShare the share of Coulomb friction that may pass for inertia: all
	// found on simulated machines to cover 95 % of unlike ones.
	massShare     = 0.9
	massDoubt     = 0.002
	frictionShare = 0.0001
	// lagInflation is the factor on the interval that the fits give the delay.
	lagInflation = 1.6
)

// mass fits moving mass and delay.
func (s *survey) mass(res *Result) {
	var masses, sigmas, lags, lagSigmas []float64
	var last *line
	for _, try := range massFits {
		l, err := s.collect(try.width, try.low*s.full, math.Inf(1)).fitBalance(s)
		if err != nil {
			continue
		}
		m, sigma := l.mass()
		masses, sigmas = append(masses, m), append(sigmas, sigma)
		if lag, sigma, told := l.lagTold(); told {
			lags, lagSigmas = append(lags, lag), append(lagSigmas, sigma)
		}
		last = l
	}
	if last == nil {
		return
	}
	m, spread := middle(masses)
	wider, tooFew := last.few()
	half := massShare*wider*(1.96*median(sigmas)+spread) + massDoubt*math.Abs(m)
	half += frictionShare * res.Coulomb.Value / rms(last.rows.accel)
	if !(m > 0) || half > m {
		res.Mass = plant.MissingFrom("pulses: quick speed steps while the rod moves; the accelerations logged are lost in friction and noise")
		return
	}
	res.Mass = plant.MovingMass.Found(m, m-half, m+half, fmt.Sprintf("balance of forces in %d windows in motion", len(last.rows.force)))
	weaken(&res.Mass, tooFew)
	if len(lags) == 0 {
		return
	}
	lag, lagSpread := middle(lags)
	lagHalf := lagInflation * (1.96*median(lagSigmas) + lagSpread)
	res.Lag = plant.Estimate{Value: lag, Low: lag - lagHalf, High: lag + lagHalf, Status: plant.Identified, From: "jerk term of the balance of forces"}
	if lagHalf > lagSigma {
		res.Lag.Status = plant.Weak
	}
}

// middle returns the median and the standard deviation.
func middle(y []float64) (center, spread float64) {
	mean := 0.0
	for _, v := range y {
		mean += v / float64(len(y))
	}
	for _, v := range y {
		spread += (v - mean) * (v - mean)
	}
	return median(y), math.Sqrt(spread / math.Max(float64(len(y)-1), 1))
}

// median returns the median of y, which it leaves unchanged.
func median(y []float64) float64 {
	if len(y) == 0 {
		return 0
	}
	sorted := append([]float64(nil), y...)
	sort.Float64s(sorted)
	n := len(sorted)
	return (sorted[(n-1)/2] + sorted[n/2]) / 2
}
