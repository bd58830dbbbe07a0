package tuning

import (
	"math"

	"eha/strokewise/tuning/law"
)

// Bounds of force mode, found on simulated machines unless a line says otherwise.
const (
	excessShare   = 0.10 // of the force limit, how far an approach may pass its reference
	holdingShare  = 2.0  // speed limit over what slip takes at the working pressure
	leastHolding  = 1.5  // the same at the highest pressing pressure, below which the force is never reached
	usualForceRPM = 300  // speed limit in force mode where slip asks for less
)

// limits returns the settings that do not depend on the gains: speed limit,
// approach and travel. The speed limit lets slip be made up at the highest
// pressing pressure and no more than the approach bears.
func (p *pressing) limits(position *law.Position) law.Force {
	m := &p.model
	working := max(p.holdingPressure(), p.d.p.Machine.Limits.WorkingPressure)
	set := law.Force{Presses: p.contact.Presses, Period: m.ControllerPeriod}
	perTurn := m.StrokePerTurn(p.chamber)
	speed := max(holdingShare*m.Leakage/m.Displacement*working, min(usualForceRPM/inRPM, p.approachBound()/perTurn))
	set.SpeedLimit = p.d.typed.up("speed_limit", min(speed, position.SpeedLimit), inRPM)
	set.ApproachSpeed = p.d.typed.down("approach_speed", min(p.approachBound(), set.SpeedLimit*perTurn), inMM)
	set.TravelLimit = p.d.typed.up("travel_limit", p.travel(position), inMM)
	return set
}

// travel returns how far (m) beyond the contact the position command has to stand: as
// far as the softest contact gives way, and so much further that the position loop asks
// for more speed than slip takes. Nearer, it would keep the force loop from its reference.
func (p *pressing) travel(position *law.Position) float64 {
	dir := p.contact.Presses
	perTravel := position.Kp.At(dir) / p.model.StrokePerTurn(p.chamber)
	return 1e-3 + 1.2*p.limit/p.softest() + holdingShare*p.holdingSpeed()/perTravel
}

// approachBound returns the rod speed (m/s) at contact that passes the force
// reference by at most excessShare of the limit: by what the loop cannot stop in its
// reaction time, k_s·v·t, and by the impact of the mass, v·sqrt(k·m), whichever is
// lower. Both follow from the stiffest contact of the range.
func (p *pressing) approachBound() float64 {
	m := &p.model
	at := p.place(0.5, 1)
	area := m.Area.At(p.chamber)
	oil := area * area / m.Compliance(p.chamber, at.Position, at.Pressure)
	stiffest := p.stiffest()
	series := oil * stiffest / (oil + stiffest)
	react := m.Drive.DeadTime + m.OuterDelay + m.ControllerPeriod + 2*m.Drive.Damping/m.Drive.NaturalFreq + m.PressureLag
	excess := excessShare * p.limit
	heaviest := m.Mass * p.d.factors[len(p.d.factors)-1]
	return min(excess/(series*react), excess/math.Sqrt(stiffest*heaviest))
}

// forceNoise returns the noise (N, one standard deviation) of the force from both pressures as logged.
func (p *pressing) forceNoise() float64 {
	return p.d.p.Seen.Noise.Pressure * math.Hypot(p.model.Area.Cap, p.model.Area.Rod)
}
