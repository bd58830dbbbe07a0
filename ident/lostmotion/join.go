package lostmotion

import (
	"fmt"
	"math"

	"eha/strokewise/ident/plant"
)

// Standard deviations as shares of the value, found on simulated machines: what
// either way may be off beside its known doubts, and the oil where the chambers'
// pressures are so near each other that valves stand half open.
const (
	ownMeasured   = 0.04
	ownCalculated = 0.04
	halfOpen      = 0.3
	// bareMeasured stands for ownMeasured where no pressures tell how far the
	// travel was steady, bareOneWay where it was turned back from one way only, for
	// slip then is in it.
	bareMeasured, bareOneWay = 0.14, 0.6
	// nearEachOther (Pa) is the difference of the chambers' pressures below which
	// valves may stand half open.
	nearEachOther = 3 * openAcross
)

// found is a value with its standard deviation; zero where nothing was found.
type found struct{ value, sigma float64 }

// measured returns the angle (rad) from turns and travel with its doubt: the scatter over
// reversals, the transducer's delay, and slip as far as both kinds of reversal do not cancel it.
func measured(places []Place, known Known) found {
	f, oneWay := byDirection(places, func(p Place) float64 { return p.Measured * p.toMiddle })
	var speed, push, n float64
	bare := true
	for _, p := range places {
		speed, n = speed+p.Speed, n+1
		push += p.direction * p.push
		bare = bare && p.start.Cap == p.start.Rod
	}
	own := ownMeasured
	if bare {
		own = bareMeasured
		if oneWay {
			own = bareOneWay
		}
	}
	doubt := math.Hypot(2*speed/n*known.DelayDoubt, own*f.value)
	if oneWay {
		doubt = math.Hypot(doubt, push/n*known.SlipDoubt)
	}
	f.sigma = math.Hypot(f.sigma, doubt)
	return f
}

// calculated returns the angle (rad) from pressures and compliance with its doubt.
func calculated(places []Place, known Known) found {
	f, _ := byDirection(places, func(p Place) float64 { return p.Calculated * p.toMiddle })
	near, own := 0.0, ownCalculated
	for _, p := range places {
		if halfOpenBetween(p.start, p.end) {
			near++
		}
	}
	if near > 0.5*float64(len(places)) {
		own = halfOpen
	}
	// The chamber that carries rules.
	oil := known.OilDoubt.Cap
	if len(places) > 0 && places[0].start.Rod > places[0].start.Cap {
		oil = known.OilDoubt.Rod
	}
	f.sigma = math.Hypot(f.sigma, f.value*math.Hypot(own, oil/1.96))
	return f
}

// halfOpenBetween reports whether valves may stand half open on the way between the pressures (Pa).
func halfOpenBetween(a, b plant.PerChamber[float64]) bool {
	across, after := a.Cap-a.Rod, b.Cap-b.Rod
	return math.Min(math.Abs(across), math.Abs(after)) < nearEachOther || across*after < 0
}

// byDirection returns the mean over both kinds of reversal of the median of the
// value, with the standard deviation that the scatter gives: what slip is left
// makes one kind larger and the other smaller. Places with the value 0 do not
// count; oneWay is true where only one kind is left, and the value 0 where none is.
func byDirection(places []Place, value func(Place) float64) (f found, oneWay bool) {
	n := 0.0
	for _, direction := range []float64{1, -1} {
		var values, weights []float64
		for _, p := range places {
			if v := value(p); p.direction == direction && v != 0 {
				values, weights = append(values, v), append(weights, p.weight)
			}
		}
		if len(values) == 0 {
			continue
		}
		middle := weightedMedian(values, weights)
		apart := make([]float64, len(values))
		for i, v := range values {
			apart[i] = math.Abs(v - middle)
		}
		// 1.48 takes a median of distances to a standard deviation, 1.25 that of a
		// mean to that of a median.
		sigma := 1.48 * 1.25 * weightedMedian(apart, weights) / math.Sqrt(float64(len(values)))
		f.value, f.sigma, n = f.value+middle, math.Hypot(f.sigma, sigma), n+1
	}
	if n == 0 {
		return found{}, false
	}
	return found{f.value / n, f.sigma / n}, n == 1
}

// conclude joins the angle a (rad) measured and b calculated, where it is known.
func (res *Result) conclude(a, b found) {
	if a.value <= 0 {
		return
	}
	n := len(res.Places)
	if b.value <= 0 {
		res.LostMotion = plant.LostMotion.Found(a.value, math.Max(a.value-1.96*a.sigma, 0), a.value+1.96*a.sigma,
			fmt.Sprintf("%d slow reversals, turns against travel", n))
		return
	}
	weight := b.sigma * b.sigma / (a.sigma*a.sigma + b.sigma*b.sigma) // of a
	value := weight*a.value + (1-weight)*b.value
	sigma := a.sigma * math.Sqrt(weight)
	// What they disagree by beyond their doubts is doubt too.
	apart := math.Abs(a.value - b.value)
	sigma = math.Hypot(math.Max(sigma, math.Min(ownMeasured, ownCalculated)*value), math.Sqrt(weight*(1-weight))*apart)
	res.LostMotion = plant.LostMotion.Found(value, math.Max(value-1.96*sigma, 0), value+1.96*sigma,
		fmt.Sprintf("%d slow reversals, turns against travel and oil compressed", n))
	if apart > 3*math.Hypot(a.sigma, b.sigma) {
		res.Warnings = append(res.Warnings, fmt.Sprintf("lost motion %.2g rev from travel, %.2g rev from pressures", a.value/(2*math.Pi), b.value/(2*math.Pi)))
	}
}
