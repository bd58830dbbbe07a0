package tui

import (
	"testing"

	"eha/strokewise/ident/plant"
	"eha/strokewise/ident/trace"
)

// The oil's plots show the rod at both ends and amid the stroke and each chamber's
// pressure once, whatever the order and number of responses.
func TestSpreadShowsRodAndBothPressures(t *testing.T) {
	var all []plant.FrequencyResponse
	for i := range 6 {
		for _, to := range []trace.Channel{trace.RodPressure, trace.MotorSpeed, trace.CapPressure, trace.RodPosition} {
			all = append(all, plant.FrequencyResponse{To: to.String(), Position: float64(5-i) / 10, Omega: make([]float64, i+1)})
		}
	}
	count := map[string]int{}
	for _, r := range spread(all, false) {
		count[r.To]++
		if r.To != trace.RodPosition.String() && len(r.Omega) != 6 {
			t.Errorf("%s with %d lines, want the one with most", r.To, len(r.Omega))
		}
	}
	if count["rod_position"] != 3 || count["cap_pressure"] != 1 || count["rod_pressure"] != 1 || len(count) != 3 {
		t.Errorf("plots %v, want three of the rod and one of each pressure", count)
	}
	if motor := spread(all, true); len(motor) != 3 || motor[0].To != trace.MotorSpeed.String() {
		t.Errorf("%d plots of the motor, want 3", len(motor))
	}
}
