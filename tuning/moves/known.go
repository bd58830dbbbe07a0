package moves

import (
	"math"

	"eha/strokewise/ident/machine"
	"eha/strokewise/ident/plant"
)

// known is what machine file and plant tell before anything is assumed. A zero
// says that neither tells.
type known struct {
	low, high float64                   // m, ends of the stroke, or of what was logged
	area      plant.PerChamber[float64] // m²
	perTurn   [2]float64                // m/rad, by either area, doubt included
	maxSpeed  float64                   // rad/s
	pressure  float64                   // Pa
	turned    bool                      // displacement is stated
	contact   *plant.Contact
}

func knownOf(m *machine.Machine, p *plant.Plant) *known {
	k := &known{high: m.Cylinder.Stroke, maxSpeed: m.Motor.MaxSpeed, pressure: m.Limits.WorkingPressure}
	displacement := m.Pump.Displacement
	k.turned = displacement > 0
	if bore, rod := m.Cylinder.Bore, m.Cylinder.Rod; bore > 0 && rod > 0 && rod < bore {
		k.area = plant.PerChamber[float64]{Cap: math.Pi / 4 * bore * bore, Rod: math.Pi / 4 * (bore*bore - rod*rod)}
	}
	if p != nil {
		if p.AreasKnown && k.area.Cap == 0 {
			k.area = p.Model.Area
		}
		if k.high <= 0 {
			k.low, k.high = p.Seen.Position[0], p.Seen.Position[1]
		}
		if k.maxSpeed <= 0 {
			k.maxSpeed = max(p.Seen.MotorSpeed[1], -p.Seen.MotorSpeed[0])
		}
		if k.pressure <= 0 {
			k.pressure = max(p.Seen.Pressure.Cap[1], p.Seen.Pressure.Rod[1])
		}
		// Only a contact that is certain, or that the machine is for: a doubtful one
		// would take away stroke, and the sheet asks for a free way.
		if m.Limits.Force > 0 || p.Est(plant.ContactStiffness).Status == plant.Identified {
			k.contact = p.Model.Contact
		}
		k.fitted(p)
	}
	if k.pressure <= 0 {
		k.pressure = 0.8 * m.Limits.Relief
	}
	if k.perTurn[0] == 0 && k.area.Cap > 0 && displacement > 0 {
		k.perTurn = [2]float64{displacement / k.area.Cap * (1 - turnsDoubt), displacement / k.area.Rod * (1 + turnsDoubt)}
	}
	return k
}

// fitted takes the span of every stroke per turn that the plant knows.
func (k *known) fitted(p *plant.Plant) {
	for _, param := range []plant.Param{plant.StrokePerTurnCap, plant.StrokePerTurnRod, plant.StrokePerTurnExtend, plant.StrokePerTurnRetract} {
		e := p.Est(param)
		if !e.Known() || e.Low <= 0 {
			continue
		}
		low, high := e.Low*(1-turnsDoubt), e.High*(1+turnsDoubt)
		if k.perTurn[0] == 0 {
			k.perTurn = [2]float64{low, high}
		}
		k.perTurn = [2]float64{min(k.perTurn[0], low), max(k.perTurn[1], high)}
	}
}

// missing returns the keys that must be stated, nil where all is known.
func (k *known) missing() error {
	var keys []string
	need := func(ok bool, names ...string) {
		if !ok {
			keys = append(keys, names...)
		}
	}
	if k.perTurn[0] <= 0 {
		need(k.area.Cap > 0, "cylinder.bore", "cylinder.rod")
		need(k.turned, "pump.displacement")
	}
	need(k.high > k.low, "cylinder.stroke")
	need(k.maxSpeed > 0, "motor.max_speed")
	need(k.pressure > 0, "limits.working_pressure")
	if keys == nil {
		return nil
	}
	return &NeedError{keys}
}
