package response

import (
	"math"

	"eha/strokewise/ident/motion"
	"eha/strokewise/ident/plant"
	"eha/strokewise/ident/spectral"
	"eha/strokewise/ident/trace"
)

// segmentTime (s) is the length of a segment: its inverse is the resolution, and
// twenty of the usual delays fit in many times over.
const segmentTime = 2.0

// thirds of the travel are kept apart, for the resonance moves along the stroke.
const thirds = 3

// broadBand measures on ordinary running in closed loop, with the position
// command as the instrument. In open loop without periodic excitation the
// command itself is the instrument.
func broadBand(l Log) []plant.FrequencyResponse {
	t := l.Trace
	instrument := trace.PositionCommand
	if !t.Has(instrument) {
		instrument = trace.SpeedCommand
	}
	r, ok := t.Samples(instrument)
	if !ok || !t.Has(trace.MotorPosition, trace.RodPosition) {
		return nil
	}
	n := 2 * spectral.SmoothAtMost(max(8, int(segmentTime/t.Period())/2))
	var out []plant.FrequencyResponse
	for _, pr := range pairs {
		u, _ := signal(t, pr.from)
		y, rate := signal(t, pr.to)
		if u == nil || y == nil {
			continue
		}
		for zone := range thirds {
			a := spectral.NewAverager(n, t.Period(), 3)
			var last trace.Span
			for _, s := range zoneSpans(l, n, zone) {
				a.Add(r[s.From:s.To], u[s.From:s.To], y[s.From:s.To])
				last = s
			}
			got, err := a.Between(1, 2)
			if err != nil {
				continue // too little travel in this third
			}
			f := frame(t, pr, last)
			keepCoherent(&f, got, a.Independent(), rate)
			if len(f.Omega) >= 5 {
				widenByScatter(&f)
				out = append(out, f)
			}
		}
	}
	return out
}

// zoneSpans returns the segments of n samples whose mean position lies in the
// third of the travel and in which the rod moves and one chamber carries.
func zoneSpans(l Log, n, zone int) []trace.Span {
	x, _ := l.Trace.Samples(trace.RodPosition)
	low, high := x[0], x[0]
	for _, v := range x {
		low, high = math.Min(low, v), math.Max(high, v)
	}
	var out []trace.Span
	for _, part := range motion.Stretches(l.Trace, n) {
		for from := part.From; from+n <= part.To; from += n / 2 {
			s := trace.Span{From: from, To: from + n}
			share := (mean(x[from:from+n]) - low) / (high - low)
			if int(min(share*thirds, thirds-1)) != zone {
				continue
			}
			if _, one := carrier(l.Trace, s); !one && l.Trace.Has(trace.CapPressure, trace.RodPressure) {
				continue
			}
			out = append(out, s)
		}
	}
	return out
}

// keepCoherent takes over the lines up to highestHz whose coherence is real and
// high enough, differentiated in frequency where the output is an angle that
// stands for a speed.
func keepCoherent(f *plant.FrequencyResponse, r spectral.Response, independent float64, rate bool) {
	least := max(leastCoherence, spectral.ZeroCoherence(independent))
	for k, omega := range r.Omega {
		if k == 0 || omega > 2*math.Pi*highestHz || r.Coherence[k] < least {
			continue
		}
		h := r.H[k]
		if rate {
			h *= complex(0, omega)
		}
		f.Omega = append(f.Omega, omega)
		f.Measured = append(f.Measured, h)
		f.Coherence = append(f.Coherence, r.Coherence[k])
		f.RelError = append(f.RelError, r.RelError[k])
	}
}
