package quality

import (
	"math/bits"
	"strings"
	"testing"

	"eha/strokewise/ident/motion"
	"eha/strokewise/ident/plant"
	"eha/strokewise/ident/trace"
	"eha/strokewise/samples/traces"
	"eha/strokewise/samples/twin"
)

// The set of moves is the smallest that holds one of each list: leaving any out leaves a
// list without, and of equal sets the one is taken whose moves stand first.
func TestFewestMoves(t *testing.T) {
	cases := []struct {
		lists [][]motion.MoveKind
		want  []motion.MoveKind
	}{
		{nil, nil},
		{[][]motion.MoveKind{{motion.Pulses, motion.SpeedSteps}, {motion.SpeedSteps}}, []motion.MoveKind{motion.SpeedSteps}},
		{[][]motion.MoveKind{{motion.SlowStrokes, motion.SpeedSteps}, {motion.SlowStrokes, motion.Pulses}, {motion.PressHold}}, []motion.MoveKind{motion.SlowStrokes, motion.PressHold}},
		{[][]motion.MoveKind{{motion.SlowStrokes, motion.SpeedSteps}}, []motion.MoveKind{motion.SlowStrokes}},
		{[][]motion.MoveKind{{motion.SlowStrokes, motion.SpeedSteps}, {motion.Pulses, motion.SpeedSteps}, {motion.ReversalMove}, {motion.Multisine}},
			[]motion.MoveKind{motion.SpeedSteps, motion.ReversalMove, motion.Multisine}},
	}
	for _, c := range cases {
		var want uint
		for _, k := range c.want {
			want |= 1 << k
		}
		if got := fewest(c.lists); got != want {
			t.Errorf("%v: %b (%d moves), want %b", c.lists, got, bits.OnesCount(got), want)
		}
	}
}

// part returns the stretch of a survey in which a move was played.
func part(t *testing.T, m *twin.Machine, move string) []*trace.Reading {
	t.Helper()
	l := twin.Survey(m)
	tr := traces.Of(t, l)
	for _, p := range l.Schedule() {
		if p.Move == move {
			return []*trace.Reading{{Trace: tr.Slice(int(p.From/tr.Period()), int(p.To/tr.Period()))}}
		}
	}
	t.Fatalf("%s: %s not played", m.Name, move)
	return nil
}

// What logs lack is named with the figure that shows it and the move that supplies it.
func TestWhyLogsDoNotTell(t *testing.T) {
	nearZero, loaded := twin.Random(twin.Swap, 20150), twin.Random(twin.Resisting, 20151)
	for _, c := range []struct {
		m      *twin.Machine
		move   string
		param  plant.Param
		expect plant.Status
		by     string
		why    string // part of the text
	}{
		{nearZero, "slow_strokes", plant.Slip, plant.Weak, "press_hold", "bar only: hold under load"},
		{loaded, "slow_strokes", plant.LostMotion, plant.Missing, "reversals", "no slow turning back"},
		{loaded, "slow_strokes", plant.DriveBandwidth, plant.Weak, "multisine", "single changes of speed"},
		{loaded, "slow_strokes", plant.HydraulicDamping, plant.Weak, "speed_steps", "within a factor of"},
		{loaded, "jog", plant.StrokePerTurnExtend, plant.Weak, "speed_steps", "% of the stroke only"},
		{loaded, "jog", plant.MovingMass, plant.Weak, "speed_steps", "s of even travel only"},
		{loaded, "jog", plant.OuterDelay, plant.Missing, "position_steps", "closed loop"},
		{loaded, "speed_steps", plant.MovingMass, plant.Identified, "", "the logs hold"},
		{loaded, "speed_steps", plant.Slip, plant.Identified, "", "the logs hold"},
		{loaded, "speed_steps", plant.LostMotion, plant.Weak, "reversals", "no slow turning back"},
	} {
		got := Check(part(t, c.m, c.move), machineOf(t, c.m)).Identifiable[c.param]
		if got.Expect != c.expect || got.Move != c.by || !strings.Contains(got.Why, c.why) {
			t.Errorf("%s, %s alone, %v: expected %v by %q, %q", c.m.Name, c.move, c.param, got.Expect, got.Move, got.Why)
		}
	}
}

// A log of holding alone stops nothing where another log moves.
func TestHoldBesideMoves(t *testing.T) {
	m := twin.Random(twin.Resisting, 20152)
	l := twin.Survey(m)
	tr := traces.Of(t, l)
	hold := tr.Slice(0, int(1.9/tr.Period()))
	r := Check([]*trace.Reading{{Trace: hold}, {Trace: tr.Slice(int(l.Schedule()[1].From/tr.Period()), tr.Len())}}, machineOf(t, m))
	if r.Stopped() {
		t.Errorf("stopped: %+v", r.Findings)
	}
}
