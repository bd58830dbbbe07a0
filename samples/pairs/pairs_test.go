package main

import (
	"bytes"
	"strings"
	"testing"

	"eha/strokewise/ident/plant"
	"eha/strokewise/samples/twin"
	"eha/strokewise/tuning/compare"
)

// A small fixed part of what the command counts: two machines through every change,
// on seeds that are used nowhere else. Every change is found and nothing false said;
// over many machines a few in a hundred are (see the command).
func TestPairs(t *testing.T) {
	if testing.Short() {
		t.Skip("logs and fits fourteen states of machines")
	}
	for _, s := range judgeAll(2, 9100, "asfound") {
		if s.failed > 0 || s.wrong > 0 || s.reports != 2 || s.change != "nothing" && s.found != 2 {
			t.Errorf("%s: %d reports, %d with a false word, found in %d, %d failures: %s", s.change, s.reports, s.wrong, s.found, s.failed, strings.Join(s.lines, "; "))
		}
	}
}

// The judge itself must be able to find fault.
func TestJudgeFindsFault(t *testing.T) {
	slip := func(before, after float64, changed bool) *compare.Report {
		return &compare.Report{Plant: []compare.Change{{Param: plant.Slip, Before: plant.Estimate{Value: before}, After: plant.Estimate{Value: after}, Changed: changed}}}
	}
	truth := func(v float64) map[string]twin.True { return map[string]twin.True{"slip": {Value: v}} }
	for _, c := range []struct {
		name          string
		report        *compare.Report
		before, after float64
		nothing       bool
		wrong         int
	}{
		{"true", slip(1, 2, true), 1, 2, false, 0},
		{"did not change", slip(1, 2, true), 1, 1.005, false, 1},
		{"the other way", slip(1, 2, true), 1, 0.5, false, 1},
		{"nothing was done", slip(1, 2, true), 1, 2, true, 1},
		{"not said", slip(1, 2, false), 1, 1, true, 0},
	} {
		if got := len(wrongOfPlant(c.report, truth(c.before), truth(c.after), c.nothing)); got != c.wrong {
			t.Errorf("%s: %d false words, want %d", c.name, got, c.wrong)
		}
	}
	rise := func(difference float64, v compare.Verdict) *compare.Report {
		return &compare.Report{Moves: []compare.Move{{From: 0.1, To: 0.11, Figures: []compare.Difference{{Figure: compare.Rise, Difference: difference, Useful: 0.02, Verdict: v}}}}}
	}
	for _, c := range []struct {
		name            string
		report, witness *compare.Report
		nothing         bool
		wrong           int
	}{
		{"true", rise(-0.1, compare.Better), rise(-0.09, 0), false, 0},
		{"the other way", rise(-0.1, compare.Better), rise(0.09, 0), false, 1},
		{"too small", rise(-0.1, compare.Better), rise(-0.005, 0), false, 1},
		{"nothing was done", rise(-0.1, compare.Better), rise(-0.09, 0), true, 1},
		{"none said, one there", rise(0, compare.NoDifference), rise(-0.09, 0), false, 1},
		{"too few says nothing", rise(0, compare.TooFew), rise(-0.09, 0), false, 0},
	} {
		if got := len(wrongOfMoves(c.report, c.witness, c.nothing)); got != c.wrong {
			t.Errorf("%s: %d false words, want %d", c.name, got, c.wrong)
		}
	}
}

func TestCommandRefuses(t *testing.T) {
	for _, args := range [][]string{{"-n", "0"}, {"-logs", "diary"}, {"-seeed", "1"}} {
		var out, err bytes.Buffer
		if status := run(args, &out, &err); status != 2 || err.Len() == 0 {
			t.Errorf("%v: exit %d, %q", args, status, err.String())
		}
	}
}
