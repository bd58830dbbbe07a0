package ident

import (
	"fmt"

	"eha/strokewise/ident/plant"
)

// Shares of the rod speed left unexplained up to which a plant is fit to design
// on, and to be used with care.
const (
	goodSpeed = 0.15
	fairSpeed = 0.35
)

// doubt lowers to weak what the dynamics of a model that fails on moves held out
// rest on, whatever its own intervals say.
func (f *fitting) doubt(v plant.Validation) {
	if v.RodSpeed <= fairSpeed {
		return
	}
	for _, p := range []plant.Param{plant.HydraulicFrequency, plant.HydraulicDamping, plant.ComplianceCap, plant.ComplianceRod, plant.BulkModulus, plant.BulkModulusCap, plant.BulkModulusRod, plant.LostMotion} {
		if e := f.params[p]; e.Status == plant.Identified {
			e.Status = plant.Weak
			e.From += "; the model fails on moves held out"
			f.params[p] = e
		}
	}
	text := fmt.Sprintf("the model leaves %.0f %% of the rod speed unexplained on moves held out: oil and resonance are doubtful", 100*v.RodSpeed)
	f.warnings = append([]string{text}, f.warnings...)
}

// verdict says in one sentence how far to trust the plant, and where that was tried.
func (f *fitting) verdict(v plant.Validation, r tried) string {
	if v.HeldOut == 0 {
		return "No move could be held out: nothing checks this plant but its own intervals; log more moves."
	}
	text := fmt.Sprintf("On %.1f s of moves that the fit did not see, between %.0f and %.0f mm and up to %.3g mm/s, the model leaves %.0f %% of the rod speed unexplained: ", v.HeldOut, 1e3*r.from, 1e3*r.to, 1e3*r.fastest, 100*v.RodSpeed)
	switch {
	case v.RodSpeed <= goodSpeed:
		return text + "fit to design on, at the load and oil temperature of these logs."
	case v.RodSpeed <= fairSpeed:
		return text + "usable with care, at the load and oil temperature of these logs; start the loops lower."
	default:
		return text + "do not design fast loops on it; check the traces first."
	}
}
