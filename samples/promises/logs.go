package main

import (
	"math"

	"eha/strokewise/ident/machine"
	"eha/strokewise/ident/motion"
	"eha/strokewise/ident/trace"
	"eha/strokewise/samples/twin"
)

// traceOf turns a log into a trace as if it had been written and read.
func traceOf(l *twin.Log) *trace.Trace {
	l.Rounded()
	samples := map[trace.Channel][]float64{}
	for _, c := range l.Columns {
		if channel, ok := trace.ParseChannel(c.Channel); ok && channel != trace.Time {
			samples[channel] = c.SI
		}
	}
	t, err := trace.New(l.Name, l.Period, 0, samples, nil)
	if err != nil {
		panic(err)
	}
	return t
}

// parts cuts a survey into one log per test move, each with what leads in to it; the
// first holds the hold as well.
func parts(l *twin.Log, t *trace.Trace) map[string]*trace.Trace {
	out := map[string]*trace.Trace{}
	from := 0
	played := l.Schedule()
	for i, p := range played {
		if p.Move == motion.Hold.String() {
			continue
		}
		to := t.Len()
		if i+1 < len(played) {
			to = int(math.Round(p.To / t.Period()))
		}
		out[p.Move] = t.Slice(from, to)
		from = to
	}
	return out
}

// without returns the traces less some channels.
func without(traces []*trace.Trace, channels ...trace.Channel) []*trace.Trace {
	var out []*trace.Trace
	for _, t := range traces {
		samples := map[trace.Channel][]float64{}
		for _, c := range t.Channels() {
			samples[c], _ = t.Samples(c)
		}
		for _, c := range channels {
			delete(samples, c)
		}
		if len(samples) == 0 {
			continue
		}
		s, err := trace.New(t.Name(), t.Period(), t.TimeAt(0), samples, t.Gaps())
		if err != nil {
			panic(err)
		}
		out = append(out, s)
	}
	return out
}

// buffers cuts a log into pieces of so many seconds, every other one.
func buffers(t *trace.Trace, seconds float64) []*trace.Trace {
	var out []*trace.Trace
	n := int(seconds / t.Period())
	for from := 0; from+n <= t.Len(); from += 2 * n {
		out = append(out, t.Slice(from, from+n))
	}
	return out
}

// logSet is a set of logs with the machine file that goes with it.
type logSet struct {
	name   string
	traces []*trace.Trace
	file   *machine.Machine
}

// sets returns the sets of logs that are judged of one machine.
func sets(m *twin.Machine) []logSet {
	file, err := machine.Parse([]byte(twin.MachineFile(m)), "machine.toml")
	if err != nil {
		panic(err)
	}
	survey := twin.Survey(m)
	whole := traceOf(survey)
	one := parts(survey, whole)
	all := []*trace.Trace{whole}
	out := []logSet{{"survey", all, file}}
	add := func(name string, traces ...*trace.Trace) {
		out = append(out, logSet{name, traces, file})
	}
	for _, k := range motion.MoveKinds() {
		if one[k.String()] != nil {
			add("only "+k.String(), one[k.String()])
		}
	}
	for i, k := range pairs {
		if int(m.Seed)%3 == i%3 {
			add("pair "+k[0].String()+" "+k[1].String(), one[k[0].String()], one[k[1].String()])
		}
	}
	for _, c := range []trace.Channel{trace.SpeedCommand, trace.MotorPosition, trace.RodPosition, trace.CapPressure} {
		if whole.Has(c) {
			out = append(out, logSet{"without " + c.String(), without(all, c), file})
		}
	}
	blank := *file
	blank.Cylinder.Bore, blank.Cylinder.Rod = 0, 0
	out = append(out, logSet{"without areas", all, &blank})
	add("first half", whole.Slice(0, whole.Len()/2))
	add("buffers", buffers(whole, 3)...)
	add("few buffers", buffers(whole.Slice(0, whole.Len()/4), 2)...)
	closed := traceOf(twin.AsFound(m, m.Loops))
	add("as found", closed)
	add("as found steps", closed.Slice(0, int(15/closed.Period())))
	if press := twin.Press(m, m.Loops); press != nil {
		add("press", traceOf(press))
	}
	return out
}

// pairs of moves, of which each machine shows a third.
var pairs = [][2]motion.MoveKind{
	{motion.SlowStrokes, motion.Multisine}, {motion.SlowStrokes, motion.SpeedSteps}, {motion.SpeedSteps, motion.Multisine},
	{motion.SlowStrokes, motion.ReversalMove}, {motion.SpeedSteps, motion.Pulses}, {motion.Jog, motion.Multisine},
	{motion.ReversalMove, motion.Pulses}, {motion.SlowStrokes, motion.Pulses}, {motion.Jog, motion.SlowStrokes},
}
