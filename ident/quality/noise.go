package quality

import (
	"fmt"
	"math"

	"eha/strokewise/ident/motion"
	"eha/strokewise/ident/plant"
	"eha/strokewise/ident/spectral"
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
			add(c, step, 2*math.Pi/500, join(driveParams, []plant.Param{plant.LostMotion}))
		}
	}
	return found
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
var noiseLimits = map[trace.Channel]float64{trace.RodPosition: 1e-4, trace.CapPressure: 1.5e5, trace.RodPressure: 1.5e5}

// noiseNotes are worth knowing; for current and torque, whose size depends on the motor,
// as a share of the largest value.
var (
	noiseNotes      = map[trace.Channel]float64{trace.RodPosition: 2e-5, trace.CapPressure: 0.5e5, trace.RodPressure: 0.5e5}
	noisyMotorShare = 0.02
)

// noise judges the noise at rest, or without a rest by its second differences, and looks for mains hum in it. Other lines are left:
// at rest they are the machine's own swinging as a rule, which is no fault of a sensor.
func (v *view) noise() []Finding {
	whole, rests := v.longestRest()
	found := v.motorNoise()
	for _, c := range []trace.Channel{trace.RodPosition, trace.CapPressure, trace.RodPressure} {
		y, has := v.samples(c)
		if !has {
			continue
		}
		sigma, when := v.restNoise(c), " at rest"
		if !rests {
			sigma, when = v.quickNoise(y), ""
		}
		if sigma > noiseNotes[c] {
			severity := Note
			if sigma > noiseLimits[c] {
				severity = Harm
			}
			found = append(found, v.finding(Noisy, severity, c, v.affectedBy(c), fmt.Sprintf("%s is noisy: %s (one standard deviation)%s.", c.Words(), inUnit(c, sigma), when), noiseRemedy))
		}
		if !rests {
			continue
		}
		long := y[whole.From:whole.To]
		if line, share := strongestLine(long, v.t.Period()); share > 0.3 && mains(line) && aboutLine(long) > noiseLimits[c]/5 && steadyNoise(long) {
			f := v.finding(Noisy, Note, c, v.affectedBy(c),
				fmt.Sprintf("%.0f %% of the noise of the %s at rest is hum at %.0f Hz, as from the mains.", 100*share, c.Words(), line), "Check earth and screen, and the supply of the sensor.")
			f.From, f.To = v.t.TimeAt(whole.From), v.t.TimeAt(whole.To-1)
			found = append(found, f)
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

// steadyNoise reports whether the noise does not die away: ringing does.
func steadyNoise(y []float64) bool {
	h := len(y) / 2
	a, b := aboutLine(y[:h]), aboutLine(y[h:])
	return a < 1.2*b
}

// strongestLine returns the frequency (Hz) of the highest line of the spectrum and
// its share of the variance above 20 Hz, below which creep and the machine's own swinging lie.
func strongestLine(y []float64, period float64) (freqHz, share float64) {
	n := 1 << int(math.Log2(0.6/period)) // lines about 2 to 3 Hz apart
	if n < 8 || len(y) < 2*n {
		return 0, 0
	}
	y = y[:min(len(y), 40*n)]
	a, err := spectral.AutoSpectrum(y, period, n)
	if err != nil {
		return 0, 0
	}
	top := 0
	for k, w := range a.Omega {
		if w > 2*math.Pi*20 && (top == 0 || a.Density[k] > a.Density[top]) {
			top = k
		}
	}
	if top < 2 || top+2 >= len(a.Omega) {
		return 0, 0
	}
	// A Hann-windowed line spreads over its own bin and two each side.
	all := a.Variance(2*math.Pi*20, a.Omega[len(a.Omega)-1])
	if all <= 0 {
		return 0, 0
	}
	return a.Omega[top] / (2 * math.Pi), a.Variance(a.Omega[top-2], a.Omega[top+2]) / all
}

// mains reports whether a line lies within 2 Hz of a mains frequency or its double.
func mains(freqHz float64) bool {
	for _, m := range []float64{50, 60, 100, 120} {
		if math.Abs(freqHz-m) < 2 {
			return true
		}
	}
	return false
}
