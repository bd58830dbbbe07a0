package ident

import (
	"math"
	"testing"

	"eha/strokewise/ident/plant"
	"eha/strokewise/ident/trace"
)

// At steady pressures the rod moves with v = (D·n - L·Δp)/A_h, by hand from the flow
// balance: 50 rad/s at 49 bar across the pump, less what pumping compresses.
func TestTravelFromTurnsByHand(t *testing.T) {
	m := plainModel()
	const period, n, speed = 1e-3, 2000, 50.0
	samples := map[trace.Channel][]float64{trace.MotorPosition: turning(speed, n, period)}
	for range n {
		samples[trace.RodPosition] = append(samples[trace.RodPosition], 0.1)
		samples[trace.CapPressure] = append(samples[trace.CapPressure], 51e5)
		samples[trace.RodPressure] = append(samples[trace.RodPressure], 2e5)
	}
	log, err := trace.New("stroke", period, 0, samples, nil)
	if err != nil {
		t.Fatal(err)
	}
	got, ok := TravelFromTurns(&plant.Plant{Model: *m, PressuresSeen: true}, log)
	want := (m.Displacement*speed*(1-49e5/m.Oil.Cap.Modulus) - m.Leakage*49e5) / m.Area.Cap * (n*period - travelFrame)
	if !ok || math.Abs(got-want) > 1e-9 {
		t.Errorf("travel %.9f m (%v), want %.9f", got, ok, want)
	}
	if _, ok := TravelFromTurns(&plant.Plant{Model: *m}, log); ok {
		t.Error("travel from a plant that was fitted without pressures")
	}
}
