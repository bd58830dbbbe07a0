package motion

import (
	"math"
	"slices"

	"eha/strokewise/ident/trace"
)

// commanded looks at the position command: jumps are position steps, smooth
// travel of it the usual run.
func (w *finder) commanded() {
	r := w.demand
	if r == nil {
		return
	}
	size := spread(r)
	wait := int(0.5 / w.t.Period())
	least := max(1, int(0.05/w.t.Period())) // one row, where the log is slower than that
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
			w.add(PositionSteps, span)
		} else {
			w.add(UsualRun, span)
		}
	}
}

// dropRuns takes those runs under a position command out of the usual runs that are
// another move for the most part, slow strokes, speed steps, pulses or excitation, and
// those that lead to pressing or away from it; one alone beside such a move is the way
// back. What the machine did names a move, not which command was logged.
func (w *finder) dropRuns() {
	played := len(w.found[PressHold]) > 0
	runs := slices.DeleteFunc(w.found[UsualRun], func(run trace.Span) bool {
		other := 0
		for _, k := range []MoveKind{SlowStrokes, SpeedSteps, ReversalMove, Pulses, Multisine} {
			played = played || len(w.found[k]) > 0
			for _, s := range w.found[k] {
				other += max(0, min(s.To, run.To)-max(s.From, run.From))
			}
		}
		return 2*other >= run.Len() || touches(run, w.found[PressHold])
	})
	if len(runs) == 1 && played {
		runs = nil
	}
	w.found[UsualRun] = runs
}

// otherMotion takes a log that shows no other move than holding and jogs, but moves
// for at least five seconds, for the usual run.
func (w *finder) otherMotion() {
	for k, spans := range w.found {
		if k != Hold && k != Jog && len(spans) > 0 {
			return
		}
	}
	var moving []trace.Span
	total := 0
	for _, s := range w.m.Segments {
		if s.Kind == Rest || inside(s.Span, w.found[Jog]) {
			continue
		}
		total += s.Span.Len()
		if last := len(moving) - 1; last >= 0 && moving[last].To == s.Span.From {
			moving[last].To = s.Span.To
		} else {
			moving = append(moving, s.Span)
		}
	}
	if float64(total)*w.t.Period() >= 5 {
		w.add(UsualRun, moving...)
	}
}
