package motion

import (
	"math"
	"sort"

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

// moves names the test moves by what their segments look like. The marks are
// those of the moves this program plans (package moves), widened: a technician's own
// recipe should count too.
func (f *frames) moves(t *trace.Trace, m *Motion) []Move {
	found := map[MoveKind][]trace.Span{}
	for _, p := range m.Periodic {
		found[Multisine] = append(found[Multisine], p.Span)
	}
	f.restMoves(t, m, found)
	positionMoves(t, found)
	reversalMoves(m, found)
	f.steadyMoves(t, m, found)
	slowRuns(found)
	f.otherMotion(t, m, found)
	var moves []Move
	for _, k := range MoveKinds() {
		if spans := found[k]; len(spans) > 0 {
			sort.Slice(spans, func(i, j int) bool { return spans[i].From < spans[j].From })
			moves = append(moves, Move{k, spans})
		}
	}
	return moves
}

// restMoves finds holding for at least 1.5 s, pressing for at least 0.5 s, and
// jogs: motion of at most a second between two rests.
func (f *frames) restMoves(t *trace.Trace, m *Motion, found map[MoveKind][]trace.Span) {
	period := t.Period()
	for i, s := range m.Segments {
		long := float64(s.Span.Len()) * period
		switch {
		case s.Kind == Rest && long >= 1.5:
			found[Hold] = append(found[Hold], s.Span)
		case s.Kind == Pressing && long >= 0.5:
			found[PressHold] = append(found[PressHold], s.Span)
		}
		if s.Kind != Rest {
			continue
		}
		// A jog begins at a rest and ends with the next one.
		for j := i + 1; j < len(m.Segments); j++ {
			if m.Segments[j].Kind == Pressing || !contiguous(m.Segments[i:j+1]) {
				break
			}
			if m.Segments[j].Kind != Rest {
				continue
			}
			jog := trace.Span{From: s.Span.To, To: m.Segments[j].Span.From}
			if d := float64(jog.Len()) * period; d >= 0.06 && d <= 1 && !f.nearExcitation(jog, m.Periodic) {
				found[Jog] = append(found[Jog], jog)
			}
			break
		}
	}
}

// nearExcitation reports whether the span lies within half a second of periodic excitation.
func (f *frames) nearExcitation(s trace.Span, excited []Periodic) bool {
	near := int(0.5/f.dt) * f.step
	for _, p := range excited {
		if s.From < p.Extent.To+near && s.To > p.Extent.From-near {
			return true
		}
	}
	return false
}

// reversalMoves takes two or more reversals with not over five seconds between
// them as one move.
func reversalMoves(m *Motion, found map[MoveKind][]trace.Span) {
	for i := 0; i < len(m.Reversals); {
		j := i + 1
		for j < len(m.Reversals) && m.Reversals[j].Before.Span.From <= m.Reversals[j-1].After.Span.From {
			j++
		}
		if j-i >= 2 {
			found[ReversalMove] = append(found[ReversalMove], trace.Span{From: m.Reversals[i].Before.Span.From, To: m.Reversals[j-1].After.Span.To})
		}
		i = j
	}
}

// steadyMoves sorts steady travel that is not part of reversals: slow strokes
// cover at least half of the travel logged in four seconds or more, at no more than 60 % of
// top speed; speed steps are at least three speeds over a factor of three; pulses are
// four changes between speeds of one sign.
func (f *frames) steadyMoves(t *trace.Trace, m *Motion, found map[MoveKind][]trace.Span) {
	x, hasRod := t.Samples(trace.RodPosition)
	travel := 0.0
	if hasRod {
		travel = spread(x)
	}
	var steps, pulses []Segment
	for i, s := range m.Segments {
		if s.Kind != Steady || inside(s.Span, found[ReversalMove]) || inside(s.Span, found[PositionSteps]) {
			continue
		}
		long := float64(s.Span.Len()) * t.Period()
		if hasRod && math.Abs(x[s.Span.To-1]-x[s.Span.From]) > travel/2 && math.Abs(s.MotorSpeed) < 0.6*m.TopSpeed && long >= 4 {
			found[SlowStrokes] = append(found[SlowStrokes], s.Span)
		} else if !inside(s.Span, found[Jog]) {
			steps = append(steps, s)
		}
		if i >= 2 && contiguous(m.Segments[i-2:i+1]) && m.Segments[i-1].Kind == Accelerating && m.Segments[i-2].Kind == Steady {
			if r := s.MotorSpeed / m.Segments[i-2].MotorSpeed; r > 0 && math.Abs(r-1) > 0.05 {
				pulses = append(pulses, Segment{Span: trace.Span{From: m.Segments[i-2].Span.From, To: s.Span.To}})
			}
		}
	}
	if len(pulses) >= 4 {
		found[Pulses] = spansOf(pulses)
	}
	if speeds, low, high := distinctSpeeds(steps); speeds >= 3 && high >= 3*low {
		found[SpeedSteps] = spansOf(steps)
	}
}

// distinctSpeeds counts steady speeds that differ by more than a fifth, and
// returns the lowest and highest (rad/s).
func distinctSpeeds(steps []Segment) (count int, low, high float64) {
	var speeds []float64
	for _, s := range steps {
		speeds = append(speeds, math.Abs(s.MotorSpeed))
	}
	sort.Float64s(speeds)
	last := 0.0
	for _, v := range speeds {
		if v > 1.2*last {
			count++
			last = v
		}
	}
	if len(speeds) == 0 {
		return 0, 0, 0
	}
	return count, speeds[0], speeds[len(speeds)-1]
}

// slowRuns takes runs under a position command that are slow strokes for the most part
// out of the usual runs: what the machine did names a move, not which command was logged.
func slowRuns(found map[MoveKind][]trace.Span) {
	var usual []trace.Span
	for _, run := range found[UsualRun] {
		slow := 0
		for _, s := range found[SlowStrokes] {
			slow += max(0, min(s.To, run.To)-max(s.From, run.From))
		}
		if 2*slow < run.Len() {
			usual = append(usual, run)
		}
	}
	found[UsualRun] = usual
}

// positionMoves looks at the position command: jumps are position steps, smooth
// travel of it the usual run.
func positionMoves(t *trace.Trace, found map[MoveKind][]trace.Span) {
	r, ok := t.Samples(trace.PositionCommand)
	if !ok {
		return
	}
	size := spread(r)
	if size <= 0 {
		return
	}
	wait := int(0.5 / t.Period())
	least := max(1, int(0.05/t.Period())) // one row, where the log is slower than that
	for i := 1; i < len(r); {
		if r[i] == r[i-1] {
			i++
			continue
		}
		// A change: follow it until the command stands for 50 ms.
		from, still := i-1, 0
		for ; i < len(r) && still < least; i++ {
			if r[i] == r[i-1] {
				still++
			} else {
				still = 0
			}
		}
		end := i - still
		if math.Abs(r[end-1]-r[from]) < 0.01*size && end-from <= 3 {
			continue // a flicker of the last digit
		}
		span := trace.Span{From: from, To: min(end+wait, len(r))}
		if end-from <= 4 {
			found[PositionSteps] = append(found[PositionSteps], span)
		} else {
			found[UsualRun] = append(found[UsualRun], span)
		}
	}
}

// otherMotion takes a log that shows no other move than holding and jogs, but moves
// for at least five seconds, for the usual run.
func (f *frames) otherMotion(t *trace.Trace, m *Motion, found map[MoveKind][]trace.Span) {
	for k, spans := range found {
		if k != Hold && k != Jog && len(spans) > 0 {
			return
		}
	}
	var moving []trace.Span
	total := 0
	for _, s := range m.Segments {
		if s.Kind == Rest {
			continue
		}
		total += s.Span.Len()
		if last := len(moving) - 1; last >= 0 && moving[last].To == s.Span.From {
			moving[last].To = s.Span.To
		} else {
			moving = append(moving, s.Span)
		}
	}
	if float64(total)*t.Period() >= 5 {
		found[UsualRun] = moving
	}
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
	for _, o := range spans {
		if s.From >= o.From && s.To <= o.To {
			return true
		}
	}
	return false
}

func spansOf(segments []Segment) []trace.Span {
	spans := make([]trace.Span, len(segments))
	for i, s := range segments {
		spans[i] = s.Span
	}
	return spans
}
