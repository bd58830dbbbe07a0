package compare

import (
	"math"
	"testing"

	"eha/strokewise/ident/trace"
)

// course of a position command (m): a smooth move out in 1 s, a rest, a jump back, and
// a last digit that flickers while it stands.
func commandLog(t *testing.T, extra map[trace.Channel]float64, gaps []trace.Span) *trace.Trace {
	t.Helper()
	const n = 5000
	samples := map[trace.Channel][]float64{}
	for i := range n {
		at := float64(i) * 1e-3
		r := 0.1
		switch s := at - 1; {
		case at >= 3.5:
		case s >= 1:
			r = 0.2
		case s > 0:
			r = 0.1 + 0.1*s*s*s*(10+s*(-15+6*s))
		}
		if i%700 == 350 {
			r += 1e-7
		}
		samples[trace.PositionCommand] = append(samples[trace.PositionCommand], r)
		samples[trace.RodPosition] = append(samples[trace.RodPosition], r)
		for c, v := range extra {
			samples[c] = append(samples[c], v)
		}
	}
	log, err := trace.New("moves.csv", 1e-3, 0, samples, gaps)
	if err != nil {
		t.Fatal(err)
	}
	return log
}

func TestCommandedMoves(t *testing.T) {
	found := passages(commandLog(t, nil, nil), true)
	if len(found) != 2 || found[0].kind != Smooth || found[1].kind != Step {
		t.Fatalf("found %d moves, want a smooth one and a step: %+v", len(found), found)
	}
	out, back := found[0], found[1]
	const tolerance = 1e-6 // the flicker is a tenth of it
	if !close(out.from, 0.1, tolerance) || !close(out.to, 0.2, tolerance) || !close(back.to, 0.1, tolerance) {
		t.Errorf("out from %g to %g, back to %g", out.from, out.to, back.to)
	}
	if out.start < 995 || out.start > 1010 || out.end < 1990 || out.end > 2001 || out.until != back.start || back.start != 3499 {
		t.Errorf("out %d to %d until %d, back from %d", out.start, out.end, out.until, back.start)
	}
}

// A move over a gap, and one under a force command, does not end where the position command says.
func TestDoubtfulMovesAreLeftOut(t *testing.T) {
	if found := passages(commandLog(t, nil, []trace.Span{{From: 1500, To: 1510}}), true); len(found) != 1 || found[0].kind != Step {
		t.Errorf("over a gap: %+v", found)
	}
	if found := passages(commandLog(t, map[trace.Channel]float64{trace.ForceCommand: 1000}, nil), true); found != nil {
		t.Errorf("under a force command: %+v", found)
	}
}

// Repeats may differ in the last digits; another end, another time or another kind is another move.
func TestSameMove(t *testing.T) {
	log := commandLog(t, nil, nil)
	move := func(kind Kind, from, to float64, samples int) passage {
		return passage{trace: log, kind: kind, start: 100, end: 100 + samples, from: from, to: to}
	}
	a := move(Smooth, 0.1, 0.2, 1000)
	for _, c := range []struct {
		name string
		b    passage
		want bool
	}{
		{"itself", a, true}, {"last digits", move(Smooth, 0.10001, 0.20002, 1005), true}, {"another end", move(Smooth, 0.1, 0.205, 1000), false},
		{"another way", move(Smooth, 0.2, 0.1, 1000), false}, {"slower", move(Smooth, 0.1, 0.2, 1500), false}, {"a step", move(Step, 0.1, 0.2, 1), false},
	} {
		if got := same(a, c.b); got != c.want {
			t.Errorf("%s: %v, want %v", c.name, got, c.want)
		}
	}
	if !same(move(Motion, 0.1, 0.2, 1000), move(Motion, 0.1015, 0.199, 1050)) || same(move(Motion, 0.1, 0.2, 1000), move(Motion, 0.103, 0.2, 1000)) {
		t.Error("motions are the same within 2 % of the travel, and no further")
	}
}

// A repeat that the log cuts short does not shorten the window of all others.
func TestShortRepeatIsDropped(t *testing.T) {
	log := commandLog(t, nil, nil)
	whole := passage{trace: log, kind: Step, start: 0, end: 1, until: 1000, to: 1}
	cut := whole
	cut.until = 200
	g := group{repeats: [2][]passage{{whole, whole}, {whole, cut, whole}}}
	if !g.cut() || len(g.repeats[1]) != 2 || !close(g.window, 1, 1e-9) {
		t.Errorf("kept %d and %d over %g s", len(g.repeats[0]), len(g.repeats[1]), g.window)
	}
}

// The period of an oscillation is found to a twentieth from three cycles on, and none in noise below the floor.
func TestCycle(t *testing.T) {
	var y []float64
	for i := range 1000 {
		y = append(y, 1e-4*math.Sin(2*math.Pi*float64(i)/137)+1e-7*float64(i))
	}
	if got := cycle(y, 1e-3, 2e-5); !close(got, 0.137, 0.137/20) {
		t.Errorf("period %g s, want 0.137", got)
	}
	if got := cycle(y, 1e-3, 1e-3); got != 0 {
		t.Errorf("period %g s below the floor", got)
	}
}
