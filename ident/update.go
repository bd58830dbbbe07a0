package ident

import (
	"math"

	"eha/strokewise/ident/plant"
)

// Update joins an earlier plant of a machine with one fitted after a change, as of
// the load: what moved beyond both intervals is taken from the later fit, the rest
// stays as it was or takes the narrower interval of the two. The result lists
// every parameter that both fits found in Changes; ranges seen, evidence and logs
// are the later fit's. Neither argument is modified.
func Update(old, now *plant.Plant) *plant.Plant {
	out := *now
	out.Params = map[plant.Param]plant.Estimate{}
	out.Changes = nil
	taken := map[plant.Param]bool{} // from the later fit
	for _, p := range plant.Params() {
		before, after := old.Est(p), now.Est(p)
		moved := found(before) && found(after) && differ(before, after)
		switch {
		case !found(after) && found(before):
			out.Params[p] = before
		case found(after) && (moved || !found(before) || after.HalfWidth() < before.HalfWidth()):
			out.Params[p], taken[p] = after, true
		case !found(after):
			out.Params[p], taken[p] = after, true
		default:
			out.Params[p] = before
		}
		if found(before) && found(after) {
			out.Changes = append(out.Changes, plant.Change{Param: p, Before: before, After: after, Moved: moved})
		}
	}
	out.Model = joinModels(&old.Model, &now.Model, taken)
	if len(out.StrokeMap.Position) == 0 {
		out.StrokeMap = old.StrokeMap
	}
	if len(out.LoadMap.Position) == 0 && !taken[plant.AxialLoad] {
		out.LoadMap = old.LoadMap
	}
	out.AreasKnown = out.AreasKnown || old.AreasKnown
	out.MassKnown = out.MassKnown || old.MassKnown
	out.PressuresSeen = out.PressuresSeen || old.PressuresSeen
	return &out
}

func found(e plant.Estimate) bool { return e.Status == plant.Weak || e.Status == plant.Identified }

// manyCompared widens the interval of a difference for some thirty parameters looked
// at together: at three standard deviations one report in ten would name a false change.
const manyCompared = 1.5

// differ reports whether the interval of the difference excludes zero.
func differ(a, b plant.Estimate) bool {
	return math.Abs(a.Value-b.Value) > manyCompared*math.Hypot(a.HalfWidth(), b.HalfWidth())
}

// joinModels returns the earlier model with what belongs to the parameters taken
// from the later fit.
func joinModels(old, now *plant.Model, taken map[plant.Param]bool) plant.Model {
	m := *old
	if taken[plant.StrokePerTurnCap] || taken[plant.StrokePerTurnRod] {
		m.Area, m.Displacement = now.Area, now.Displacement
	}
	for _, part := range []struct {
		p        plant.Param
		to, from *float64
	}{
		{plant.Slip, &m.Leakage, &now.Leakage}, {plant.MovingMass, &m.Mass, &now.Mass}, {plant.ViscousFriction, &m.Viscous, &now.Viscous},
		{plant.BreakawayForce, &m.Breakaway, &now.Breakaway}, {plant.StribeckSpeed, &m.StribeckSpeed, &now.StribeckSpeed},
		{plant.AxialLoad, &m.AxialLoad, &now.AxialLoad}, {plant.AxialLoad, &m.GravityShare, &now.GravityShare},
		{plant.HydraulicDamping, &m.LowResistance, &now.LowResistance},
		{plant.DriveBandwidth, &m.Drive.NaturalFreq, &now.Drive.NaturalFreq}, {plant.DriveDamping, &m.Drive.Damping, &now.Drive.Damping},
		{plant.DeadTime, &m.Drive.DeadTime, &now.Drive.DeadTime}, {plant.OuterDelay, &m.OuterDelay, &now.OuterDelay},
		{plant.TransducerDelay, &m.TransducerDelay, &now.TransducerDelay}, {plant.PressureLag, &m.PressureLag, &now.PressureLag},
	} {
		if taken[part.p] {
			*part.to = *part.from
		}
	}
	if taken[plant.CoulombFriction] {
		m.Coulomb = now.Coulomb
	}
	if taken[plant.ComplianceCap] {
		m.Oil.Cap = now.Oil.Cap
	}
	if taken[plant.ComplianceRod] {
		m.Oil.Rod = now.Oil.Rod
	}
	if now.Drive.AccelMet && (taken[plant.AccelerationLimit] || !m.Drive.AccelMet) {
		m.Drive.AccelLimit, m.Drive.AccelMet, m.Drive.AccelPerPressure = now.Drive.AccelLimit, true, now.Drive.AccelPerPressure
	}
	if taken[plant.ContactStiffness] && now.Contact != nil {
		m.Contact = now.Contact
	}
	m.Breakaway = max(m.Breakaway, m.Coulomb.Extend, m.Coulomb.Retract)
	m.ControllerPeriod = now.ControllerPeriod
	return m
}
