// Package response measures frequency responses along the chain from speed
// command to rod: command to motor speed, and motor angle to rod position and to
// both chamber pressures, by position and by the chamber that carries the load.
//
// The motor angle is a measured input with next to no noise. The excitation from
// outside, a periodic speed command or in closed loop the position command, is
// the instrument: responses are ratios of what goes with it, so that the loop
// around the machine does not bias them.
package response

import (
	"math"
	"math/cmplx"

	"eha/strokewise/ident/motion"
	"eha/strokewise/ident/plant"
	"eha/strokewise/ident/spectral"
	"eha/strokewise/ident/trace"
)

// Log is one recording with what was found in it.
type Log struct {
	Trace  *trace.Trace
	Motion *motion.Motion
}

// pair is one response that is looked for.
type pair struct{ from, to trace.Channel }

var drivePair = []pair{{trace.SpeedCommand, trace.MotorSpeed}}

var rodPairs = []pair{
	{trace.MotorPosition, trace.RodPosition},
	{trace.MotorPosition, trace.CapPressure},
	{trace.MotorPosition, trace.RodPressure},
}

// highestHz bounds the responses; no machine of this kind does anything above it.
const highestHz = 150.0

// leastCoherence is what a line must have to be kept.
const leastCoherence = 0.6

// Measure returns the frequency responses of all logs: of the drive from each
// periodic stretch, or else from the whole log; of rod and pressures from travel
// that goes one way with changing speed, by third of the stroke, direction and
// chamber, and from periodic stretches that go one way. Where the motor turns back
// the rod sticks and friction rules the answer, which is then no response of the
// machine in motion. Lines without excitation or coherence are left out, and so
// are responses with fewer than five lines left.
func Measure(logs []Log) []plant.FrequencyResponse {
	var all []plant.FrequencyResponse
	for _, l := range logs {
		found := 0
		for _, p := range l.Motion.Periodic {
			got := periodic(l.Trace, p, drivePair)
			found += len(got)
			all = append(append(all, got...), periodicOneWay(l, p)...)
		}
		if found == 0 {
			all = append(all, broadBand(l)...)
		}
		all = append(all, moving(l)...)
	}
	return all
}

// signal returns the samples of a channel; the motor speed is that of the drive
// where logged, else nil with the angle to be differentiated in frequency.
func signal(t *trace.Trace, c trace.Channel) (x []float64, differentiate bool) {
	if c == trace.MotorSpeed {
		if theta, ok := t.Samples(trace.MotorPosition); ok {
			return theta, true
		}
	}
	x, _ = t.Samples(c)
	return x, false
}

// periodicOneWay measures rod and pressures on the periods of one stretch in which
// the motor keeps its direction, each direction apart.
func periodicOneWay(l Log, p motion.Periodic) []plant.FrequencyResponse {
	theta, ok := l.Trace.Samples(trace.MotorPosition)
	if !ok {
		return nil
	}
	step, least := max(1, int(frameTime/l.Trace.Period())), leastSpeed*l.Motion.TopSpeed*l.Trace.Period()
	way := func(k int) (plant.Direction, bool) {
		s := trace.Span{From: p.Span.From + k*p.Period, To: p.Span.From + (k+1)*p.Period}
		if s.To > l.Trace.Len() {
			return plant.Extend, false
		}
		d, _, one := direction(theta, s, step, least)
		return d, one
	}
	var out []plant.FrequencyResponse
	for k := 0; k < p.Periods; {
		d, ok := way(k)
		if !ok {
			k++
			continue
		}
		run := p
		run.Periods = 1
		for next, ok := way(k + run.Periods); ok && next == d && k+run.Periods < p.Periods; next, ok = way(k + run.Periods) {
			run.Periods++
		}
		run.Span = trace.Span{From: p.Span.From + k*p.Period, To: p.Span.From + (k+run.Periods)*p.Period}
		for _, f := range periodic(l.Trace, run, rodPairs) {
			f.Directed, f.Direction = true, d
			out = append(out, f)
		}
		k += run.Periods
	}
	return out
}

