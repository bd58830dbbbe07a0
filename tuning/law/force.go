package law

import "eha/strokewise/ident/plant"

// ForceController runs the force law one period at a time.
type ForceController struct {
	set      Force
	areas    plant.PerChamber[float64]
	integral float64 // rad/s
	lowpass  Lowpass
	filled   bool // the low-pass has seen its first force
}

// NewForceController returns a controller at rest; the areas (m²) turn pressures into force.
func NewForceController(set Force, areas plant.PerChamber[float64]) *ForceController {
	return &ForceController{set: set, areas: areas, lowpass: NewLowpass(set.Lowpass, set.Period)}
}

// Integral returns the integral's part of the command (rad/s).
func (c *ForceController) Integral() float64 { return c.integral }

// Next runs one period and returns the speed command (rad/s).
func (c *ForceController) Next(d Demand, m Measured) float64 {
	command, integral := c.try(d, m)
	c.integral = integral
	return command
}

func (c *ForceController) try(d Demand, m Measured) (command, integral float64) {
	force := m.CapPressure*c.areas.Cap - m.RodPressure*c.areas.Rod
	if !c.filled {
		c.filled, c.lowpass.Out = true, force
	}
	e := d.Force - c.lowpass.Next(force)
	direct := c.set.Kp*e + c.set.RateFeedforward*d.ForceRate
	integral = c.integral + c.set.Ki*e*c.set.Period
	if n := direct + integral; (n > c.set.SpeedLimit && e > 0) || (n < -c.set.SpeedLimit && e < 0) {
		integral = c.integral
	}
	return clamp(direct+integral, c.set.SpeedLimit), integral
}

// Controller runs a position loop and, where there is one, a force loop that
// takes over by the smaller command when pressing while extending and by the
// larger when pressing while retracting. The loop that is not in charge holds its integral.
type Controller struct {
	position *PositionController
	force    *ForceController
	presses  plant.Direction
	inForce  bool
}

// NewController returns a controller at rest. The loops must hold a position
// loop; the areas are in m².
func NewController(l Loops, areas plant.PerChamber[float64]) *Controller {
	c := &Controller{position: NewPositionController(*l.Position, areas)}
	if l.Force != nil {
		c.force, c.presses = NewForceController(*l.Force, areas), l.Force.Presses
	}
	return c
}

// Next runs one period and returns the speed command (rad/s).
func (c *Controller) Next(d Demand, m Measured) float64 {
	if c.force == nil {
		return c.position.Next(d, m)
	}
	position, positionIntegral := c.position.try(d, m)
	force, forceIntegral := c.force.try(d, m)
	c.inForce = force < position
	if c.presses == plant.Retract {
		c.inForce = force > position
	}
	if c.inForce {
		c.force.integral = forceIntegral
		return force
	}
	c.position.integral = positionIntegral
	return position
}

// InForce reports whether the force loop gave the last command.
func (c *Controller) InForce() bool { return c.inForce }
