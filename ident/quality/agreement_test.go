package quality

import (
	"testing"

	"eha/strokewise/ident/trace"
)

// One short buffer that alone would call the pressures swapped, and is not sure of it, is
// overruled by the others; one that is sure is not, nor one of other columns.
func TestOtherLogsOverruleADoubtfulBuffer(t *testing.T) {
	log := func(column string, weight float64) *view {
		v := &view{r: &trace.Reading{Guesses: []trace.Guess{{Channel: trace.CapPressure, Column: column}}}}
		v.wiring.votes = []vote{{swapped, weight, "a vote"}, {command, 8, ""}, {encoder, 8, ""}, {rod, 8, ""}, {current, 8, ""}}
		v.wiring.decide()
		return v
	}
	for name, c := range map[string]struct {
		column string
		weight float64
		want   int
	}{"doubtful": {"pA", -2, 1}, "sure": {"pA", -9, 0}, "other columns": {"p1", -2, 0}} {
		v := log(c.column, c.weight)
		if v.wiring.faults != swapped {
			t.Fatalf("%s: faults %b alone, want swapped", name, v.wiring.faults)
		}
		got := doubtedByOthers([]*view{log("pA", 5), v, log("pA", 6)})
		if len(got) != c.want || c.want == 1 && (got[0] != 1 || v.agreed.faults != 0) {
			t.Errorf("%s: overruled %v, sure %.4f", name, got, v.wiring.sure)
		}
	}
}
