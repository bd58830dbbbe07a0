package main

import (
	"context"
	"fmt"
	"math"

	"eha/strokewise/ident"
	"eha/strokewise/ident/machine"
	"eha/strokewise/ident/plant"
	"eha/strokewise/ident/trace"
	"eha/strokewise/samples/twin"
	"eha/strokewise/tuning/compare"
)

// score counts the reports on one change.
type score struct {
	change                        string
	reports, wrong, found, failed int
	lines                         []string
}

func (s *score) add(o score) {
	s.reports += o.reports
	s.wrong += o.wrong
	s.found += o.found
	s.failed += o.failed
	s.lines = append(s.lines, o.lines...)
}

// judgeMachine puts one machine through every change. The state before is logged
// and fitted once; a second session of either state, which the comparison does not
// see, is the truth that statements on behaviour are held against.
func judgeMachine(m *twin.Machine, logs string) []score {
	before, err := session(m, logs, 1)
	witness, err2 := session(m, logs, 101)
	var scores []score
	truth := twin.TruthOf(m).Params
	for i, c := range changes {
		s := score{change: c.name}
		changed := c.after(m)
		after, err3 := session(changed, logs, uint64(2+i))
		other, err4 := session(changed, logs, uint64(102+i))
		for _, e := range []error{err, err2, err3, err4} {
			if e != nil && s.failed == 0 {
				s.failed++
				s.lines = append(s.lines, fmt.Sprintf("%s-%d, %s: %v", m.Kind, m.Seed, c.name, e))
			}
		}
		if s.failed == 0 {
			report := compare.Compare(before, after)
			wrong := append(wrongOfPlant(report, truth, twin.TruthOf(changed).Params, i == 0),
				wrongOfMoves(report, compare.Compare(witness, other), i == 0)...)
			s.reports, s.wrong, s.found = 1, min(len(wrong), 1), 0
			for _, w := range wrong {
				s.lines = append(s.lines, fmt.Sprintf("%s-%d, %s: false: %s", m.Kind, m.Seed, c.name, w))
			}
			if c.found(report) {
				s.found = 1
			} else if i > 0 {
				s.lines = append(s.lines, fmt.Sprintf("%s-%d, %s: not found", m.Kind, m.Seed, c.name))
			}
		}
		scores = append(scores, s)
	}
	return scores
}

// session logs the machine once more and fits what it logged.
func session(m *twin.Machine, logs string, number uint64) (compare.Set, error) {
	again := *m
	again.Session = number
	var set compare.Set
	var all []*twin.Log
	if logs != "asfound" {
		all = append(all, twin.Survey(&again))
	}
	if logs != "survey" {
		all = append(all, twin.AsFound(&again, again.Loops))
	}
	for _, l := range all {
		t, err := traceOf(l)
		if err != nil {
			return set, err
		}
		set.Traces = append(set.Traces, t)
	}
	known, err := machine.Parse([]byte(twin.MachineFile(m)), "machine.toml")
	if err != nil {
		return set, err
	}
	if number > 100 { // a witness of behaviour needs no fit, but for its areas
		set.Plant = &plant.Plant{AreasKnown: true}
		set.Plant.Model.Area = plant.PerChamber[float64]{Cap: m.AreaCap(), Rod: m.AreaRod()}
		return set, nil
	}
	set.Plant, err = ident.Fit(context.Background(), set.Traces, known, ident.Options{})
	return set, err
}

// traceOf turns a log into a trace as if it had been written and read.
func traceOf(l *twin.Log) (*trace.Trace, error) {
	l.Rounded()
	samples := map[trace.Channel][]float64{}
	for _, c := range l.Columns {
		if channel, ok := trace.ParseChannel(c.Channel); ok && channel != trace.Time {
			samples[channel] = c.SI
		}
	}
	return trace.New(l.Name, l.Period, 0, samples, nil)
}

// wrongOfPlant lists parameters called changed that did not, or the other way. A
// parameter counts as changed by more than 1 %. The chamber that does not carry has no
// truth; of it anything said is false where nothing was done.
func wrongOfPlant(r *compare.Report, before, after map[string]twin.True, nothing bool) []string {
	var wrong []string
	for _, c := range r.Plant {
		if !c.Changed {
			continue
		}
		b, known := before[c.Param.String()]
		a, knownAfter := after[c.Param.String()]
		up := c.After.Value > c.Before.Value
		switch {
		case nothing, known && knownAfter && math.Abs(a.Value-b.Value) <= 0.01*math.Abs(b.Value), known && knownAfter && a.Value > b.Value != up:
			wrong = append(wrong, fmt.Sprintf("%s changed by %.3f (%.3f .. %.3f), in truth by %.3f", c.Param, c.Ratio, c.RatioLow, c.RatioHigh, a.Value/b.Value))
		}
	}
	return wrong
}

// wrongOfMoves lists verdicts that the witness's sessions contradict: a difference the
// other way or below half of what is useful, or one above it where none was said to be.
func wrongOfMoves(r, witness *compare.Report, nothing bool) []string {
	truth := map[string]compare.Difference{}
	for _, m := range witness.Moves {
		for _, d := range m.Figures {
			truth[key(m, d)] = d
		}
	}
	var wrong []string
	for _, m := range r.Moves {
		for _, d := range m.Figures {
			w, known := truth[key(m, d)]
			said := d.Verdict == compare.Better || d.Verdict == compare.Worse
			contradicted := said && (w.Difference*d.Difference <= 0 || math.Abs(w.Difference) < 0.5*w.Useful) ||
				d.Verdict == compare.NoDifference && math.Abs(w.Difference) > 1.2*w.Useful
			if said && nothing || known && contradicted {
				wrong = append(wrong, fmt.Sprintf("%s %.1f to %.1f mm, %s: %s, %.3g (%.3g .. %.3g), in other sessions %.3g",
					m.Kind, 1e3*m.From, 1e3*m.To, d.Figure, d.Verdict, d.Difference, d.Low, d.High, w.Difference))
			}
		}
	}
	return wrong
}

// key names a figure of a move to half a percent of its travel.
func key(m compare.Move, d compare.Difference) string {
	grid := 200 / math.Abs(m.To-m.From)
	if m.Kind == compare.Motion {
		grid /= 4
	}
	return fmt.Sprintf("%s %.0f %.0f %s", m.Kind, m.From*grid, m.To*grid, d.Figure)
}
