package moves

import (
	"math"

	"eha/strokewise/ident/machine"
	"eha/strokewise/ident/plant"
	"eha/strokewise/ident/quantity"
)

// upright reports whether weight acts along the axis, or may.
func upright(m *machine.Machine) bool {
	return m.Load.Angle == nil || math.Abs(math.Sin(*m.Load.Angle)) > 0.05
}

// setLoad sets slip, the drift it makes under the load, and the pressure that moving may add.
func (b *Bounds) setLoad(m *machine.Machine, p *plant.Plant, k *known) error {
	b.Slip = assumedLoss * k.maxSpeed / b.Pressure
	if p != nil && p.Est(plant.Slip).Known() {
		b.Slip = max(p.Est(plant.Slip).High, 0) * (1 + slipDoubt)
		b.assume("slip as fitted, and a quarter more as oil warms")
	} else {
		b.assume("slip is not known: %s, a tenth of full speed at working pressure, where good gear pumps lose 3 to 7 %%", show(b.Slip, quantity.Slip))
	}
	high := plant.PerChamber[float64]{Cap: b.Pressure, Rod: b.Pressure} // pressure of each side at worst
	b.Dynamic = dynamicShare * b.Pressure
	if force, ok := b.hydraulicForce(m, p, k); ok {
		high.Cap = min(max(force[1], 0)/k.area.Cap, b.Pressure)
		high.Rod = min(max(-force[0], 0)/k.area.Rod, b.Pressure)
		static := max(high.Cap, high.Rod)
		b.Dynamic = min(b.Dynamic, 0.8*(b.Pressure-static))
		if b.Dynamic < 0.04*b.Pressure {
			return &LoadError{static, b.Pressure}
		}
	}
	// The cap side under pressure lets the rod sink in, the rod side lets it creep out.
	b.Drift = [2]float64{-b.Slip * high.Cap * b.perTurnOf(k, plant.Cap), b.Slip * high.Rod * b.perTurnOf(k, plant.Rod)}
	return nil
}

// perTurnOf returns the most travel per motor angle while the chamber carries (m/rad).
func (b *Bounds) perTurnOf(k *known, c plant.Chamber) float64 {
	most := max(k.perTurn[1], b.fastest())
	if c == plant.Cap && k.area.Cap > 0 {
		return most * k.area.Rod / k.area.Cap
	}
	return most
}

// hydraulicForce returns the least and the most force (N) that the chambers give
// in steady travel either way, and whether anything bounds it.
func (b *Bounds) hydraulicForce(m *machine.Machine, p *plant.Plant, k *known) (force [2]float64, ok bool) {
	var load [2]float64
	friction := frictionShare * b.Pressure * k.area.Cap
	switch {
	case k.area.Cap <= 0:
		return force, false
	case p != nil && p.AreasKnown && p.Est(plant.AxialLoad).Known():
		load, friction = fittedLoad(p, friction, k.maxSpeed*k.perTurn[1])
		b.assume("the axial load is as fitted, %s to %s, and a fifth more", show(load[0], quantity.Force), show(load[1], quantity.Force))
		wider := loadDoubt * max(math.Abs(load[0]), math.Abs(load[1]))
		load = [2]float64{load[0] - wider, load[1] + wider}
		b.oneSide(p, load, friction)
	default:
		if load, ok = statedLoad(m); !ok {
			b.assume("the load is not stated: each chamber may stand at working pressure, %s, all the time; load.mass with load.angle, or load.force_range, would allow longer moves", show(b.Pressure, quantity.Pressure))
			return force, false
		}
		b.assume("the axial load lies between %s and %s, as the machine file states (where it states no load.force_range: weight alone, no process load during the moves), and friction below %s", show(load[0], quantity.Force), show(load[1], quantity.Force), show(friction, quantity.Force))
	}
	b.balance, b.balanced = [2]float64{-load[1], -load[0]}, true
	return [2]float64{-load[1] - friction, -load[0] + friction}, true
}

// fittedLoad is the span of the load along the stroke, and friction at the rod speed v (m/s), half of it added.
func fittedLoad(p *plant.Plant, friction, v float64) ([2]float64, float64) {
	e := p.Est(plant.AxialLoad)
	load := [2]float64{e.Low, e.High}
	for _, f := range p.LoadMap.AxialLoad {
		load = [2]float64{min(load[0], f), max(load[1], f)}
	}
	if c := p.Est(plant.CoulombFriction); c.Known() {
		friction = 1.5 * max(c.High+max(p.Est(plant.ViscousFriction).High, 0)*v, p.Est(plant.BreakawayForce).High)
	}
	return load, friction
}

// statedLoad returns the axial load (N, positive pushing the rod out) that the
// machine file bounds: weight by mass and angle, and the process load. Without an
// angle the force range stands for all of it.
func statedLoad(m *machine.Machine) (load [2]float64, ok bool) {
	stated := m.Load.ForceRange != [2]float64{}
	if m.Load.Angle == nil {
		return m.Load.ForceRange, stated
	}
	sine := math.Sin(*m.Load.Angle)
	low, high := statedMass(m)
	if high <= 0 {
		return m.Load.ForceRange, stated && !upright(m)
	}
	a, b := -low*gravity*sine, -high*gravity*sine
	return [2]float64{min(a, b) + m.Load.ForceRange[0], max(a, b) + m.Load.ForceRange[1]}, true
}

// statedMass returns the lightest and heaviest moving mass (kg) of the machine file, zero where it states none.
func statedMass(m *machine.Machine) (low, high float64) {
	low, high = m.Load.MassRange[0], m.Load.MassRange[1]
	if mass := m.Load.Mass; mass > 0 {
		if high <= 0 {
			low = mass
		}
		low, high = min(low, mass), max(high, mass)
	}
	return low, high
}

// oneSide notes whether the same chamber carries everywhere and both ways with
// friction and inertia to spare, and the motor speed that then holds the rod.
func (b *Bounds) oneSide(p *plant.Plant, load [2]float64, friction float64) {
	if load[0]*load[1] <= 0 || min(math.Abs(load[0]), math.Abs(load[1])) < 1.6*friction || !p.Est(plant.Slip).Known() {
		return
	}
	b.oneSided = true
	force := -(load[0] + load[1]) / 2
	b.carrier = p.Model.Carrier(force)
	across := p.Model.PressureFor(b.carrier, force) - p.Model.LowPressure
	if b.carrier == plant.Rod {
		across = -across
	}
	b.holding = p.Est(plant.Slip).Value * across
}
