package ident

import (
	"math"

	"eha/strokewise/ident/plant"
)

// assumption is a typical value with the band that machines of this kind keep to.
type assumption struct{ value, low, high float64 }

func (a assumption) estimate(missing string) plant.Estimate {
	return plant.Estimate{Value: a.value, Low: a.low, High: a.high, Status: plant.Assumed, From: "typical value; " + missing}
}

// What stands in the model where the logs cannot tell. All are common practice,
// no source; none is ever reported as found.
var (
	typicalDriveFreq       = assumption{2 * math.Pi * 35, 2 * math.Pi * 15, 2 * math.Pi * 80} // rad/s
	typicalDriveDamping    = assumption{0.8, 0.5, 1.1}
	typicalDeadTime        = assumption{1.5e-3, 0.5e-3, 3e-3} // s
	typicalTransducerDelay = assumption{1e-3, 0, 3e-3}        // s
	typicalPressureLag     = assumption{1e-3, 0, 3e-3}        // s
)

const (
	typicalLowPressure  = 2e5   // Pa, preload of a sealed reservoir
	typicalWorking      = 160e5 // Pa
	typicalAreaRatio    = 0.7   // rod side over cap side
	typicalModulus      = 1.2e9 // Pa, oil and walls
	typicalAir          = 0.01  // share at atmospheric pressure
	typicalDeadShare    = 0.1   // dead volume over swept volume
	typicalSlip         = 0.01  // share of top speed lost at 100 bar
	typicalFriction     = 0.02  // Coulomb friction over working pressure times cap area
	typicalLoad         = 0.25  // of working pressure times cap area, where a load is certain but not its size
	typicalBreakaway    = 1.4   // over Coulomb friction
	typicalStribeck     = 5e-3  // m/s
	lowDamping          = 0.05  // of a hydraulic mode, on the careful side
	lowFrequency        = 2 * math.Pi * 8
	typicalDisplacement = 1e-6                   // m³/rad
	typicalTopSpeed     = 2 * math.Pi * 50       // rad/s
	typicalAcceleration = typicalTopSpeed / 0.05 // rad/s²
)
