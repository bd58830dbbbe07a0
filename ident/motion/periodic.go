package motion

import (
	"math"
	"sort"

	"eha/strokewise/ident/trace"
)

// Periodic is a stretch in which a wide-band signal repeats, a multisine as a rule.
type Periodic struct {
	Span    trace.Span // whole periods exactly, the last ones
	Extent  trace.Span // all of the stretch that repeats, its ends good to some 0.1 s
	Period  int        // samples
	Periods int        // at least 2
	Channel trace.Channel
}

// The periods looked for (s) and how well one must repeat: the correlation of
// the differenced signal with itself one period later. A slow position correction
// on top, or ramp or bias, is taken away by differencing; common practice, no source.
const (
	minPeriod     = 0.5
	maxPeriod     = 10.0
	minRepeat     = 0.8
	searchRate    = 50.0 // Hz, of the thinned signal in which periods are searched
	cellTime      = 0.5  // s, length of the pieces that are compared
	minExcited    = 2.0  // s, all periods together: ringing and hunting repeat for shorter
	minCrossings  = 8    // sign changes of the differenced signal in a period: wide-band, not a repeated move
	maxStandstill = 0.4  // share of samples that hardly change: a repeated step stands still between
)

// PeriodicSpans finds periodic excitation in the speed command, or without one in
// the motor position: stretches that repeat with a period of 0.5 to 10 s at least
// once, whatever ramp or bias lies under them. A part that is faded in or out does
// not repeat and is left out, so that a played period or two may be lost. Repeated steps, reversals and moves
// are not excitation in this sense and are left out: they stand still most of
// the time or have but a few turning points.
//
// The cost is samples thinned to 50 Hz times the 475 lags looked at, some 10 ms
// for ten minutes of log.
func PeriodicSpans(t *trace.Trace) []Periodic {
	channel := trace.SpeedCommand
	u, ok := t.Samples(channel)
	if !ok {
		channel = trace.MotorPosition
		if u, ok = MotorSpeed(t); !ok {
			return nil
		}
	}
	thin := max(1, int(math.Round(1/(searchRate*t.Period()))))
	rate := 1 / (float64(thin) * t.Period())
	demand, _ := t.Samples(trace.PositionCommand)
	var found []Periodic
	for _, part := range Stretches(t, int(2*minPeriod/t.Period())) {
		d := thinnedDifference(u[part.From:part.To], thin)
		for _, c := range repeats(d, rate) {
			coarse := trace.Span{From: part.From + c.span.From*thin, To: min(part.From+c.span.To*thin, part.To)}
			if demand != nil && repeatedMove(demand[coarse.From:coarse.To], c.lag, thin) {
				continue
			}
			if p, ok := refine(u, part, coarse, c.lag*thin, thin); ok {
				p.Channel = channel
				found = append(found, p)
			}
		}
	}
	sort.Slice(found, func(i, j int) bool { return found[i].Span.From < found[j].Span.From })
	return found
}

// thinnedDifference returns the differences between successive means of k samples.
func thinnedDifference(u []float64, k int) []float64 {
	out := make([]float64, len(u)/k)
	last := 0.0
	for i := range out {
		m := mean(u[i*k : (i+1)*k])
		if i > 0 {
			out[i] = m - last
		}
		last = m
	}
	return out
}

// refine finds period and ends to the sample. The period is the lag about the
// coarse one with the smallest mean square difference of the differenced signal;
// the ends are where the signal stops repeating.
func refine(u []float64, part, coarse trace.Span, lag, thin int) (Periodic, bool) {
	gap := max(1, thin/4) // difference over a quarter frame: less noise than one sample
	diff := func(i int) float64 { return u[i+gap] - u[i] }
	best, bestSum := lag, math.Inf(1)
	for l := max(1, lag-thin); l <= lag+thin; l++ {
		var sum float64
		count := 0
		for i := coarse.From + thin; i+l+gap < min(coarse.To-thin, part.To); i += max(1, thin/7) {
			e := diff(i+l) - diff(i)
			sum += e * e
			count++
		}
		if count > 0 && sum/float64(count) < bestSum {
			best, bestSum = l, sum/float64(count)
		}
	}
	from, to := ends(diff, part, coarse, best, gap, 4*bestSum)
	periods := int(math.Floor(float64(to-from)/float64(best) + 0.02)) // ends are good to a frame
	if periods < 2 {
		return Periodic{}, false
	}
	extent := trace.Span{From: from, To: to}
	// The last whole periods: the first carry the response's start.
	from = to - periods*best
	if from < part.From {
		from = part.From
		if from+periods*best > part.To {
			periods--
		}
	}
	return Periodic{Span: trace.Span{From: from, To: from + periods*best}, Extent: extent, Period: best, Periods: periods}, periods >= 2
}

// ends walks outwards from the middle of the stretch that repeats, while over a
// block of some 100 ms the mean square mismatch stays under limit or a fifth of the signal's own.
func ends(diff func(int) float64, part, coarse trace.Span, lag, gap int, limit float64) (from, to int) {
	block := 20 * gap
	repeatsAt := func(i int) bool {
		var miss, own float64
		for k := i; k < i+block; k++ {
			a, b := diff(k), diff(k+lag)
			miss += (b - a) * (b - a)
			own += max(a*a, b*b)
		}
		return own > 0 && (miss < limit*float64(block) || miss < 0.2*own)
	}
	mid := (coarse.From + max(coarse.From, coarse.To-lag)) / 2
	from, to = mid, mid
	for from-gap >= part.From && from-gap+block+lag+gap <= part.To && (from > coarse.From+block || repeatsAt(from-gap)) {
		from -= gap
	}
	for to+block+lag+2*gap <= part.To && (to+block < coarse.To-lag-block || repeatsAt(to+gap)) {
		to += gap
	}
	// A block that touches the jump at an end fails whole: go on in small steps, while
	// the mismatch stays below the signal's own size.
	size := 0.0
	for i := mid; i < mid+block; i++ {
		size += diff(i) * diff(i) / float64(block)
	}
	fits := func(i int) bool { e := diff(i+lag) - diff(i); return e*e < 0.5*size }
	last := to + block
	for k := 0; k < block && from > part.From && fits(from-1); k++ {
		from--
	}
	for k := 0; k < block && last+lag+gap < part.To && fits(last); k++ {
		last++
	}
	return from, min(last+lag, part.To)
}
