package main

import (
	"context"
	"fmt"
	"io"
	"slices"

	"eha/strokewise/ident"
	"eha/strokewise/ident/motion"
	"eha/strokewise/ident/plant"
	"eha/strokewise/ident/quality"
	"eha/strokewise/ident/trace"
	"eha/strokewise/samples/twin"
)

// completion is what adding the moves that the check names to logs that lack something
// brings, and what leaving one of them out takes away.
type completion struct {
	machine, set string
	moves        []string
	before       map[plant.Param]quality.Identifiable // of the parameters that lack a move
	after        map[plant.Param]plant.Estimate
	best         map[plant.Param]bool // as good as any log makes it, by the check of the completed logs
	spare        []string             // moves without which all is complete as well
	absent       []string             // moves that the machine's logs do not hold
}

// beginnings are the logs to be completed.
var beginnings = []string{"only jog", "only slow_strokes", "only reversals", "only multisine", "as found"}

func completeMachine(m *twin.Machine) []completion {
	all := sets(m)
	find := func(name string) []*trace.Trace {
		for _, s := range all {
			if s.name == name {
				return s.traces
			}
		}
		return nil
	}
	supply := map[string][]*trace.Trace{"position_steps": find("as found steps"), "usual_run": find("as found")}
	for _, k := range motion.MoveKinds() {
		if t := find("only " + k.String()); t != nil {
			supply[k.String()] = t
		}
	}
	var out []completion
	for _, name := range beginnings {
		if traces := find(name); traces != nil {
			out = append(out, complete(m.Name, logSet{name, traces, all[0].file}, supply))
		}
	}
	return out
}

func complete(name string, s logSet, supply map[string][]*trace.Trace) completion {
	report := check(s)
	c := completion{machine: name, set: s.name, before: map[plant.Param]quality.Identifiable{}}
	for _, k := range report.Missing {
		if supply[k] == nil {
			c.absent = append(c.absent, k)
		} else {
			c.moves = append(c.moves, k)
		}
	}
	for p, i := range report.Identifiable {
		if !i.Can && slices.Contains(c.moves, i.Move) {
			c.before[p] = i
		}
	}
	with := func(leave string) logSet {
		more := logSet{s.name, slices.Clone(s.traces), s.file}
		for _, k := range c.moves {
			if k != leave {
				more.traces = append(more.traces, supply[k]...)
			}
		}
		return more
	}
	fit := func(s logSet) map[plant.Param]plant.Estimate {
		fitted, _ := ident.Fit(context.Background(), s.traces, s.file, ident.Options{})
		return fitted.Params
	}
	c.after, c.best = fit(with("")), map[plant.Param]bool{}
	full := check(with("")).Identifiable
	for p := range c.before {
		c.best[p] = c.after[p].Status == plant.Identified || c.after[p].Status == plant.Weak && full[p].Can && full[p].Expect == plant.Weak
	}
	for _, k := range c.moves {
		less := fit(with(k))
		spare := true
		for p, best := range c.best {
			spare = spare && (!best || less[p].Status >= c.after[p].Status)
		}
		if spare {
			c.spare = append(c.spare, k)
		}
	}
	return c
}

// completionTable prints how many of the parameters that lacked a move the named moves completed.
func completionTable(w io.Writer, all []completion) {
	type row struct{ sets, moves, spare, lacking, complete int }
	rows := map[string]*row{}
	lost := map[string]int{}
	for _, c := range all {
		r := rows[c.set]
		if r == nil {
			r = &row{}
			rows[c.set] = r
		}
		r.sets, r.moves, r.spare = r.sets+1, r.moves+len(c.moves), r.spare+len(c.spare)
		for p := range c.before {
			r.lacking++
			if c.best[p] {
				r.complete++
			} else {
				lost[fmt.Sprintf("%s: %v, log %s: %v", c.set, p, c.before[p].Move, c.after[p].Status)]++
			}
		}
		fmt.Fprintf(w, "%s, %s: log %v, spare %v, not to be had %v\n", c.machine, c.set, c.moves, c.spare, c.absent)
	}
	fmt.Fprintln(w, "\nlogs: sets, moves named, of those spare; parameters that lacked a move, completed")
	for _, name := range beginnings {
		if r := rows[name]; r != nil {
			fmt.Fprintf(w, "%-20s %3d %4d %3d   %5d %5d\n", name, r.sets, r.moves, r.spare, r.lacking, r.complete)
		}
	}
	var names []string
	for name := range lost {
		names = append(names, name)
	}
	slices.Sort(names)
	for _, name := range names {
		fmt.Fprintf(w, "   not completed: %s (%d)\n", name, lost[name])
	}
}
