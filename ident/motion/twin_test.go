package motion

import (
	"strings"
	"testing"

	"eha/strokewise/ident/trace"
	"eha/strokewise/samples/traces"
	"eha/strokewise/samples/twin"
)

// The simulated surveys say when each part began; every excitation must be found
// there, and nowhere else, whatever lies under it (place kept, ramp, pressing).
func TestSimulatedSurveys(t *testing.T) {
	for _, kind := range []twin.Kind{twin.Resisting, twin.Swap, twin.Pressing} {
		l := twin.Survey(twin.Random(kind, 21))
		tr := traces.Of(t, l)
		m := Find(tr)
		want := 0
		for i, e := range l.Events {
			if !strings.Contains(e.Segment, "multisine") || strings.Contains(e.Segment, "to multisine") {
				continue
			}
			want++
			to := tr.Duration()
			if i+1 < len(l.Events) {
				to = l.Events[i+1].Time
			}
			if n := overlaps(tr, m.Periodic, e.Time, to); n != 1 {
				t.Errorf("%v: %s from %.2f to %.2f s: found %d times", kind, e.Segment, e.Time, to, n)
			}
		}
		if want == 0 || len(m.Periodic) != want {
			t.Errorf("%v: %d stretches of excitation, %d were played", kind, len(m.Periodic), want)
		}
		for _, k := range []MoveKind{Jog, SlowStrokes, SpeedSteps, ReversalMove, Multisine} {
			if !m.Has(k) {
				t.Errorf("%v: %v not found", kind, k)
			}
		}
		if got := m.Has(PressHold); got != (kind == twin.Pressing) {
			t.Errorf("%v: pressing found: %v, at %v", kind, got, m.Spans(PressHold))
		}
		if t.Failed() {
			for _, e := range l.Events {
				t.Logf("%.2f %s", e.Time, e.Segment)
			}
			for _, p := range m.Periodic {
				t.Logf("periodic %.2f to %.2f, period %.3f", tr.TimeAt(p.Span.From), tr.TimeAt(p.Span.To), float64(p.Period)*tr.Period())
			}
			for _, v := range m.Moves {
				t.Log(v.Kind, len(v.Spans), v.Spans[0])
			}
			return
		}
	}
}

// overlaps counts the excitation that lies within [from, to] (s), but for a tenth of a second.
func overlaps(tr *trace.Trace, all []Periodic, from, to float64) int {
	n := 0
	for _, p := range all {
		if tr.TimeAt(p.Span.From) > from-0.1 && tr.TimeAt(p.Span.To) < to+0.1 {
			n++
		}
	}
	return n
}
