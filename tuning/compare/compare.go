// Package compare sets two sets of logs of one machine against each other: how
// the same moves went before and after, and what changed in the machine itself.
//
// Every statement that a report makes (better, worse, no difference, changed) is
// a test that rejected its opposite, and Holm's step-down correction runs over
// all of them: at most one report in twenty holds any false statement. Where the
// evidence does not carry a statement, none is made. S. Holm, "A simple
// sequentially rejective multiple test procedure", Scandinavian Journal of
// Statistics 6, 1979, pp. 65-70 (value from memory).
//
// Units are SI inside, as everywhere.
package compare

import (
	"eha/strokewise/ident/plant"
	"eha/strokewise/ident/trace"
)

// Risk is the share of reports that may hold any false statement.
const Risk = 0.05

// Set is one side of a comparison: recordings of the machine in one state.
type Set struct {
	Traces []*trace.Trace // none where a plant file stands in for logs
	Plant  *plant.Plant   // fitted to them; nil for none
}

// Report is what a comparison found.
type Report struct {
	Moves []Move   // that both sets hold, in the order of the first
	Plant []Change // parameters that both fits found, in the order of plant.Params
	// Notes say what could not be compared, and what else differs between the sets.
	Notes []string
}

// Compare compares two sets. It finds the moves that both hold and compares the
// figures of their repeats, and it compares the plants where both sets have one.
func Compare(before, after Set) *Report {
	r := &Report{}
	r.Moves, r.Notes = compareMoves(before, after)
	if before.Plant != nil && after.Plant != nil {
		var notes []string
		r.Plant, notes = ComparePlants(before.Plant, after.Plant)
		r.Notes = append(r.Notes, notes...)
	}
	r.judge()
	return r
}

// judge shares the risk between behaviour and plant and decides every statement.
// Two halves cost hardly any power, and a log with many moves does not then hide
// what changed in the plant.
func (r *Report) judge() {
	risk := Risk
	if len(r.Moves) > 0 && len(r.Plant) > 0 {
		risk /= 2
	}
	judgeMoves(r.Moves, risk)
	judgePlant(r.Plant, risk)
}

// Found reports whether anything at all could be compared.
func (r *Report) Found() bool { return len(r.Moves)+len(r.Plant) > 0 }
