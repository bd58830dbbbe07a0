package compare_test

import (
	"fmt"

	"eha/strokewise/ident/plant"
	"eha/strokewise/tuning/compare"
)

// Two plant files of one machine, fitted a year apart: slip has doubled, mass has not.
func ExampleCompare() {
	fitted := func(slip float64) compare.Set {
		return compare.Set{Plant: &plant.Plant{Params: map[plant.Param]plant.Estimate{
			plant.Slip:       plant.Slip.Found(slip, 0.95*slip, 1.05*slip, "strokes"),
			plant.MovingMass: plant.MovingMass.Found(400, 380, 420, "pulses"),
		}}}
	}
	r := compare.Compare(fitted(1e-7), fitted(2e-7))
	for _, c := range r.Plant {
		fmt.Printf("%s x %.2f (%.2f .. %.2f) changed: %v\n", c.Param, c.Ratio, c.RatioLow, c.RatioHigh, c.Changed)
	}
	// Output:
	// slip x 2.00 (1.92 .. 2.09) changed: true
	// moving_mass x 1.00 (0.93 .. 1.07) changed: false
}
