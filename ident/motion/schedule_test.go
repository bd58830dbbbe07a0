package motion

import (
	"math"
	"testing"

	"eha/strokewise/samples/traces"
	"eha/strokewise/samples/twin"
)

// scheduleSlack (s) is by how much a move may be found to begin or end aside of what was
// played: the way to the first place and from the last is steady travel as well, and a
// slow press begins before there is contact.
const scheduleSlack = 5.0

// Simulated surveys and closed-loop logs say which moves were played when: those are
// found in that order, and no others.
func TestMovesAsPlayed(t *testing.T) {
	kinds := []twin.Kind{twin.Swap, twin.Pressing, twin.Noisy, twin.NoPressures}
	if testing.Short() {
		kinds = kinds[:2]
	}
	for i, kind := range kinds {
		m := twin.Random(kind, 20100+uint64(i))
		for _, l := range []*twin.Log{twin.Survey(m), twin.AsFound(m, m.Loops)} {
			tr := traces.Of(t, l)
			var found []Played
			for _, p := range Find(tr).Sequence() {
				n := len(found)
				if n > 0 && found[n-1].Kind == PressHold && (p.Kind == Multisine || p.Kind == PressHold) {
					found[n-1].Span.To = p.Span.To // the survey plays one while it presses
					continue
				}
				found = append(found, p)
			}
			played := l.Schedule()
			if len(found) != len(played) {
				t.Errorf("%s %s: found %v, played %v", m.Name, l.Name, found, played)
				continue
			}
			for k, p := range played {
				f := found[k]
				from, to := tr.TimeAt(f.Span.From), tr.TimeAt(f.Span.To)
				if f.Kind.String() != p.Move || math.Abs(from-p.From) > scheduleSlack || math.Abs(to-p.To) > scheduleSlack {
					t.Errorf("%s %s: %v from %.2f to %.2f s, played %s from %.2f to %.2f s", m.Name, l.Name, f.Kind, from, to, p.Move, p.From, p.To)
				}
			}
		}
	}
}

// A loop that holds the rod against slip turns the motor all the time: with no travel in
// the log that is holding all the same.
func TestHoldingInClosedLoop(t *testing.T) {
	for i, kind := range []twin.Kind{twin.Resisting, twin.Overrunning, twin.Noisy} {
		m := twin.Random(kind, 20110+uint64(i))
		table := make([]float64, int(10/m.ControlPeriod))
		for k := range table {
			table[k] = m.Stroke / 2
		}
		l, _ := twin.PlayPosition(m, m.Loops, m.Stroke/2, table)
		tr := traces.Of(t, l)
		found := Find(tr)
		held := 0
		for _, s := range found.Spans(Hold) {
			held += s.Len()
		}
		if len(found.Moves) != 1 || float64(held) < 0.8*float64(tr.Len()) {
			t.Errorf("%s: %v", m.Name, found.Moves)
		}
	}
}
