package main

import (
	"fmt"
	"io"
	"math"

	"eha/strokewise/ident/motion"
	"eha/strokewise/samples/twin"
)

// recognition holds the moves of one log as played and as found.
type recognition struct {
	machine, log string
	played       []twin.Part
	found        []motion.Played
	at           func(i int) float64
}

func recogniseMachine(m *twin.Machine) []recognition {
	var out []recognition
	for _, l := range []*twin.Log{twin.Survey(m), twin.AsFound(m, m.Loops)} {
		t := traceOf(l)
		out = append(out, recognition{m.Name, l.Name, l.Schedule(), motion.Find(t).Sequence(), t.TimeAt})
	}
	return out
}

// recognitionTable prints by move how many were played, how many of them were found, how
// far off in time at worst, and how many were found where none was played.
func recognitionTable(w io.Writer, all []recognition) {
	type row struct {
		played, found, extra int
		start, end           float64
	}
	rows := map[string]*row{}
	for _, k := range motion.MoveKinds() {
		rows[k.String()] = &row{}
	}
	for _, r := range all {
		matched := make([]bool, len(r.found))
		for _, p := range r.played {
			from, to := math.Inf(1), math.Inf(-1)
			for i, f := range r.found {
				if a, b := r.at(f.Span.From), r.at(f.Span.To); f.Kind.String() == p.Move && a < p.To && b > p.From {
					matched[i] = true
					from, to = math.Min(from, a), math.Max(to, b)
				}
			}
			q := rows[p.Move]
			q.played++
			if from > to {
				fmt.Fprintf(w, "%s %s: %s from %.2f to %.2f s not found\n", r.machine, r.log, p.Move, p.From, p.To)
				continue
			}
			q.found++
			a, b := math.Abs(from-p.From), math.Abs(to-p.To)
			q.start, q.end = math.Max(q.start, a), math.Max(q.end, b)
			if a > 1.5 || b > 1.5 {
				fmt.Fprintf(w, "%s %s: %s from %.2f to %.2f s found from %.2f to %.2f s\n", r.machine, r.log, p.Move, p.From, p.To, from, to)
			}
		}
		for i, f := range r.found {
			inPress := f.Kind == motion.Multisine && i > 0 && r.found[i-1].Kind == motion.PressHold // it is played there too
			if !matched[i] && f.Kind != motion.Hold && !inPress {
				rows[f.Kind.String()].extra++
				fmt.Fprintf(w, "%s %s: %s found from %.2f to %.2f s, not played\n", r.machine, r.log, f.Kind, r.at(f.Span.From), r.at(f.Span.To))
			}
		}
	}
	fmt.Fprintln(w, "move: played, found, found where none was played; worst error of start and end (s)")
	for _, k := range motion.MoveKinds() {
		q := rows[k.String()]
		fmt.Fprintf(w, "%-15s %4d %4d %4d   %.2f %.2f\n", k, q.played, q.found, q.extra, q.start, q.end)
	}
}
