package quality

import (
	"math"

	"eha/strokewise/ident/machine"
	"eha/strokewise/ident/motion"
	"eha/strokewise/ident/plant"
	"eha/strokewise/ident/trace"
)

// content is what the logs together hold that parameters are found from: which channels
// stand together, and how much there is of what excites each parameter.
type content struct {
	both             bool    // encoder and rod position in one log
	pressed          bool    // and both pressures with them
	forces           bool    // rod position with both pressures
	command          bool    // speed command with encoder
	loop             bool    // position command, speed command and rod position
	areas            bool    // bore and rod on the nameplate
	load             bool    // a load cell with the rod position
	closed           bool    // a log with encoder and speed command is of a closed loop
	limited          bool    // an acceleration limit was met
	stroke           float64 // m, of the machine file, else the range of all logs
	areaCap, areaRod float64 // m²

	turning travelled // with encoder and rod position
	pushing travelled // with rod position and pressures or load cell: what the balance of forces is made of

	slipShare float64                 // half-width over value that turns lost promise for slip; +Inf where there are none
	across    float64                 // Pa, mean pressure across the pump while it tells slip
	lively    int                     // stretches of the speed command that change
	periods   int                     // of periodic excitation of the speed command
	swings    plant.PerDirection[int] // slow reversals, by the direction turned to
	lag       lag                     // of the rod position behind the encoder, the best told
	presses   int                     // stretches of pressing
	pressRise float64                 // Pa, between the lowest and the highest pressure in them
	asked     int                     // changes of the position command
}

func gather(views []*view, m *machine.Machine) *content {
	c := &content{areas: m.Cylinder.Bore > 0 && m.Cylinder.Rod > 0, stroke: m.Cylinder.Stroke, slipShare: math.Inf(1)}
	low, high := math.Inf(1), math.Inf(-1)
	var turning, pushing []*view
	for _, v := range views {
		c.channels(v)
		c.areaCap, c.areaRod = v.areas()
		if v.has(trace.MotorPosition, trace.RodPosition) {
			turning = append(turning, v)
		}
		if v.has(trace.RodPosition) && (v.has(trace.CapPressure, trace.RodPressure) || v.has(trace.Force)) {
			pushing = append(pushing, v)
		}
		if v.has(trace.RodPosition) {
			a, b := v.bounds(trace.RodPosition)
			low, high = min(low, a), max(high, b)
		}
		c.drive(v)
		c.reversing(v, m)
		c.pressing(v)
		if l := v.clocks.of[trace.RodPosition]; l.told() && (c.lag.width == 0 || l.width < c.lag.width) {
			c.lag = l
		}
	}
	if c.stroke <= 0 {
		c.stroke = max(high-low, 0)
	}
	c.turning, c.pushing = travelOf(turning), travelOf(pushing)
	c.lostTurns(turning)
	return c
}

func (c *content) channels(v *view) {
	c.both = c.both || v.has(trace.MotorPosition, trace.RodPosition)
	c.forces = c.forces || v.has(trace.RodPosition, trace.CapPressure, trace.RodPressure)
	c.pressed = c.pressed || v.has(trace.MotorPosition, trace.RodPosition, trace.CapPressure, trace.RodPressure)
	c.command = c.command || v.has(trace.SpeedCommand, trace.MotorPosition)
	c.load = c.load || v.has(trace.Force, trace.RodPosition)
	if v.has(trace.PositionCommand, trace.SpeedCommand, trace.RodPosition) {
		c.loop = true
		c.asked += len(v.motion.Spans(motion.PositionSteps)) + len(v.motion.Spans(motion.UsualRun))
	}
}
