package motion

import (
	"testing"

	"eha/strokewise/ident/trace"
)

// A log slower than the 50 ms that a command must stand still once never came to
// an end; its steps are found as in a fast one.
func TestPositionStepsInSlowLog(t *testing.T) {
	const period = 0.1
	n := 400
	demand, rod := make([]float64, n), make([]float64, n)
	for i := range demand {
		demand[i] = 0.1 + 0.02*float64(i/100%2)
		rod[i] = demand[max(0, i-3)]
	}
	tr, err := trace.New("slow", period, 0, map[trace.Channel][]float64{trace.PositionCommand: demand, trace.RodPosition: rod}, nil)
	if err != nil {
		t.Fatal(err)
	}
	if m := Find(tr); len(m.Spans(PositionSteps)) != 3 {
		t.Errorf("found %v, want three position steps", m.Moves)
	}
}
