package trace

import (
	"errors"
	"fmt"
	"math"
)

// ErrNotJoined is wrapped by the errors of Join for recordings that hold nothing to align on.
var ErrNotJoined = errors.New("cannot be joined")

// joinOn lists the channels to align on, the surest first.
var joinOn = []Channel{MotorPosition, RodPosition, MotorSpeed, SpeedCommand, PositionCommand, CapPressure, RodPressure, Force, ForceCommand, MotorTorque, MotorCurrent}

// worthALook is the correlation of changes, on the coarse grid, that is looked at.
const worthALook = 0.5

// leastDistinct is by how much less than the next best the best offset must leave unexplained.
const leastDistinct = 2

// mostOffset (s) is the doubt of the offset beyond which joined channels say nothing of each other.
const mostOffset = 0.05

// Join sets two recordings of one move, made with different channels or by
// different recorders, on the clock of the first. They are aligned on the changes
// of a channel that both hold, else on encoder against transducer; offset and
// drift of the clocks come with intervals from the scatter over stretches of
// motion. The result spans what both recorded; channels of the second are
// interpolated along straight lines, and where both hold one the first's counts.
//
// Join returns an error that wraps ErrNotJoined if the two hold no channel to
// align on, are not alike at any offset, or are as much alike at several offsets
// (a move that repeats itself).
func Join(a, b *Trace) (*Trace, Joint, error) {
	fail := func(problem string) (*Trace, Joint, error) {
		return nil, Joint{}, fmt.Errorf("trace: %s+%s: %w: %s", a.Name(), b.Name(), ErrNotJoined, problem)
	}
	on, ok := alignmentChannels(a, b)
	if !ok {
		return fail("no channel that moves is in both, nor encoder in one and transducer in the other")
	}
	joint, problem := align(a, b, on)
	if problem != "" {
		return fail(problem)
	}
	t, err := merge(a, b, &joint)
	if err != nil {
		return fail(err.Error())
	}
	return t, joint, nil
}

// align finds the offset and drift of the clocks, or says why it cannot: what looks
// alike on a coarse grid is compared on a fine one.
func align(a, b *Trace, on [2]Channel) (best Joint, problem string) {
	grid := newAligner(a, b, on)
	left, rival := 1.0, 1.0
	for _, o := range likelyOffsets(a, b, on) {
		lags := grid.lags(o.offset)
		if o.likeness < worthALook || len(lags) < 1 {
			continue
		}
		j := Joint{On: on}
		j.fit(lags, lateness(a, b, on))
		rest := grid.unexplained(&j)
		j.Likeness = math.Sqrt(1 - rest)
		switch {
		case rest < left:
			best, left, rival = j, rest, left
		case rest < rival:
			rival = rest
		}
	}
	needed := leastLikeness(a, b, on)
	switch {
	case best.Likeness < needed:
		return best, fmt.Sprintf("%s and %s are not alike at any offset (correlation %.2f, needed %.2f), as they are in two recordings of one move", on[0], on[1], best.Likeness, needed)
	case rival < leastDistinct*left:
		return best, "the move repeats itself, so that several offsets fit; needed a stretch that comes once"
	}
	if half := (best.OffsetHigh - best.OffsetLow) / 2; half > mostOffset {
		return best, fmt.Sprintf("too little motion to align on: the clocks' offset stays in doubt by ± %.0f ms, needed ± %.0f ms", 1e3*half, 1e3*mostOffset)
	}
	return best, ""
}

// leastLikeness is the correlation of changes that two recordings of one move have: less
// where pressures do not explain the rod's lag, and where noise is in the channel.
func leastLikeness(a, b *Trace, on [2]Channel) float64 {
	switch {
	case on[0] != on[1] && len(oilChannels(a, b, on)) == 2:
		return 0.99
	case on[0] != on[1]:
		return 0.95
	case on[0] == MotorPosition || on[0] == RodPosition:
		return 0.98
	}
	return 0.8
}

func alignmentChannels(a, b *Trace) ([2]Channel, bool) {
	for _, c := range joinOn {
		if a.Has(c) && b.Has(c) && moves(a, c) && moves(b, c) {
			return [2]Channel{c, c}, true
		}
	}
	for _, pair := range [][2]Channel{{MotorPosition, RodPosition}, {RodPosition, MotorPosition}} {
		if a.Has(pair[0]) && b.Has(pair[1]) {
			return pair, true
		}
	}
	return [2]Channel{}, false
}

func moves(t *Trace, c Channel) bool {
	x, _ := t.Samples(c)
	low, high := usualRange(x)
	return high > low
}

// merge resamples the second recording on the first's grid over their overlap.
func merge(a, b *Trace, j *Joint) (*Trace, error) {
	inverse := func(t float64) float64 { return (t - j.Offset + j.Drift*j.Middle) / (1 + j.Drift) }
	place := func(i int) float64 { return (inverse(a.TimeAt(i)) - b.TimeAt(0)) / b.Period() }
	from, to := 0, a.Len()
	for from < to && place(from) < 0 {
		from++
	}
	for to > from && place(to-1) > float64(b.Len()-1) {
		to--
	}
	if to-from < 2 {
		return nil, errors.New("they do not overlap")
	}
	j.Overlap = float64(to-from) * a.Period()
	part := a.Slice(from, to)
	samples := map[Channel][]float64{}
	for _, c := range part.Channels() {
		x, _ := part.Samples(c)
		samples[c] = x
	}
	second := map[Channel]bool{}
	for _, c := range b.Channels() {
		if a.Has(c) {
			continue
		}
		second[c] = true
		x, _ := b.Samples(c)
		y := make([]float64, to-from)
		for i := range y {
			y[i] = interpolateAt(x, place(from+i))
		}
		samples[c] = y
	}
	gaps := append([]Span(nil), part.Gaps()...)
	for _, g := range b.Gaps() {
		// A gap of the second covers every sample that is interpolated from it.
		g.From = int(math.Floor((j.at(b.TimeAt(g.From-1))-part.start)/a.Period())) + 1
		g.To = int(math.Ceil((j.at(b.TimeAt(g.To)) - part.start) / a.Period()))
		g = Span{max(g.From, 0), min(g.To, to-from)}
		if g.Len() > 0 {
			gaps = append(gaps, g)
		}
	}
	t, err := New(a.Name()+"+"+b.Name(), a.Period(), part.start, samples, gaps)
	if err == nil {
		t.joined = joinedClocks{second, j.Doubt()}
		t.updates = map[Channel]float64{}
		for c := range samples {
			if t.updates[c] = a.Update(c); second[c] {
				t.updates[c] = b.Update(c)
			}
		}
	}
	return t, err
}

// interpolateAt returns x between samples, held at its ends.
func interpolateAt(x []float64, at float64) float64 {
	i := int(math.Floor(at))
	switch {
	case i < 0:
		return x[0]
	case i >= len(x)-1:
		return x[len(x)-1]
	}
	u := at - float64(i)
	return x[i]*(1-u) + x[i+1]*u
}
