package machine

import "fmt"

// contradiction returns the key and the problem of the first pair of values that
// cannot both be true, and "" where there is none.
func (m *Machine) contradiction() (key, problem string) {
	c, l := m.Cylinder, m.Limits
	switch {
	case c.Bore > 0 && c.Rod >= c.Bore:
		return "cylinder.rod", fmt.Sprintf("rod %.4g mm is not thinner than the bore %.4g mm", c.Rod*1e3, c.Bore*1e3)
	case c.Stroke > 0 && 2*l.StrokeMargin >= c.Stroke:
		return "limits.stroke_margin", fmt.Sprintf("a margin of %.4g mm at both ends leaves nothing of the stroke %.4g mm", l.StrokeMargin*1e3, c.Stroke*1e3)
	case c.Stroke > 0 && m.Contact.Position >= c.Stroke:
		return "contact.position", fmt.Sprintf("%.4g mm is not within the stroke %.4g mm", m.Contact.Position*1e3, c.Stroke*1e3)
	case m.Motor.MaxSpeed > 0 && m.Pump.MinSpeed >= m.Motor.MaxSpeed:
		return "pump.min_speed", "is not below motor.max_speed"
	case m.Motor.PeakTorque > 0 && m.Motor.ContinuousTorque > m.Motor.PeakTorque:
		return "motor.continuous_torque", "is above motor.peak_torque"
	case l.Relief > 0 && m.Reservoir.Preload >= l.Relief:
		return "reservoir.preload", "is not below limits.relief"
	case l.WorkingPressure > 0 && m.Reservoir.Preload >= l.WorkingPressure:
		return "reservoir.preload", "is not below limits.working_pressure"
	case m.Load.MassRange[1] > 0 && m.Load.Mass > 0 && (m.Load.Mass < m.Load.MassRange[0] || m.Load.Mass > m.Load.MassRange[1]):
		return "load.mass", fmt.Sprintf("%.4g kg is outside load.mass_range %.4g to %.4g kg", m.Load.Mass, m.Load.MassRange[0], m.Load.MassRange[1])
	}
	return "", ""
}
