package quality

import (
	"fmt"
	"math"

	"eha/strokewise/ident/motion"
	"eha/strokewise/ident/plant"
	"eha/strokewise/ident/trace"
)

// coarseRod (m) is the step of a rod position from which on it harms.
const coarseRod = 1e-4

// resolution judges the steps of the digital readings.
//
// Rod position: settings ask for windows of a few hundredths of a millimetre, and
// speeds over 80 ms windows for mm/s; 0.1 mm steps, or fewer than 2000 over the travel
// logged, spoil both. Pressure: one step should stay below the 1 bar to which offsets
// are known anyhow. Encoder: 500 steps a turn. Common practice, no source.
func (v *view) resolution() []Finding {
	var found []Finding
	add := func(c trace.Channel, step, limit float64, affects []plant.Param) {
		if step > limit*(1+1e-9) {
			found = append(found, v.finding(CoarseResolution, Harm, c, affects,
				fmt.Sprintf("%s comes in steps of %s.", c.Words(), inUnit(c, step)), "Record it with more digits or bits, or use the sensor's finer output."))
		}
	}
	for c, step := range v.r.Resolution {
		if !v.has(c) {
			continue
		}
		low, high := v.bounds(c)
		switch c {
		case trace.RodPosition:
			add(c, step, math.Min(coarseRod, (high-low)/500), join(forceParams[2:3], waveParams))
		case trace.CapPressure, trace.RodPressure:
			add(c, step, 1e5, join(forceParams, oilParams))
		case trace.MotorPosition:
			add(c, step, coarseEncoder, join(driveParams, []plant.Param{plant.LostMotion}))
		}
	}
	return found
}

// coarseEncoder (rad) is the step of a motor position from which on it harms, and quietEncoder the
// noise that such steps make.
const (
	coarseEncoder = 2 * math.Pi / 500
	quietEncoder  = coarseEncoder / 3.5 // a step over √12
)

// coarseEncoder reports whether the motor position comes in steps or noise that harm.
func (v *view) coarseEncoder() bool {
	return v.r.Resolution[trace.MotorPosition] > coarseEncoder*(1+1e-9) || v.restNoise(trace.MotorPosition) > quietEncoder
}

// longestRest returns the longest rest of the log, and whether it has a second of it.
func (v *view) longestRest() (trace.Span, bool) {
	var best trace.Span
	for _, s := range v.motion.Segments {
		if s.Kind == motion.Rest && s.Span.Len() > best.Len() {
			best = s.Span
		}
	}
	return best, float64(best.Len())*v.t.Period() >= 0.25
}

// quietRest returns the second half of the longest rest, at most two seconds of it:
// the first may still ring from the move before.
func (v *view) quietRest() (trace.Span, bool) {
	rest, ok := v.longestRest()
	half := trace.Span{From: rest.From + rest.Len()/2, To: rest.To}
	half.From = max(half.From, half.To-int(2/v.t.Period())-2)
	return half, ok
}

// restNoise is the noise of a channel at rest: its standard deviation about a straight
// line (the rod may creep), or that of its second differences where that is less (the
// machine may swing); 0 without a rest.
func (v *view) restNoise(c trace.Channel) float64 {
	rest, ok := v.quietRest()
	y, has := v.samples(c)
	if !ok || !has {
		return 0
	}
	part := y[rest.From:rest.To]
	return math.Min(aboutLine(part), v.quickNoise(part))
}

// aboutLine is the standard deviation of y about its straight line.
func aboutLine(y []float64) float64 {
	n := float64(len(y))
	if n < 3 {
		return 0
	}
	mid := (n - 1) / 2
	var sy, sxy, sxx float64
	for i, s := range y {
		x := float64(i) - mid
		sy += s - y[0]
		sxy += x * (s - y[0])
		sxx += x * x
	}
	var rss float64
	for i, s := range y {
		e := s - y[0] - sy/n - sxy/sxx*(float64(i)-mid)
		rss += e * e
	}
	return math.Sqrt(rss / (n - 2))
}

// Noise at rest above these harms: it is several times that of a usual sensor and
// input of 12 bits (common practice, no source).
var noiseLimits = map[trace.Channel]float64{trace.RodPosition: 1e-4, trace.CapPressure: 1.5e5, trace.RodPressure: 1.5e5, trace.MotorPosition: quietEncoder}

// noiseNotes are worth knowing; for current and torque, whose size depends on the motor,
// as a share of the largest value.
var (
	noiseNotes      = map[trace.Channel]float64{trace.RodPosition: 2e-5, trace.CapPressure: 0.5e5, trace.RodPressure: 0.5e5, trace.MotorPosition: quietEncoder / 2}
	noisyMotorShare = 0.02
)

// noise judges the noise at rest, or without a rest by its second differences.
func (v *view) noise() []Finding {
	_, rests := v.longestRest()
	found := v.motorNoise()
	for _, c := range []trace.Channel{trace.RodPosition, trace.CapPressure, trace.RodPressure, trace.MotorPosition} {
		y, has := v.samples(c)
		if !has || c == trace.MotorPosition && v.r.Resolution[c] > coarseEncoder*(1+1e-9) {
			continue // coarse steps are named as such
		}
		sigma, when := v.restNoise(c), " at rest"
		if !rests && c != trace.MotorPosition { // a motor's own changes are no noise
			sigma, when = v.quickNoise(y), ""
		}
		if c == trace.MotorPosition && sigma < v.r.Resolution[c] {
			continue // it stands between two steps
		}
		if sigma > noiseNotes[c] {
			severity := Note
			if sigma > noiseLimits[c] {
				severity = Harm
			}
			found = append(found, v.finding(Noisy, severity, c, v.affectedBy(c), fmt.Sprintf("%s is noisy: %s (one standard deviation)%s.", c.Words(), inUnit(c, sigma), when), noiseRemedy))
		}
	}
	return found
}

const noiseRemedy = "Check screen and earth of the cable, and the input's filter; keep it away from the motor cable."

// motorNoise judges current and torque by their second differences.
func (v *view) motorNoise() []Finding {
	var found []Finding
	for _, c := range []trace.Channel{trace.MotorCurrent, trace.MotorTorque} {
		y, ok := v.samples(c)
		if !ok {
			continue
		}
		low, high := v.bounds(c)
		if sigma := v.quickNoise(y); sigma > noisyMotorShare*math.Max(high, -low) {
			found = append(found, v.finding(Noisy, Note, c, nil, fmt.Sprintf("%s is noisy: %s (one standard deviation), %s at most.", c.Words(), inUnit(c, sigma), inUnit(c, math.Max(high, -low))), noiseRemedy))
		}
	}
	return found
}
