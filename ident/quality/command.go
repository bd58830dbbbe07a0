package quality

import (
	"fmt"
	"math"

	"eha/strokewise/ident/motion"
	"eha/strokewise/ident/plant"
	"eha/strokewise/ident/spectral"
	"eha/strokewise/ident/trace"
)

// stuckCommand finds stretches in which the speed command stands on one value, other
// than nothing, its largest or least, while the motor speeds away from it: one that only draws
// nearer follows a ramp or has come to its torque limit. A loop's own command never stands as
// long as a played one.
func (v *view) stuckCommand() []Finding {
	u, ok := v.samples(trace.SpeedCommand)
	n, ok2 := motion.MotorSpeed(v.t)
	if !ok || !ok2 {
		return nil
	}
	low, high := v.bounds(trace.SpeedCommand)
	settle, least := int(0.2/v.t.Period()), int(0.3/v.t.Period())
	if v.has(trace.PositionCommand) || v.has(trace.ForceCommand) {
		settle, least = max(10, settle/3), max(10, least/3)
	}
	var found []Finding
	for _, part := range motion.Stretches(v.t, settle+least) {
		for i := part.From; i < part.To; {
			from := i
			for i < part.To && u[i] == u[from] {
				i++
			}
			if i-from < settle+least || u[from] == low || u[from] == high || u[from] == 0 || len(found) >= maxEach {
				continue
			}
			slowest, fastest := extremes(n[from+settle : i])
			if parting(n[from+settle:i], u[from]) < 0.2*v.motion.TopSpeed {
				continue
			}
			f := v.finding(Flat, Harm, trace.SpeedCommand, driveParams,
				fmt.Sprintf("speed command stays at %s exactly from %.3f to %.3f s while the motor turns at %s to %s.", inUnit(trace.SpeedCommand, u[from]), v.t.TimeAt(from), v.t.TimeAt(i-1),
					inUnit(trace.SpeedCommand, slowest), inUnit(trace.SpeedCommand, fastest)),
				"Check the recorder's channel, and whether the drive took its command from elsewhere then; leave this part of the log out.")
			f.From, f.To = v.t.TimeAt(from), v.t.TimeAt(i-1)
			found = append(found, f)
		}
	}
	return found
}

// parting returns how far y moves away from the level after having been nearer to it.
func parting(y []float64, level float64) float64 {
	nearest, most := math.Inf(1), 0.0
	for _, v := range y {
		d := math.Abs(v - level)
		nearest = math.Min(nearest, d)
		most = math.Max(most, d-nearest)
	}
	return most
}

// stuckPosition finds stretches in which the position command stands while the rod, which had come
// to it, leaves it for good: what the loop followed then is not in the log.
func (v *view) stuckPosition() []Finding {
	r, ok := v.samples(trace.PositionCommand)
	x, ok2 := v.samples(trace.RodPosition)
	if !ok || !ok2 || v.has(trace.ForceCommand) {
		return nil
	}
	low, high := v.bounds(trace.RodPosition)
	near, far := 0.02*(high-low), 0.05*(high-low)
	least, settled := max(20, int(0.2/v.t.Period())), max(5, int(0.1/v.t.Period()))
	var found []Finding
	for _, part := range motion.Stretches(v.t, least) {
		for i := part.From; i < part.To; {
			from := i
			arrived, there := false, 0
			for i < part.To && r[i] == r[from] {
				if there++; math.Abs(x[i]-r[i]) > near {
					there = 0
				}
				arrived = arrived || there >= settled
				i++
			}
			if i-from < least || !arrived || i == part.To || len(found) >= maxEach {
				continue
			}
			away := math.Inf(1)
			for k := i - settled; k < i; k++ {
				away = math.Min(away, math.Abs(x[k]-r[k]))
			}
			if away < far {
				continue
			}
			f := v.finding(Flat, Harm, trace.PositionCommand, []plant.Param{plant.OuterDelay},
				fmt.Sprintf("position command stays at %s exactly from %.3f to %.3f s while the rod leaves it by %s.", inUnit(trace.PositionCommand, r[from]), v.t.TimeAt(from), v.t.TimeAt(i-1), inUnit(trace.RodPosition, away)),
				"Check the recorder's channel: log the command that the position loop follows; leave this part of the log out.")
			f.From, f.To = v.t.TimeAt(from), v.t.TimeAt(i-1)
			found = append(found, f)
		}
	}
	return found
}

// ringingPeak is how much the response of a second order with ringingDamping rises above its
// value at low frequencies, 1/(2ζ√(1-ζ²)), and ringingCoherence what its lines must have at least.
const (
	ringingPeak      = 1.364
	ringingCoherence = 0.8
	ringingSpan      = 0.5 // s, of a segment
)

// resonantLoop looks for a peak in the response of the motor speed to its command, which
// ringing gives whatever moves are played. Under an outer loop the machine's own swinging
// is in the command as well, and nothing is said. Three lines in a row must stand above ringingPeak
// by their random error, and lines below them must be near one.
func (v *view) resonantLoop() (peak, freqHz float64, ok bool) {
	u, has := v.samples(trace.SpeedCommand)
	n, has2 := motion.MotorSpeed(v.t)
	if !has || !has2 || v.has(trace.PositionCommand) || v.has(trace.ForceCommand) {
		return 0, 0, false
	}
	if v.t.Period() > ringingSpan/32 {
		return 0, 0, false
	}
	size := 1 << int(math.Round(math.Log2(ringingSpan/v.t.Period())))
	a := spectral.NewAverager(size, v.t.Period(), 2)
	for _, part := range motion.Stretches(v.t, size) {
		for from := part.From; from+size <= part.To; from += size {
			if low, high := extremes(u[from : from+size]); high-low > 0.02*v.motion.TopSpeed && !v.limitedIn(from, from+size) {
				a.Add(u[from:from+size], n[from:from+size])
			}
		}
	}
	h, err := a.Between(0, 1)
	if err != nil {
		return 0, 0, false
	}
	run, level := 0, 0.0
	for k, y := range h.H {
		m := math.Hypot(real(y), imag(y))
		sure := h.Coherence[k] > ringingCoherence
		if sure && run == 0 && m < 1.2 && m > 0.8 {
			level = 1 // the loop follows slow changes: what comes above is a peak
		}
		if sure && m*(1-2*h.RelError[k]) > ringingPeak {
			if run++; m > peak {
				peak, freqHz = m, h.Omega[k]/(2*math.Pi)
			}
			if run >= 3 && level > 0 {
				ok = true
			}
			continue
		}
		if ok {
			break
		}
		run, peak = 0, 0
	}
	return peak, freqHz, ok
}

func (v *view) limitedIn(from, to int) bool {
	for _, l := range v.motion.Limits {
		if l.Span.From < to && l.Span.To > from {
			return true
		}
	}
	return false
}
