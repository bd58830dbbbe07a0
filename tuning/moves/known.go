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
	bothSeen  bool                      // stroke per turn of either chamber is fitted
	contact   *plant.Contact
}

// largestRatio is the largest ratio of areas of common cylinders (from memory of ISO 7181).
const largestRatio = 2.0

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
		k.widen(displacement/k.area.Cap, displacement/k.area.Rod)
	}
	return k
}

// fitted takes the span of every stroke per turn that the plant knows. A load
// may make the other chamber carry than in its logs: where they did not show both,
// the span is widened by the ratio of areas both ways.
func (k *known) fitted(p *plant.Plant) {
	for _, param := range []plant.Param{plant.StrokePerTurnCap, plant.StrokePerTurnRod, plant.StrokePerTurnExtend, plant.StrokePerTurnRetract} {
		if e := p.Est(param); e.Known() && e.Low > 0 {
			k.widen(e.Low, e.High)
		}
	}
	k.bothSeen = p.Est(plant.StrokePerTurnCap).Known() && p.Est(plant.StrokePerTurnRod).Known()
	if !k.bothSeen {
		ratio := largestRatio
		if k.area.Cap > 0 {
			ratio = k.area.Cap / k.area.Rod
		}
		k.perTurn = [2]float64{k.perTurn[0] / ratio, k.perTurn[1] * ratio}
	}
}

// widen makes the stroke per turn hold low to high (m/rad), doubt added.
func (k *known) widen(low, high float64) {
	low, high = low*(1-turnsDoubt), high*(1+turnsDoubt)
	if k.perTurn[0] > 0 {
		low, high = min(k.perTurn[0], low), max(k.perTurn[1], high)
	}
	k.perTurn = [2]float64{low, high}
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
