package response

import (
	"math"

	"eha/strokewise/ident/motion"
	"eha/strokewise/ident/plant"
	"eha/strokewise/ident/spectral"
	"eha/strokewise/ident/trace"
)

// Error bars are widened for what the scatter of few overlapping segments and one
// straight machine leave out: found on simulated machines.
const inflation, floor = 1.25, 0.006

// broadBand measures the drive on ordinary running, limited stretches left out.
// The instrument is the position command in closed loop, else the speed command.
func broadBand(l Log) []plant.FrequencyResponse {
	t := l.Trace
	instrument := instrumentOf(t)
	r, ok := t.Samples(instrument)
	u, okU := t.Samples(trace.SpeedCommand)
	y, rate := signal(t, trace.MotorSpeed)
	if !ok || !okU || y == nil {
		return nil
	}
	n := segmentLength(t)
	a := spectral.NewAverager(n, t.Period(), 3)
	var used []trace.Span
	for _, part := range motion.Stretches(t, n) {
		for from := part.From; from+n <= part.To; from += n / 2 {
			s := trace.Span{From: from, To: from + n}
			if !limited(l.Motion, s) {
				a.Add(r[s.From:s.To], u[s.From:s.To], y[s.From:s.To])
				used = append(used, s)
			}
		}
	}
	got, err := a.Between(1, 2)
	if err != nil {
		return nil
	}
	f := frame(t, drivePair[0], used...)
	if rate {
		for k, omega := range got.Omega {
			got.H[k] *= complex(0, omega)
		}
	}
	return kept(f, got, a.Independent())
}

// instrumentOf returns the channel that the excitation came from.
func instrumentOf(t *trace.Trace) trace.Channel {
	if t.Has(trace.PositionCommand) {
		return trace.PositionCommand
	}
	return trace.SpeedCommand
}

// segmentLength returns segmentTime in samples.
func segmentLength(t *trace.Trace) int {
	return 2 * spectral.SmoothAtMost(max(8, int(segmentTime/t.Period())/2))
}

func limited(m *motion.Motion, s trace.Span) bool {
	for _, l := range m.Limits {
		if l.Span.From < s.To && s.From < l.Span.To {
			return true
		}
	}
	return false
}

// kept returns the response with the lines up to highestHz whose coherence is real
// and high enough; nothing where they are fewer than five.
func kept(f plant.FrequencyResponse, r spectral.Response, independent float64) []plant.FrequencyResponse {
	least := max(leastCoherence, spectral.ZeroCoherence(independent))
	for k, omega := range r.Omega {
		if k == 0 || omega > 2*math.Pi*highestHz || r.Coherence[k] < least {
			continue
		}
		f.Omega = append(f.Omega, omega)
		f.Measured = append(f.Measured, r.H[k])
		f.Coherence = append(f.Coherence, r.Coherence[k])
		f.RelError = append(f.RelError, math.Hypot(inflation*r.RelError[k], floor))
	}
	if len(f.Omega) < 5 {
		return nil
	}
	widenByScatter(&f)
	return []plant.FrequencyResponse{f}
}
