package quality

import (
	"fmt"

	"eha/strokewise/ident/plant"
)

// What channels lack, in words.
const (
	noPositions = "no log holds motor position and rod position together; log both"
	noPressures = "no log holds both pressures in working order; log both"
	noForces    = "no log holds rod position and both pressures in working order; log them"
	noAreas     = "bore and rod are not stated in the machine file"
)

// outlook says what a fit will make of the parameter, after the table of MODEL 1.4.
func (c *content) outlook(p plant.Param) outlook {
	switch p {
	case plant.StrokePerTurnExtend:
		return c.strokeOutlook(plant.Extend)
	case plant.StrokePerTurnRetract:
		return c.strokeOutlook(plant.Retract)
	case plant.StrokePerTurnCap:
		return c.chamberStroke(plant.Cap)
	case plant.StrokePerTurnRod:
		return c.chamberStroke(plant.Rod)
	case plant.Slip:
		return c.slipOutlook()
	case plant.LostMotion:
		return c.lostMotion()
	case plant.CoulombFriction:
		return c.friction()
	case plant.ViscousFriction:
		return c.friction()
	case plant.LineLoss:
		if !c.both {
			return none(noPositions)
		}
		return c.friction().atMostWeak("what grows with flow squared may be friction as well as line; sensors at both ends of the line would tell")
	case plant.BreakawayForce, plant.StribeckSpeed:
		return c.start()
	case plant.MovingMass:
		return c.mass()
	case plant.AxialLoad:
		return c.axialLoad()
	case plant.OuterDelay:
		return c.outerDelay()
	case plant.AccelerationLimit:
		if !c.limited {
			return none("no limit was met; the largest acceleration seen stands for it")
		}
		return known()
	case plant.BulkModulusCap, plant.ComplianceCap:
		return c.oil(plant.Cap)
	case plant.BulkModulusRod, plant.ComplianceRod:
		return c.oil(plant.Rod)
	case plant.BulkModulus:
		return c.eitherOil()
	case plant.HydraulicFrequency:
		return c.frequency()
	case plant.HydraulicDamping:
		return c.damping()
	case plant.DriveBandwidth, plant.DriveDamping, plant.DeadTime:
		return c.driveOutlook(p)
	case plant.ContactStiffness, plant.PressingStiffness:
		return c.contact(p)
	case plant.TransducerDelay:
		return c.transducer()
	case plant.PressureLag:
		return c.pressureLag()
	}
	panic(fmt.Sprintf("quality: outlook: no rule for %v", p))
}
