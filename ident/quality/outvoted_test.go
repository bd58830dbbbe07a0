package quality

import (
	"testing"

	"eha/strokewise/ident/trace"
)

// A stop that one short buffer of many shows is a note; one that its neighbours show too,
// that a long log shows, or that is a wrong sign, stays.
func TestOneShortBufferIsOutvoted(t *testing.T) {
	for name, c := range map[string]struct {
		id      string
		samples int
		logs    int
		alike   int
		want    Severity
	}{
		"one short of twelve":     {SwappedPressures, 3000, 12, 1, Note},
		"two short of twelve":     {SwappedPressures, 3000, 12, 2, Stop},
		"one long of twelve":      {SwappedPressures, 30000, 12, 1, Stop},
		"one short of four":       {UnitDoubtful, 3000, 4, 1, Stop},
		"a wrong sign of twelve":  {WrongSign, 3000, 12, 1, Stop},
		"a unit, short of twelve": {UnitDoubtful, 3000, 12, 1, Note},
	} {
		var views []*view
		found := make([][]Finding, c.logs)
		for i := range c.logs {
			tr, err := trace.New("log", 1e-3, 0, map[trace.Channel][]float64{trace.RodPosition: make([]float64, c.samples)}, nil)
			if err != nil {
				t.Fatal(err)
			}
			views = append(views, &view{t: tr, r: &trace.Reading{Trace: tr}})
			if i < c.alike {
				found[i] = []Finding{{ID: c.id, Severity: Stop, Channel: trace.CapPressure, Text: "it is so.", Cure: Cure{Kind: NoCure + 1}}}
			}
		}
		outvoted(views, found)
		if got := found[0][0]; got.Severity != c.want || (got.Severity == Note) != (got.Cure.Kind == NoCure) {
			t.Errorf("%s: %v with cure %v, want %v", name, got.Severity, got.Cure.Kind, c.want)
		}
	}
}
