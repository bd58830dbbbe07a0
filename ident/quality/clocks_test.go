package quality

import (
	"math"
	"testing"

	"eha/strokewise/ident/trace"
	"eha/strokewise/samples/twin"
)

// The clocks of a simulated machine are those of its sensors, within the intervals given: its
// current is read without lag, pressures and rod position with theirs.
func TestClocksOfASimulatedMachine(t *testing.T) {
	sim := twin.Random(twin.Resisting, 3)
	report := Check([]*trace.Reading{read(t, twin.AsFound(sim, sim.Loops), nil)}, machineOf(t, sim))
	want := map[trace.Channel]float64{trace.RodPosition: sim.Sensors.PositionDelay + sim.Sensors.PositionLag,
		trace.CapPressure: sim.Sensors.PressureLag, trace.RodPressure: sim.Sensors.PressureLag, trace.MotorCurrent: 0}
	for _, c := range report.Channels {
		truth, judged := want[c.Channel]
		switch {
		case !judged && c.LagUntold == "":
			t.Errorf("%v: neither a lag nor a reason", c.Channel)
		case judged && c.LagWidth == 0:
			t.Errorf("%v: not told: %s", c.Channel, c.LagUntold)
		case judged && (math.Abs(c.Lag-truth) > c.LagWidth || c.LagWidth > 3e-3):
			t.Errorf("%v: %.3f ± %.3f ms, true %.3f", c.Channel, 1e3*c.Lag, 1e3*c.LagWidth, 1e3*truth)
		}
	}
}

// Without pressures what the oil gives looks like a lag of the rod: nothing is claimed.
func TestClockOfTheRodIsNotToldWithoutPressures(t *testing.T) {
	sim := twin.Random(twin.NoPressures, 3)
	report := Check([]*trace.Reading{read(t, twin.AsFound(sim, sim.Loops), nil)}, machineOf(t, sim))
	for _, c := range report.Channels {
		if c.LagWidth > 0 || c.LagUntold == "" {
			t.Errorf("%v: %g ± %g s, %q", c.Channel, c.Lag, c.LagWidth, c.LagUntold)
		}
	}
}

// The order that pressures carry is the number of teeth of the simulated pump.
func TestOrderIsTheNumberOfTeeth(t *testing.T) {
	sim := twin.Random(twin.Remote, 24005)
	sim.Ripple = 0.05
	report := Check([]*trace.Reading{read(t, twin.AsFound(sim, sim.Loops), nil)}, machineOf(t, sim))
	found := false
	for _, c := range report.Channels {
		if c.Order > 0 {
			found = true
			if c.Order != int(sim.Teeth) {
				t.Errorf("%v: order %d, the pump has %.0f teeth", c.Channel, c.Order, sim.Teeth)
			}
		}
	}
	if !found {
		t.Error("no line found that follows the motor")
	}
}
