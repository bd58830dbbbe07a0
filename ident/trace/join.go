package trace

import (
	"errors"
	"fmt"
	"math"
)

// Joint says how two recordings of one move were set on one clock: a sample of
// the second at its time t belongs to the first's time
//
//	t' = t + Offset + Drift·(t - Middle)
type Joint struct {
	On [2]Channel // the channels aligned, of the first and of the second recording

	Offset, OffsetLow, OffsetHigh float64 // s, at Middle, with 95 % interval
	// Drift as applied, with 95 % interval; 0 to 0 where the overlap is too short to
	// tell. Encoder against transducer a drift whose interval holds zero is not applied.
	Drift, DriftLow, DriftHigh float64
	Middle                     float64 // s, on the second's clock
	Overlap                    float64 // s
	Likeness                   float64 // correlation of the aligned changes, 0 to 1
	Windows                    int     // stretches of motion that the interval comes from
}

// ErrNotJoined is wrapped by the errors of Join for recordings that hold nothing to align on.
var ErrNotJoined = errors.New("cannot be joined")

// joinOn lists the channels to align on, the surest first.
var joinOn = []Channel{MotorPosition, RodPosition, MotorSpeed, SpeedCommand, PositionCommand, CapPressure, RodPressure, Force, ForceCommand, MotorTorque, MotorCurrent}

// Doubt of an alignment that is not in the scatter of its windows: a fifth of a
// sample for the interpolation, and where the encoder stands against the
// transducer the rod's own lag behind the motor, which differs between machines.
const (
	shareOfSample = 0.2
	leastDistinct = 0.005 // of correlation, between the best offset and the next; the coarse grid blurs less
	rodLag        = 5e-3  // s
)

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
		return fail("no channel is in both, nor encoder in one and transducer in the other")
	}
	joint := Joint{On: on}
	offset, likeness, rival := coarseOffset(a, b, on)
	switch {
	case likeness < 0.7:
		return fail(fmt.Sprintf("%s and %s are not alike at any offset (correlation %.2f, needed 0.7)", on[0], on[1], likeness))
	case 1-rival < 2*(1-likeness)+leastDistinct:
		return fail("the move repeats itself, so that several offsets fit; needed a stretch that comes once")
	}
	joint.Likeness = likeness
	lags := localLags(a, b, on, offset)
	if len(lags) < 1 {
		return fail("too little motion to align on")
	}
	joint.fit(lags, a.Period(), on[0] != on[1])
	t, err := merge(a, b, &joint)
	if err != nil {
		return fail(err.Error())
	}
	return t, joint, nil
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

// at maps a time of the second recording to the first's clock.
func (j Joint) at(t float64) float64 { return t + j.Offset + j.Drift*(t-j.Middle) }

// fit puts a straight line through the lags of the windows, weighted by how well
// each is known.
func (j *Joint) fit(lags []lag, period float64, crossed bool) {
	var w, wt, wl float64
	for _, l := range lags {
		w += l.weight
		wt += l.weight * l.time
		wl += l.weight * l.lag
	}
	j.Windows = len(lags)
	j.Middle, j.Offset = wt/w, wl/w
	var stt, stl float64
	for _, l := range lags {
		stt += l.weight * (l.time - j.Middle) * (l.time - j.Middle)
		stl += l.weight * (l.time - j.Middle) * (l.lag - j.Offset)
	}
	own := shareOfSample * period
	if crossed {
		own += rodLag
	}
	const fewest = 4 // windows for a slope with an interval
	if len(lags) >= fewest && stt > 0 {
		j.Drift = stl / stt
		var s2 float64
		for _, l := range lags {
			e := l.lag - j.Offset - j.Drift*(l.time-j.Middle)
			s2 += l.weight * e * e
		}
		// Windows of unequal weight count as fewer: Student's t at their number less two
		// is widened for short lists by its own first terms.
		dof := float64(len(lags) - 2)
		t := 1.96 + 2.4/dof + 2.6/(dof*dof) // within 2 % of Student's t from 2 degrees of freedom on
		s2 /= dof / float64(len(lags)) * w
		half := t*math.Sqrt(s2/float64(len(lags))) + own
		// What each lag is in doubt by may differ between the ends: the rod's lag does
		// between slow and fast moves.
		slope := t*math.Sqrt(s2*w/float64(len(lags))/stt) + 2*own/(lags[len(lags)-1].time-lags[0].time)
		j.OffsetLow, j.OffsetHigh = j.Offset-half, j.Offset+half
		j.DriftLow, j.DriftHigh = j.Drift-slope, j.Drift+slope
		if crossed && j.DriftLow <= 0 && j.DriftHigh >= 0 {
			j.Drift = 0 // a drift that may be the rod's lag is reported, not applied
		}
		return
	}
	// Too few windows to see a scatter: a whole sample, and twice the rod's lag, which a
	// single shaking move near the resonance has.
	half := own + period
	if crossed {
		half += rodLag
	}
	j.OffsetLow, j.OffsetHigh = j.Offset-half, j.Offset+half
}

// merge resamples the second recording on the first's grid over their overlap.
func merge(a, b *Trace, j *Joint) (*Trace, error) {
	inverse := func(t float64) float64 { return (t - j.Offset + j.Drift*j.Middle) / (1 + j.Drift) }
	position := func(i int) float64 { return (inverse(a.TimeAt(i)) - b.TimeAt(0)) / b.Period() }
	from, to := 0, a.Len()
	for from < to && position(from) < 0 {
		from++
	}
	for to > from && position(to-1) > float64(b.Len()-1) {
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
	for _, c := range b.Channels() {
		if a.Has(c) {
			continue
		}
		x, _ := b.Samples(c)
		y := make([]float64, to-from)
		for i := range y {
			y[i] = interpolateAt(x, position(from+i))
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
	return New(a.Name()+"+"+b.Name(), a.Period(), part.start, samples, gaps)
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
