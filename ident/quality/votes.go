package quality

import (
	"math"

	"eha/strokewise/ident/motion"
	"eha/strokewise/ident/plant"
	"eha/strokewise/ident/trace"
)

// commandVotes compares command with speed: a speed loop follows.
func (v *view) commandVotes(n []float64) []vote {
	u := v.frame[trace.SpeedCommand]
	if u == nil {
		return nil
	}
	r := correlation(u, n, v.good)
	if math.Abs(r) < 0.2 {
		return nil
	}
	return []vote{{command | encoder, 8 * r, "the motor turns against its speed command"}}
}

// rodVotes compares rod with motor travel.
func (v *view) rodVotes(n []float64) []vote {
	dx := v.change(trace.RodPosition)
	if dx == nil {
		return nil
	}
	r := correlation(dx, n, v.good)
	if math.Abs(r) < 0.2 {
		return nil
	}
	return []vote{{encoder | rod, 8 * r, "the rod position falls while the motor position rises"}}
}

// perTurn is the median of rod travel over motor turns by the encoder's
// direction, without sign, over the faster half of the motion.
func (v *view) perTurn(n []float64) plant.PerDirection[float64] {
	dx := v.change(trace.RodPosition)
	var s plant.PerDirection[float64]
	if dx == nil {
		return s
	}
	for _, d := range []plant.Direction{plant.Extend, plant.Retract} {
		var ratios []float64
		for k, r := range dx {
			if v.good[k] && n[k]*d.Sign() > 0.15*v.motion.TopSpeed && v.kind[k] != motion.Pressing {
				ratios = append(ratios, math.Abs(r/(n[k]*v.dt)))
			}
		}
		s.Set(d, median(ratios))
	}
	return s
}

// flowVotes asks which pressure rises when more oil is pumped than the piston
// makes room for (which two clocks cannot tell): with the encoder positive extending it is that of the cap side,
// and the rod side's falls.
func (v *view) flowVotes(n []float64, s plant.PerDirection[float64]) []vote {
	dx := v.change(trace.RodPosition)
	if dx == nil || s.Extend == 0 || s.Retract == 0 || v.rodSkewed() {
		return nil
	}
	sign := 1.0
	if correlation(dx, n, v.good) < 0 {
		sign = -1
	}
	flow := make([]float64, len(n))
	for k := range n {
		d := plant.Extend
		if n[k] < 0 {
			d = plant.Retract
		}
		flow[k] = n[k]*v.dt - sign*dx[k]/s.At(d)
	}
	// Over a tenth of a second and over a quarter: clocks some milliseconds apart and
	// sensors' lags turn the phase at the resonance, but not the sum. Where the two disagree,
	// the vote is void.
	r := v.flowAgreement(flow, 0.1)
	if slow := v.flowAgreement(flow, 0.25); slow*r < 0 {
		return nil
	} else if math.Abs(slow) < math.Abs(r) {
		r = slow
	}
	if math.Abs(r) < 0.1 {
		return nil
	}
	return []vote{{encoder | swapped, 4 * clip(r/0.5), "oil pumped into the cap side raises the pressure called rod side"}}
}

// flowAgreement is the correlation of the surplus flow with the change of the cap side's
// pressure less that with the rod side's, over pieces of so many seconds.
func (v *view) flowAgreement(flow []float64, seconds float64) float64 {
	over := max(1, int(math.Round(seconds/v.dt)))
	q := sums(flow, over)
	return correlation(q, sums(v.change(trace.CapPressure), over), nil) - correlation(q, sums(v.change(trace.RodPressure), over), nil)
}

// sums adds up over successive frames.
func sums(y []float64, over int) []float64 {
	out := make([]float64, len(y)/over)
	for k := range out {
		for _, s := range y[k*over : (k+1)*over] {
			out[k] += s
		}
	}
	return out
}

// frictionVotes asks which pressure is higher while the encoder counts up in
// steady travel, place for place: friction asks for more force in the direction
// of travel, so that of the cap side when extending.
func (v *view) frictionVotes(n []float64) []vote {
	capUp, ok1 := v.directionStep(v.frame[trace.CapPressure], n)
	rodUp, ok2 := v.directionStep(v.frame[trace.RodPressure], n)
	total := math.Abs(capUp.step) + math.Abs(rodUp.step)
	if !ok1 || !ok2 || total == 0 || math.Max(capUp.t, rodUp.t) < 4 {
		return nil
	}
	return []vote{{encoder | swapped, 3 * (capUp.step - rodUp.step) / total, "friction shows in the pressures the wrong way round"}}
}

// clip limits to ±1.
func clip(r float64) float64 { return math.Max(-1, math.Min(1, r)) }
