package quality

import (
	"math"
	"strings"
	"testing"

	"eha/strokewise/ident/trace"
)

// A column that was not taken because of doubt is asked for by name, once for all logs.
func TestDoubtfulColumnsAreAskedByName(t *testing.T) {
	y := make([]float64, 3000)
	for i := range y {
		y[i] = 30 * math.Sin(float64(i)/300)
	}
	doubt := func() *trace.Reading {
		r := reading(t, 1e-3, map[trace.Channel][]float64{trace.MotorPosition: y})
		r.Guesses = []trace.Guess{
			{Channel: trace.RodPosition, Column: "position", Others: []string{"position#2"}, Unit: "mm", Why: "a word for position", Asked: true},
			{Channel: trace.MotorPosition, Column: "turns", Unit: "rev", Why: "a word for an angle"},
			{Channel: trace.CapPressure, Column: "pA", Why: "no unit stated", Asked: true},
		}
		return r
	}
	asked := Check([]*trace.Reading{doubt(), doubt()}, nil).Columns
	if len(asked) != 2 {
		t.Fatalf("asked %q, want the rod position and the cap-side pressure", asked)
	}
	for i, words := range [][]string{
		{"made up and 1 more", "rod position", `"position" or "position#2"`, "--channel 'rod_position=position[mm]'"},
		{"cap-side pressure", `"pA"`, "unit", "--channel 'cap_pressure=pA[UNIT]'"},
	} {
		for _, w := range words {
			if !strings.Contains(asked[i], w) {
				t.Errorf("question %q does not hold %q", asked[i], w)
			}
		}
	}
}