// periodic measures pairs on whole periods of one stretch.
func periodic(t *trace.Trace, p motion.Periodic, pairs []pair) []plant.FrequencyResponse {
	from, count := p.Span.From, p.Periods
	if count > 3 {
		from, count = from+p.Period, count-1 // the first period still settles
	}
	for count > 0 && from+count*p.Period+1 > t.Len() {
		count--
	}
	if count < 2 {
		return nil
	}
	to := from + count*p.Period
	cache := map[trace.Channel]spectral.Periodic{}
	lines := func(c trace.Channel) (spectral.Periodic, bool) {
		x, rate := signal(t, c)
		if x == nil {
			return spectral.Periodic{}, false
		}
		if got, ok := cache[c]; ok {
			return got, true
		}
		got := spectral.PeriodicLines(x[from:to+1], t.Period(), p.Period, count)
		if rate {
			differentiate(got)
		}
		cache[c] = got
		return got, true
	}
	exciting, ok := lines(p.Channel)
	if !ok {
		return nil
	}
	played := playedLines(exciting)
	var out []plant.FrequencyResponse
	for _, pr := range pairs {
		u, okU := lines(pr.from)
		y, okY := lines(pr.to)
		if !okU || !okY {
			continue
		}
		f := frame(t, pr, trace.Span{From: from, To: to})
		for _, k := range played {
			h, coherence := ratio(u, y, k)
			if coherence >= leastCoherence {
				f.Omega = append(f.Omega, u.Omega[k])
				f.Measured = append(f.Measured, h)
				f.Coherence = append(f.Coherence, coherence)
				f.RelError = append(f.RelError, spectral.RandomError(coherence, float64(count)))
			}
		}
		if len(f.Omega) >= 5 {
			widenByScatter(&f)
			out = append(out, f)
		}
	}
	return out
}

func differentiate(p spectral.Periodic) {
	for _, period := range p.Period {
		for k := range period {
			period[k] *= complex(0, p.Omega[k])
		}
	}
}

// playedLines returns the lines that the excitation has, up to highestHz.
func playedLines(p spectral.Periodic) []int {
	strongest := 0.0
	for k := range p.Omega {
		strongest = max(strongest, cmplx.Abs(p.Mean(k)))
	}
	var out []int
	for k, omega := range p.Omega {
		if k > 0 && omega < 2*math.Pi*highestHz && cmplx.Abs(p.Mean(k)) > 0.03*strongest {
			out = append(out, k)
		}
	}
	return out
}

// ratio returns the response of line k and its coherence over the periods: the
// share of both signals that repeats.
func ratio(u, y spectral.Periodic, k int) (complex128, float64) {
	mu, my := u.Mean(k), y.Mean(k)
	if mu == 0 {
		return 0, 0
	}
	h := my / mu
	var noise float64
	for i := range u.Period {
		e := cmplx.Abs(y.Period[i][k] - h*u.Period[i][k])
		noise += e * e
	}
	// The mean itself was fitted, so n-1 periods are left to show the noise.
	noise /= float64(len(u.Period) - 1)
	power := cmplx.Abs(my) * cmplx.Abs(my)
	if power == 0 {
		return h, 0
	}
	return h, power / (power + noise)
}

// frame starts a response with what is known of the stretches it comes from.
func frame(t *trace.Trace, pr pair, spans ...trace.Span) plant.FrequencyResponse {
	f := plant.FrequencyResponse{From: pr.from.String(), To: pr.to.String()}
	if x, ok := t.Samples(trace.RodPosition); ok {
		for _, s := range spans {
			f.Position += mean(x[s.From:s.To]) / float64(len(spans))
		}
	}
	f.Chamber, f.Chambers = carrier(t, spans[0])
	for _, s := range spans[1:] {
		c, one := carrier(t, s)
		f.Chambers = f.Chambers && one && c == f.Chamber
	}
	return f
}

// carrier returns the chamber under load over the span, and whether it was the
// same one for nine tenths of the time.
func carrier(t *trace.Trace, s trace.Span) (plant.Chamber, bool) {
	a, okA := t.Samples(trace.CapPressure)
	b, okB := t.Samples(trace.RodPressure)
	if !okA || !okB {
		return plant.Cap, false
	}
	high := 0
	for i := s.From; i < s.To; i++ {
		if a[i] > b[i] {
			high++
		}
	}
	share := float64(high) / float64(max(s.Len(), 1))
	if share >= 0.5 {
		return plant.Cap, share > 0.9
	}
	return plant.Rod, share < 0.1
}

func mean(x []float64) float64 {
	sum := 0.0
	for _, v := range x {
		sum += v
	}
	return sum / float64(max(len(x), 1))
}
