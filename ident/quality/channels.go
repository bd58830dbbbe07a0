package quality

import (
	"math"

	"eha/strokewise/ident/plant"
	"eha/strokewise/ident/trace"
)

// measured are the channels that a sensor gives, whose faults flat, clipped and noisy are about.
var measured = []trace.Channel{trace.RodPosition, trace.CapPressure, trace.RodPressure, trace.Force, trace.MotorPosition, trace.MotorCurrent, trace.MotorTorque}

// channels describes what the log holds.
func (v *view) channels() []Channel {
	var all []Channel
	for _, c := range v.t.Channels() {
		d := Channel{Log: v.t.Name(), Channel: c, Step: v.r.Resolution[c], Noise: v.restNoise(c), Sure: 1}
		d.Low, d.High = v.bounds(c)
		if l := v.clocks.of[c]; l.told() {
			d.Lag, d.LagWidth = l.value, l.width
		} else {
			d.LagUntold = v.clocks.why[c]
		}
		d.Order, d.OrderSize = v.orders[c].order, v.orders[c].amplitude
		for _, g := range v.r.Guesses {
			if g.Channel == c && !g.Asked {
				d.Column, d.Unit, d.Sure, d.Why = g.Column, g.Unit, g.Sure, g.Why
			}
		}
		all = append(all, d)
	}
	return all
}

// motionless is what a motor turns (rad), or is asked to (rad/s), at most where nothing moves.
const motionless = 0.6

// noMotion tells whether the machine moved at all: a tenth of a turn, or a hundred
// steps of the transducer.
func (v *view) noMotion() (Finding, bool) {
	moved, turned := false, false
	if x, ok := v.samples(trace.RodPosition); ok {
		low, high := v.bounds(trace.RodPosition)
		moved = high-low > max(100*v.r.Resolution[trace.RodPosition], 20*v.quickNoise(x), 1e-4)
	}
	for _, c := range []trace.Channel{trace.MotorPosition, trace.MotorSpeed, trace.SpeedCommand} {
		if v.has(c) {
			low, high := v.bounds(c)
			turned = turned || high-low > motionless
		}
	}
	if moved || turned {
		return Finding{}, false
	}
	return v.finding(NoMotion, Stop, trace.NoChannel, plant.Params(), "nothing moves in this log.", "Log a move: slow_strokes is the first to try."), true
}

// quickNoise is the noise of samples by their second differences, of which most
// of any log's are noise alone; for white noise σ the second difference has σ·√6.
func (v *view) quickNoise(y []float64) float64 {
	var d []float64
	every := max(1, len(y)/20000)
	for i := 1; i+1 < len(y); i += every {
		d = append(d, math.Abs(y[i+1]-2*y[i]+y[i-1]))
	}
	return median(d) / (0.6745 * math.Sqrt(6))
}

// affectedBy lists what is found from a channel.
func (v *view) affectedBy(c trace.Channel) []plant.Param {
	switch c {
	case trace.RodPosition, trace.MotorPosition:
		return join(strokeParams, forceParams, waveParams, oilParams)
	case trace.CapPressure, trace.RodPressure, trace.Force:
		return join([]plant.Param{plant.Slip}, forceParams, oilParams, waveParams)
	}
	return nil
}
