package plant

import (
	"fmt"
	"math"
)

// Check returns an error that names the first number of the model that no
// machine can have: what must be positive is not, or is not finite. A model from a fit always
// passes; one read from a file may not.
func (m *Model) Check() error {
	positive := []struct {
		name  string
		value float64
	}{
		{"cap area", m.Area.Cap}, {"rod-side area", m.Area.Rod}, {"stroke", m.Stroke},
		{"displacement", m.Displacement}, {"mass", m.Mass},
		{"cap-side oil modulus", m.Oil.Cap.Modulus}, {"rod-side oil modulus", m.Oil.Rod.Modulus},
		{"drive natural frequency", m.Drive.NaturalFreq}, {"drive damping", m.Drive.Damping},
		{"controller period", m.ControllerPeriod},
	}
	for _, p := range positive {
		if !(p.value > 0) || math.IsInf(p.value, 0) {
			return fmt.Errorf("plant: %s is %g, need a positive number", p.name, p.value)
		}
	}
	notNegative := []struct {
		name  string
		value float64
	}{
		{"leakage", m.Leakage}, {"viscous friction", m.Viscous}, {"low-side resistance", m.LowResistance},
		{"Coulomb friction extending", m.Coulomb.Extend}, {"Coulomb friction retracting", m.Coulomb.Retract},
		{"breakaway force", m.Breakaway}, {"dead time", m.Drive.DeadTime}, {"outer delay", m.OuterDelay},
		{"transducer delay", m.TransducerDelay}, {"acceleration limit", m.Drive.AccelLimit},
		{"cap-side fixed compliance", m.Oil.Cap.Fixed}, {"rod-side fixed compliance", m.Oil.Rod.Fixed},
		{"cap-side air", m.Oil.Cap.Air}, {"rod-side air", m.Oil.Rod.Air},
		{"cap-side air volume", m.Oil.Cap.AirVolume}, {"rod-side air volume", m.Oil.Rod.AirVolume},
	}
	for _, p := range notNegative {
		if !(p.value >= 0) || math.IsInf(p.value, 0) {
			return fmt.Errorf("plant: %s is %g, need zero or more", p.name, p.value)
		}
	}
	for _, x := range []float64{0, m.Stroke} {
		for _, c := range []Chamber{Cap, Rod} {
			if k := m.Compliance(c, x, m.LowPressure); !(k > 0) || math.IsInf(k, 0) {
				return fmt.Errorf("plant: %s-side compliance is %g m³/Pa with the piston at %g m, need a positive number", c, k, x)
			}
		}
	}
	if c := m.Contact; c != nil && (!(c.Stiffness > 0) || math.IsInf(c.Stiffness, 0)) {
		return fmt.Errorf("plant: contact stiffness is %g N/m, need a positive number", c.Stiffness)
	}
	return nil
}
