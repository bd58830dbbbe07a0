package record

import (
	"math"
	"testing"

	"eha/strokewise/ident/plant"
	"eha/strokewise/ident/quantity"
)

// Frequencies are held in rad/s and shown in Hz in either system, times in ms.
func TestUnitsOfDisplay(t *testing.T) {
	for _, c := range []struct {
		param plant.Param
		si    float64
		unit  string
		want  float64
	}{{plant.DriveBandwidth, 2 * math.Pi * 41, "Hz", 41}, {plant.DeadTime, 1.8e-3, "ms", 1.8}, {plant.MovingMass, 0.45359237, "lb", 1}, {plant.HydraulicDamping, 0.1, "", 0.1}} {
		unit, scale := displayUnit(c.param, quantity.Inch)
		if unit != c.unit || math.Abs(scale(c.si)/c.want-1) > 1e-12 {
			t.Errorf("%s: %g %s, want %g %s", c.param, scale(c.si), unit, c.want, c.unit)
		}
	}
}
