package ident

import (
	"math"
	"slices"

	"eha/strokewise/ident/plant"
	"eha/strokewise/ident/trace"
)

// lostSpeed is the motor speed (rad/s) that slip takes at the pressures, unknown,
// of travel each way and of holding. It stands in for slip where no pressures
// are logged, at the load of these logs only.
type lostSpeed struct {
	travel plant.PerDirection[float64]
	hold   float64
}

const (
	lostWindow = 0.25 // s over which turns and travel are compared
	restTravel = 5e-5 // m in a window up to which the rod counts as holding
	leastLead  = 5e5  // Pa across the pump that slip can be scaled to
	lostRows   = 20   // windows that make a figure
)

// lostSpeeds takes the medians of n - v/s over windows of travel each way, s
// being the stroke per turn, and of n while the rod stands.
func (f *fitting) lostSpeeds() lostSpeed {
	var travel plant.PerDirection[[]float64]
	var hold []float64
	for _, t := range f.logs {
		theta, okAngle := t.Samples(trace.MotorPosition)
		x, okRod := t.Samples(trace.RodPosition)
		if !okAngle || !okRod {
			continue
		}
		n := max(2, int(lostWindow/t.Period()))
		for _, part := range stretches(t) {
			for i := part.From; i+n < part.To; i += n {
				dx, turn := x[i+n]-x[i], theta[i+n]-theta[i]
				d := plant.Extend
				if dx < 0 {
					d = plant.Retract
				}
				time := float64(n) * t.Period()
				if math.Abs(dx) < restTravel {
					hold = append(hold, turn/time)
				} else if ratio := f.stroke.PerTurn.At(d).Value; ratio > 0 && math.Abs(dx) > 10*restTravel {
					travel.Set(d, append(travel.At(d), (turn-dx/ratio)/time))
				}
			}
		}
	}
	return lostSpeed{plant.PerDirection[float64]{Extend: middle(travel.Extend), Retract: middle(travel.Retract)}, middle(hold)}
}

// leakFromHolding sets the leakage that takes the speed seen while holding at the
// model's own pressure, where slip is not known otherwise.
func (f *fitting) leakFromHolding(m *plant.Model) {
	if f.params[plant.Slip].Known() || f.lostSpeed.hold == 0 {
		return
	}
	c := m.Carrier(-m.AxialLoad)
	lead := m.PressureFor(c, -m.AxialLoad) - m.LowPressure
	if c == plant.Rod {
		lead = -lead
	}
	if leak := f.lostSpeed.hold * m.Displacement / lead; math.Abs(lead) > leastLead && leak > 0 {
		m.Leakage = leak
	}
}

// middle is the median, 0 of too few.
func middle(x []float64) float64 {
	if len(x) < lostRows {
		return 0
	}
	slices.Sort(x)
	return x[len(x)/2]
}

// travelBlind is the rod's travel for a motor angle in a time (s), pressures unknown.
func (f *fitting) travelBlind(turn, time float64) float64 {
	lost := f.lostSpeed
	d := plant.Extend
	if turn < lost.hold*time {
		d = plant.Retract
	}
	travel := f.stroke.PerTurn.At(d).Value * (turn - lost.travel.At(d)*time)
	if travel*d.Sign() < 0 {
		return 0 // slower than what holding takes
	}
	return travel
}
