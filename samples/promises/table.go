package main

import (
	"fmt"
	"io"
	"slices"

	"eha/strokewise/ident/plant"
)

// grades are what is expected of a parameter and what comes: not found (missing, assumed
// or given), found roughly, identified.
const grades = 3

func grade(s plant.Status) int {
	switch s {
	case plant.Identified:
		return 2
	case plant.Weak:
		return 1
	}
	return 0
}

// tally counts what came by what was expected.
type tally struct {
	count [grades][grades]int // by expected and found grade
	far   int                 // identified, and the truth more than twice the half-width off
}

func (t *tally) add(v verdict) {
	got := grade(v.found.Status)
	t.count[grade(v.promise.Expect)][got]++
	if got == 2 && v.off > 2 {
		t.far++
	}
}

// promiseTables prints what came of what was expected, by parameter and by set of logs.
// Sets that the check stops are left out: nothing is fitted to them.
func promiseTables(w io.Writer, all []verdict) {
	fmt.Fprintf(w, "%-44s %17s   %17s   %17s   %s\n%-44s %5s %5s %5s   %5s %5s %5s   %5s %5s %5s\n", "expected:", "identified", "roughly", "not", "far off",
		"found:", "ident", "weak", "not", "ident", "weak", "not", "ident", "weak", "not")
	tallies := map[string]*tally{}
	var sets, stopped []string
	for _, v := range all {
		if v.stopped {
			if name := v.machine + ": " + v.set; !slices.Contains(stopped, name) {
				stopped = append(stopped, name)
			}
			continue
		}
		if tallies[v.set] == nil {
			sets = append(sets, v.set)
		}
		for _, name := range []string{v.set, v.param.String(), "all"} {
			if tallies[name] == nil {
				tallies[name] = &tally{}
			}
			tallies[name].add(v)
		}
	}
	names := []string{}
	for _, p := range plant.Params() {
		names = append(names, p.String())
	}
	for _, name := range append(append(names, sets...), "all") {
		t := tallies[name]
		if t == nil {
			continue
		}
		fmt.Fprintf(w, "%-44s", name)
		for e := grades - 1; e >= 0; e-- {
			fmt.Fprintf(w, " %5d %5d %5d  ", t.count[e][2], t.count[e][1], t.count[e][0])
		}
		fmt.Fprintf(w, " %5d\n", t.far)
	}
	fmt.Fprintf(w, "\n%d sets of logs left out, the check stopped them: %v\n", len(stopped), stopped)
}
