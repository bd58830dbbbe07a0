package compare

import (
	"math"

	"eha/strokewise/ident/motion"
	"eha/strokewise/ident/trace"
)

// Kind says how a move was told and what starts it.
type Kind int

// The kinds of move.
const (
	Step   Kind = iota // the position command jumps
	Smooth             // the position command travels
	Motion             // no position command: the rod leaves one rest for another
)

// String returns the kind in words.
func (k Kind) String() string { return [...]string{"step", "smooth move", "motion"}[k] }

// passage is one repeat of a move in a log.
type passage struct {
	trace    *trace.Trace
	kind     Kind
	start    int     // last sample before the command changes, or the motor turns
	end      int     // sample at which the command, or the motor, stands again
	until    int     // first sample that belongs to the next move
	from, to float64 // m
	noise    noises  // of the log
}

// noises are standard deviations of the channels' noise in one log, SI.
type noises map[trace.Channel]float64

func noisesOf(t *trace.Trace) noises {
	all := noises{}
	for _, c := range []trace.Channel{trace.RodPosition, trace.CapPressure, trace.RodPressure, trace.MotorSpeed} {
		if y, ok := t.Samples(c); ok {
			all[c] = noiseOf(y)
		}
	}
	return all
}

// seconds returns the time (s) from the start to sample i.
func (p passage) seconds(i int) float64 { return float64(i-p.start) * p.trace.Period() }

const (
	// standing is how long (s) a command stands before the next move is another one.
	standing = 0.05
	// restBefore is the shortest rest (s) that parts two motions.
	restBefore = 0.2
)

// passages returns the moves of a log, told by the position command where byCommand,
// by the motion otherwise. Moves over gaps, under a force command or pressing are left out:
// their end is not where the command says.
func passages(t *trace.Trace, byCommand bool) []passage {
	if !t.Has(trace.RodPosition) || t.Has(trace.ForceCommand) {
		return nil
	}
	var found []passage
	if byCommand {
		found = commanded(t)
	} else {
		found = moved(t)
	}
	var whole []passage
	noise := noisesOf(t)
	for _, p := range found {
		p.noise = noise
		if !overlaps(t.Gaps(), trace.Span{From: p.start, To: p.until}) {
			whole = append(whole, p)
		}
	}
	return whole
}

func overlaps(spans []trace.Span, s trace.Span) bool {
	for _, o := range spans {
		if o.From < s.To && s.From < o.To {
			return true
		}
	}
	return false
}

// commanded finds the moves of the position command: a change until it stands.
func commanded(t *trace.Trace) []passage {
	r, ok := t.Samples(trace.PositionCommand)
	if !ok {
		return nil
	}
	least := spread(r) / 100 // less is a flicker of the last digit
	still := max(int(math.Round(standing/t.Period())), 2)
	var found []passage
	for i := 1; i < len(r); i++ {
		if r[i] == r[i-1] {
			continue
		}
		start, end := i-1, i
		for j := i; j < len(r) && j-end < still; j++ {
			if r[j] != r[j-1] {
				end = j
			}
		}
		i = end
		if math.Abs(r[end]-r[start]) < least || least == 0 {
			continue
		}
		kind := Smooth
		if end-start <= 4 {
			kind = Step
		}
		if last := len(found) - 1; last >= 0 {
			found[last].until = start
		}
		found = append(found, passage{trace: t, kind: kind, start: start, end: end, until: len(r), from: r[start], to: r[end]})
	}
	return found
}

// moved finds travel between two rests of the rod outside excitation and pressing.
func moved(t *trace.Trace) []passage {
	x, _ := t.Samples(trace.RodPosition)
	m := motion.Find(t)
	rests := func(s motion.Segment) bool {
		return s.Kind == motion.Rest && float64(s.Span.Len())*t.Period() >= restBefore
	}
	var found []passage
	for i := 0; i < len(m.Segments); i++ {
		if !rests(m.Segments[i]) {
			continue
		}
		j, clean := i+1, true
		for ; j < len(m.Segments) && !rests(m.Segments[j]); j++ {
			clean = clean && m.Segments[j].Kind != motion.Pressing
		}
		if j == i+1 || j >= len(m.Segments) || !clean {
			continue
		}
		p := passage{trace: t, kind: Motion, start: m.Segments[i].Span.To, end: m.Segments[j].Span.From, until: m.Segments[j].Span.To}
		n := int(0.1 / t.Period())
		p.from, p.to = mean(x[max(p.start-n, 0):p.start]), mean(x[p.until-max(n, 1):p.until])
		if !excited(m, p) && math.Abs(p.to-p.from) > 0.01*spread(x) {
			found = append(found, p)
		}
		i = j - 1
	}
	return found
}

func excited(m *motion.Motion, p passage) bool {
	for _, e := range m.Periodic {
		if e.Extent.From < p.until && p.start < e.Extent.To {
			return true
		}
	}
	return false
}

// spread returns largest less smallest value.
func spread(y []float64) float64 {
	low, high := y[0], y[0]
	for _, v := range y {
		low, high = min(low, v), max(high, v)
	}
	return high - low
}

func mean(y []float64) float64 {
	sum := 0.0
	for _, v := range y {
		sum += v
	}
	return sum / float64(max(len(y), 1))
}
