package quality

import (
	"fmt"
	"math"

	"eha/strokewise/ident/trace"
)

// lagOfFrames returns the lag (s) of a behind b from frame means, with the half-width
// of its 95 % interval from the spread over ten parts of the log. The nearest whole
// number of frames, up to ten either way, is found by correlation, the rest by
//
//	a(k) = g·b(k) - g·lag·(b(k+1) - b(k-1))/(2·dt)
func (v *view) lagOfFrames(a, b []float64) (lag, width float64) {
	whole, best := 0, -1.0
	shifted := make([]float64, len(b))
	shift := func(by int) {
		for k := range shifted {
			shifted[k] = b[min(max(k-by, 0), len(b)-1)]
		}
	}
	for by := -10; by <= 10; by++ {
		shift(by)
		if r := math.Abs(correlation(a, shifted, v.good)); r > best {
			whole, best = by, r
		}
	}
	shift(whole)
	lag, width = v.smallLag(a, shifted)
	return lag + float64(whole)*v.dt, width
}

// smallLag returns the lag of under a frame or so, and its half-width.
func (v *view) smallLag(a, b []float64) (lag, width float64) {
	const parts = 10
	var lags []float64
	var all [3]float64
	for p := range parts {
		var s [5]float64 // Σ b², Σ b·b', Σ b'², Σ a·b, Σ a·b'
		for k := max(1, p*len(a)/parts); k < min((p+1)*len(a)/parts, len(a)-1); k++ {
			if !v.good[k] || !v.good[k-1] {
				continue
			}
			d := (b[k+1] - b[k-1]) / (2 * v.dt)
			s[0] += b[k] * b[k]
			s[1] += b[k] * d
			s[2] += d * d
			s[3] += a[k] * b[k]
			s[4] += a[k] * d
		}
		det := s[0]*s[2] - s[1]*s[1]
		if det <= 0 || s[2] == 0 {
			continue
		}
		g, gl := (s[3]*s[2]-s[4]*s[1])/det, (s[4]*s[0]-s[3]*s[1])/det
		if g == 0 {
			continue
		}
		lags = append(lags, -gl/g)
		all[0] += s[2] * -gl / g // parts count by how much changes in them
		all[1] += s[2]
		all[2] += s[2] * s[2]
	}
	if len(lags) < 3 || all[1] == 0 {
		return 0, math.Inf(1)
	}
	lag = all[0] / all[1]
	var spread float64
	for _, l := range lags {
		spread += (l - lag) * (l - lag)
	}
	effective := all[1] * all[1] / all[2]
	// 2.3: Student's t for some nine degrees of freedom.
	return lag, 2.3 * math.Sqrt(spread/float64(len(lags)-1)/math.Max(effective, 1))
}

// roughLag is the half-width (s) above which a lag from frames says nothing.
const roughLag = 0.006

// commandLag compares the clocks of speed command and encoder: no motor turns
// before its command. How far behind it may be is the drive's own affair.
func (v *view) commandLag() []Finding {
	u := v.frame[trace.SpeedCommand]
	if u == nil || !v.has(trace.MotorPosition) {
		return nil
	}
	lag, width := v.lagOfFrames(v.motorSpeed(), midpoints(u))
	if width > roughLag || lag+width >= leastLag-v.t.Period() {
		return nil
	}
	return []Finding{v.finding(TimeSkew, Harm, trace.SpeedCommand, driveParams,
		fmt.Sprintf("the motor turns %.1f ± %.1f ms before its command: the clocks of the two columns differ.", -1e3*lag, 1e3*width),
		"Record command and encoder on one clock; dead time and bandwidth of the drive mean nothing until then.")}
}
