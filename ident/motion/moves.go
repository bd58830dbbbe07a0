package motion

import (
	"cmp"
	"math"
	"slices"

	"eha/strokewise/ident/trace"
)

// MoveKind is one of the test moves, by the ids that stand in JSON and on the command line.
type MoveKind int

// The test moves.
const (
	Jog MoveKind = iota
	Hold
	SlowStrokes
	SpeedSteps
	ReversalMove
	Pulses
	Multisine
	PressHold
	PositionSteps
	UsualRun
)

var moveIDs = [...]string{"jog", "hold", "slow_strokes", "speed_steps", "reversals", "pulses", "multisine", "press_hold", "position_steps", "usual_run"}

// String returns the id of the move, such as "slow_strokes".
func (k MoveKind) String() string { return moveIDs[k] }

// MoveKinds returns all test moves in the order in which they are run.
func MoveKinds() []MoveKind {
	all := make([]MoveKind, len(moveIDs))
	for i := range all {
		all[i] = MoveKind(i)
	}
	return all
}

// Move is a test move found in a log: where its parts lie.
type Move struct {
	Kind  MoveKind
	Spans []trace.Span
}

// Has reports whether the log holds the move.
func (m *Motion) Has(k MoveKind) bool {
	for _, v := range m.Moves {
		if v.Kind == k {
			return true
		}
	}
	return false
}

// Spans returns where the move's parts lie, nil where the log does not hold it.
func (m *Motion) Spans(k MoveKind) []trace.Span {
	for _, v := range m.Moves {
		if v.Kind == k {
			return v.Spans
		}
	}
	return nil
}

// Played is a test move as it was played without another one between its parts.
type Played struct {
	Kind  MoveKind
	Span  trace.Span // from the first part's start to the last one's end
	Parts int
}

// Sequence returns the moves in the order in which they were played: parts of one kind
// with no part of another kind between them are one. Resting between the parts of a
// move is no move of its own there.
func (m *Motion) Sequence() []Played {
	var parts []Played
	for _, v := range m.Moves {
		for _, s := range v.Spans {
			parts = append(parts, Played{v.Kind, s, 1})
		}
	}
	slices.SortStableFunc(parts, func(a, b Played) int { return cmp.Compare(a.Span.From, b.Span.From) })
	var out []Played
	for i, p := range parts {
		last := len(out) - 1
		if p.Kind == Hold && last >= 0 && i+1 < len(parts) && out[last].Kind != Hold && parts[i+1].Kind == out[last].Kind {
			continue
		}
		if last >= 0 && out[last].Kind == p.Kind {
			out[last].Span.To = max(out[last].Span.To, p.Span.To)
			out[last].Parts++
			continue
		}
		out = append(out, p)
	}
	return out
}

// finder names the test moves of one log.
type finder struct {
	*frames
	t *trace.Trace
	m *Motion
	// demand is the position command where the log holds one that moves, else nil: a
	// closed loop, in which what the command does not ask for is no move.
	demand []float64
	found  map[MoveKind][]trace.Span
}

// moves names the test moves by what their segments look like. The marks are
// those of the moves this program plans (package moves), widened: a technician's own
// recipe should count too.
func (f *frames) moves(t *trace.Trace, m *Motion) []Move {
	w := &finder{frames: f, t: t, m: m, found: map[MoveKind][]trace.Span{}}
	if r, ok := t.Samples(trace.PositionCommand); ok && spread(r) > 0 {
		w.demand = r
	}
	for _, p := range m.Periodic {
		w.add(Multisine, p.Span)
	}
	w.resting()
	w.jogs()
	w.commanded()
	w.reversing()
	w.pulsing()
	w.travelling()
	w.dropRuns()
	w.otherMotion()
	var moves []Move
	for _, k := range MoveKinds() {
		if spans := w.found[k]; len(spans) > 0 {
			slices.SortFunc(spans, func(a, b trace.Span) int { return cmp.Compare(a.From, b.From) })
			moves = append(moves, Move{k, spans})
		}
	}
	return moves
}

func (w *finder) add(k MoveKind, spans ...trace.Span) { w.found[k] = append(w.found[k], spans...) }

// seconds returns the length of a span (s).
func (w *finder) seconds(s trace.Span) float64 { return float64(s.Len()) * w.t.Period() }

// asked reports whether the position command, where the loop is closed, moves steadily
// over the span and at least half as far as the rod does: its first and its middle third
// are travelled alike, to a hundredth. In the last one a loop that comes behind may be
// asked for something else already.
func (w *finder) asked(s trace.Span) bool {
	x, ok := w.t.Samples(trace.RodPosition)
	if w.demand == nil || !ok || s.Len() < 4 {
		return true
	}
	third := s.Len() / 3
	moved := func(y []float64, from, to int) float64 { return y[to] - y[from] }
	asked, done := moved(w.demand, s.From, s.To-1), moved(x, s.From, s.To-1)
	first, middle := moved(w.demand, s.From, s.From+third), moved(w.demand, s.From+third, s.From+2*third)
	steady := math.Abs(middle-first) < 0.01*math.Abs(middle)+3*quantum(w.demand)
	return steady && asked*done > 0 && 2*asked*asked > asked*done
}

// spread returns largest less smallest value.
func spread(y []float64) float64 {
	low, high := y[0], y[0]
	for _, v := range y {
		low, high = min(low, v), max(high, v)
	}
	return high - low
}

func inside(s trace.Span, spans []trace.Span) bool {
	return slices.ContainsFunc(spans, func(o trace.Span) bool { return s.From >= o.From && s.To <= o.To })
}

func touches(s trace.Span, spans []trace.Span) bool {
	return slices.ContainsFunc(spans, func(o trace.Span) bool { return s.From < o.To && s.To > o.From })
}

func spansOf(segments []Segment) []trace.Span {
	spans := make([]trace.Span, len(segments))
	for i, s := range segments {
		spans[i] = s.Span
	}
	return spans
}
