package plant

import (
	"fmt"
	"math"
)

// Check returns an error that names the first number of the model that no
// machine can have. A model from a fit always passes, one scaled to ratios alone
// included; one read from a file, or with a change asked for, may not. The ranges are
// far wider than machines are: within them nothing that is computed from a model
// overflows or takes for ever.
func (m *Model) Check() error {
	for _, p := range []struct {
		name      string
		value     float64
		low, high float64 // SI
	}{
		{"cap area", m.Area.Cap, 1e-9, 1e4}, {"rod-side area", m.Area.Rod, 1e-9, 1e4}, {"stroke", m.Stroke, 1e-6, 1e3},
		{"displacement", m.Displacement, 1e-13, 1}, {"mass", m.Mass, 1e-9, 1e15},
		{"cap-side oil modulus", m.Oil.Cap.Modulus, 1, 1e18}, {"rod-side oil modulus", m.Oil.Rod.Modulus, 1, 1e18},
		{"cap-side fixed compliance", m.Oil.Cap.Fixed, 0, 1}, {"rod-side fixed compliance", m.Oil.Rod.Fixed, 0, 1},
		{"cap-side air", m.Oil.Cap.Air, 0, 1e6}, {"rod-side air", m.Oil.Rod.Air, 0, 1e6},
		{"cap-side air volume", m.Oil.Cap.AirVolume, 0, 1e6}, {"rod-side air volume", m.Oil.Rod.AirVolume, 0, 1e6},
		{"leakage", m.Leakage, 0, 1}, {"low pressure", m.LowPressure, -1e8, 1e9}, {"low-side resistance", m.LowResistance, 0, 1e18},
		{"viscous friction", m.Viscous, 0, 1e15}, {"Coulomb friction extending", m.Coulomb.Extend, 0, 1e12}, {"Coulomb friction retracting", m.Coulomb.Retract, 0, 1e12},
		{"breakaway force", m.Breakaway, 0, 1e12}, {"Stribeck speed", m.StribeckSpeed, 0, 1e3},
		{"axial load", m.AxialLoad, -1e12, 1e12}, {"load that follows the mass", m.GravityShare, -1e12, 1e12},
		{"drive natural frequency", m.Drive.NaturalFreq, 1e-3, fastestMode}, {"drive damping", m.Drive.Damping, 1e-3, 1e3},
		{"acceleration limit", m.Drive.AccelLimit, 0, 1e12}, {"acceleration per pressure", m.Drive.AccelPerPressure, 0, 1e3},
		{"dead time", m.Drive.DeadTime, 0, 1e2}, {"outer delay", m.OuterDelay, 0, 1e2}, {"transducer delay", m.TransducerDelay, 0, 1e2},
		{"pressure lag", m.PressureLag, 0, 1e2}, {"controller period", m.ControllerPeriod, ShortestPeriod, 10},
	} {
		if !(p.value >= p.low && p.value <= p.high) {
			return fmt.Errorf("plant: %s is %g, need %g to %g (SI units)", p.name, p.value, p.low, p.high)
		}
	}
	if c := m.Contact; c != nil {
		if c.Presses != Extend && c.Presses != Retract {
			return fmt.Errorf("plant: direction of pressing is %d, need %d or %d", c.Presses, Extend, Retract)
		}
		if !(math.Abs(c.Position) <= 1e3 && c.Stiffness > 0 && c.Stiffness <= 1e15) {
			return fmt.Errorf("plant: contact of %g N/m at %g m, need a positive stiffness at a place within 1000 m", c.Stiffness, c.Position)
		}
	}
	return m.checkModes()
}

const (
	// ShortestPeriod (s) of a controller is shorter than any position loop's.
	ShortestPeriod = 1e-5
	// fastestMode (rad/s) is beyond any machine: a simulation follows the fastest mode, and
	// what is faster would take it for ever.
	fastestMode = 2e5
	// stiffened is the pressure (Pa) at which oil with air is nearly as stiff as it gets.
	stiffened = 2e7
)

// checkModes judges the modes that follow from masses, areas and oil together.
func (m *Model) checkModes() error {
	for _, x := range []float64{0, m.Stroke} {
		for _, c := range []Chamber{Cap, Rod} {
			k := m.Compliance(c, x, m.LowPressure)
			if !(k > 0) {
				return fmt.Errorf("plant: %s-side compliance is %g m³/Pa with the piston at %g m, need a positive number", c, k, x)
			}
			stiffness := m.Area.At(c) * m.Area.At(c) / m.Compliance(c, x, stiffened)
			if m.Contact != nil {
				stiffness += m.Contact.Stiffness
			}
			if omega := math.Sqrt(stiffness / m.Mass); !(omega >= 1e-6 && omega <= fastestMode) {
				return fmt.Errorf("plant: the %s side's oil, %g kg and what the rod presses on give a mode of %g rad/s, need 1e-6 to %g", c, m.Mass, omega, fastestMode)
			}
		}
	}
	return nil
}
