package law

import (
	"sort"

	"eha/strokewise/ident/plant"
)

// Measured is what the controller reads in one period.
type Measured struct {
	Position                 float64 // m
	CapPressure, RodPressure float64 // Pa
}

// Demand is what the controller is asked for in one period.
type Demand struct {
	Position, Rate   float64 // m, m/s
	Force, ForceRate float64 // N, N/s
}

// PositionController runs the position law one period at a time.
type PositionController struct {
	set       Position
	areas     plant.PerChamber[float64]
	integral  float64 // m/s
	highpass  Lowpass // the high-pass is input less this
	lowpass   Lowpass
	rodHolds  bool // with ByChamber: the rod side carries the load
	pressured bool // the high-pass has seen its first pressure
}

// NewPositionController returns a controller at rest. The areas (m²) weigh the
// pressures in damping and in telling the chamber that carries the load.
func NewPositionController(set Position, areas plant.PerChamber[float64]) *PositionController {
	return &PositionController{
		set: set, areas: areas,
		highpass: NewLowpass(set.Highpass, set.Period),
		lowpass:  NewLowpass(set.Lowpass, set.Period),
	}
}

// Integral returns the integral's part of the speed demand (m/s).
func (c *PositionController) Integral() float64 { return c.integral }

// Next runs one period and returns the speed command (rad/s).
func (c *PositionController) Next(d Demand, m Measured) float64 {
	command, integral := c.try(d, m)
	c.integral = integral
	return command
}

// try advances the filters, and returns the speed command with the integral that
// it was made with; the controller's own integral stays.
func (c *PositionController) try(d Demand, m Measured) (command, integral float64) {
	e := d.Position - m.Position
	kp, ki := c.set.Kp.Extend, c.set.Ki.Extend
	if e < 0 {
		kp, ki = c.set.Kp.Retract, c.set.Ki.Retract
	}
	damping := c.damping(m)
	integral = c.integral
	if d.Rate != 0 || e >= c.set.Window || e <= -c.set.Window {
		integral += ki * e * c.set.Period
	}
	speed := kp*e + c.set.Feedforward*d.Rate
	n := c.lowpass.Peek((speed+integral)*c.turns(speed+integral, m) - damping)
	if (n > c.set.SpeedLimit && e > 0) || (n < -c.set.SpeedLimit && e < 0) {
		integral = c.integral
	}
	n = c.lowpass.Next((speed+integral)*c.turns(speed+integral, m) - damping)
	return clamp(n, c.set.SpeedLimit), integral
}

// damping returns the speed that pressure damping takes away (rad/s).
func (c *PositionController) damping(m Measured) float64 {
	if c.set.PressureDamping == 0 {
		return 0
	}
	load := m.CapPressure - m.RodPressure*c.areas.Rod/c.areas.Cap
	if !c.pressured {
		c.pressured, c.highpass.Out = true, load
	}
	return c.set.PressureDamping * (load - c.highpass.Next(load))
}

// turns returns the motor angle per travel (rad/m) for the speed demand v (m/s).
func (c *PositionController) turns(v float64, m Measured) float64 {
	dir := plant.Extend
	if v < 0 {
		dir = plant.Retract
	}
	switch {
	case c.set.ByChamber:
		return c.chamberTurns(m)
	case c.set.Table != nil:
		return c.set.Table.At(m.Position, dir)
	}
	return c.set.Turns.At(dir)
}

// chamberTurns takes the pair by the sign of the hydraulic force with hysteresis.
func (c *PositionController) chamberTurns(m Measured) float64 {
	force := m.CapPressure*c.areas.Cap - m.RodPressure*c.areas.Rod
	if force > c.set.ChamberBand {
		c.rodHolds = false
	} else if force < -c.set.ChamberBand {
		c.rodHolds = true
	}
	if c.rodHolds {
		return c.set.Turns.Retract
	}
	return c.set.Turns.Extend
}

// At returns the motor angle per travel (rad/m) at position x (m), interpolated
// linearly and held beyond the ends.
func (t *Table) At(x float64, d plant.Direction) float64 {
	turns, last := t.Turns.At(d), len(t.Position)-1
	i := sort.SearchFloat64s(t.Position, x)
	if i == 0 {
		return turns[0]
	}
	if i > last {
		return turns[last]
	}
	share := (x - t.Position[i-1]) / (t.Position[i] - t.Position[i-1])
	return turns[i-1] + share*(turns[i]-turns[i-1])
}
