package plant

import "math"

// AtmosphericPressure is the standard atmosphere (Pa), ISO 2533.
const AtmosphericPressure = 101325.0

// PolytropicIndex is the exponent of air in oil under quick changes (common
// practice, no source: between isothermal 1 and adiabatic 1.4, taken at 1.4).
const PolytropicIndex = 1.4

// Oil is the compressibility of one chamber with its line and walls. At swept
// volume V (m³) and gauge pressure p the compliance dV/dp is
//
//	C(V, p) = Fixed + V/Modulus + Air·(AirVolume + V)·g(p),  g = (1/n)(p_a/(p+p_a))^(1/n)/(p+p_a)
//
// with n the polytropic index and p_a atmospheric pressure.
type Oil struct {
	Fixed     float64 // m³/Pa, line, dead volume and walls
	Modulus   float64 // Pa, oil without free air
	Air       float64 // share of free air at atmospheric pressure
	AirVolume float64 // m³, dead volume that holds air too
}

// Compliance returns dV/dp (m³/Pa) at swept volume (m³) and gauge pressure (Pa).
// Pressures below atmospheric are taken as a tenth of an atmosphere, where the form loses its meaning.
func (o Oil) Compliance(swept, pressure float64) float64 {
	abs := math.Max(pressure+AtmosphericPressure, 0.1*AtmosphericPressure)
	g := math.Pow(AtmosphericPressure/abs, 1/PolytropicIndex) / (PolytropicIndex * abs)
	return o.Fixed + swept/o.Modulus + o.Air*(o.AirVolume+swept)*g
}

// Drive is the speed loop of the motor, from speed command to motor speed:
//
//	n/n_cmd = e^(-s·DeadTime) ω²/(s² + 2 ζ ω s + ω²)
//
// within the limits of its torque.
type Drive struct {
	NaturalFreq float64 // rad/s
	Damping     float64
	DeadTime    float64 // s, a command counts as held from its sample on
	// AccelLimit is the acceleration (rad/s²) that peak torque gives without
	// load; where no limit was met it is the largest seen, and AccelMet is false.
	AccelLimit float64
	AccelMet   bool
	// AccelPerPressure is the acceleration (rad/s² per Pa) that pressure across
	// the pump takes away from or adds to AccelLimit: D/J. Zero where unknown.
	AccelPerPressure float64
}

// Contact is what the rod presses on.
type Contact struct {
	Presses   Direction
	Position  float64 // m, where the rod touches
	Stiffness float64 // N/m, transducer against force
}

// Model is the compact model (see package ident) as numbers, complete: what no log
// could tell stands at a typical value, and Plant.Params says so. Of the two
// chambers one carries the load; the low side is clamped to the reservoir.
type Model struct {
	Area             PerChamber[float64] // m²
	Stroke           float64             // m
	Displacement     float64             // m³/rad
	Leakage          float64             // m³/(s·Pa), across the pump near rest
	LeakRise         float64             // s/rad, share of itself by which Leakage grows per motor speed
	Oil              PerChamber[Oil]
	LowPressure      float64               // Pa gauge, low side in slow travel
	LowResistance    float64               // Pa·s/m³, rise of the low side per flow through the valve that clamps it
	Mass             float64               // kg
	Coulomb          PerDirection[float64] // N
	Viscous          float64               // N·s/m
	Breakaway        float64               // N, friction from rest, at least the Coulomb friction
	StribeckSpeed    float64               // m/s
	AxialLoad        float64               // N, positive pushing the rod out
	GravityShare     float64               // part of AxialLoad that follows the mass (N at Mass)
	Drive            Drive
	TransducerDelay  float64  // s
	PressureLag      float64  // s
	OuterDelay       float64  // s, measurement to speed command, beyond the drive's own dead time
	ControllerPeriod float64  // s
	Contact          *Contact // nil where no pressing is known
}

// Swept returns the volume (m³) that the piston at x (m) opens in the chamber.
func (m *Model) Swept(c Chamber, x float64) float64 {
	if c == Rod {
		return m.Area.Rod * max(m.Stroke-x, 0)
	}
	return m.Area.Cap * max(x, 0)
}

// Compliance returns dV/dp (m³/Pa) of the chamber with the piston at x (m) and
// the chamber at pressure p (Pa, gauge).
func (m *Model) Compliance(c Chamber, x, p float64) float64 {
	return m.Oil.At(c).Compliance(m.Swept(c, x), p)
}

// StrokePerTurn returns the travel of the rod per motor angle (m/rad) while the
// chamber carries the load, D/A.
func (m *Model) StrokePerTurn(c Chamber) float64 { return m.Displacement / m.Area.At(c) }

// Force returns the hydraulic force (N) on the piston, positive pushing it out:
//
//	F = p_cap·A_cap - p_rod·A_rod
func (m *Model) Force(capPressure, rodPressure float64) float64 {
	return capPressure*m.Area.Cap - rodPressure*m.Area.Rod
}

// SteadyForce returns the hydraulic force (N) that steady travel at speed v
// (m/s, positive extending) asks for at the mass factor: friction less axial load.
func (m *Model) SteadyForce(v, massFactor float64) float64 {
	d := Extend
	if v < 0 {
		d = Retract
	}
	return d.Sign()*m.Coulomb.At(d) + m.Viscous*v - m.LoadAt(massFactor)
}

// LoadAt returns the axial load (N, positive pushing the rod out) with the
// moving mass scaled by massFactor: the share that is gravity follows the mass.
func (m *Model) LoadAt(massFactor float64) float64 {
	return m.AxialLoad + m.GravityShare*(massFactor-1)
}

// Carrier returns the chamber that carries the load at hydraulic force F (N):
// the cap side if F exceeds (A_cap - A_rod)·p_low, the rod side otherwise.
func (m *Model) Carrier(force float64) Chamber {
	if force > (m.Area.Cap-m.Area.Rod)*m.LowPressure {
		return Cap
	}
	return Rod
}

// PressureFor returns the pressure (Pa, gauge) of the chamber c that carries
// the hydraulic force (N) while the other is at LowPressure, not below LowPressure.
func (m *Model) PressureFor(c Chamber, force float64) float64 {
	low := m.LowPressure
	p := (force + low*m.Area.Rod) / m.Area.Cap
	if c == Rod {
		p = (low*m.Area.Cap - force) / m.Area.Rod
	}
	return math.Max(p, low)
}

const (
	mostLost  = 0.2    // of a pump's flow lost by compression, beyond which something else is wrong
	stillLead = 0.02e5 // Pa, of pressure across the pump that gives its sign
)

// PumpLoss returns the share κ of the pump's flow that compression takes while
// the motor drives the pressure, for the oil arrives from the low side less dense:
//
//	κ = |Δp|/B + a·((p_a/p_low)^(1/n) - (p_a/p_high)^(1/n)),  pressures absolute
//
// It is zero where the pressure drives the motor. Of the flow or any speed only the
// sign counts, positive towards the cap side; pressures are gauge (Pa).
func (m *Model) PumpLoss(flow, capPressure, rodPressure float64) float64 {
	lead := capPressure - rodPressure
	if flow*lead <= 0 || math.Abs(lead) < stillLead {
		return 0
	}
	oil := m.Oil.Cap
	if lead < 0 {
		oil = m.Oil.Rod
	}
	share := math.Abs(lead)/oil.Modulus + oil.Air*(airLeft(math.Min(capPressure, rodPressure))-airLeft(math.Max(capPressure, rodPressure)))
	return math.Min(math.Max(share, 0), mostLost)
}

// airLeft is the volume of free air at gauge pressure p over that at atmospheric pressure.
func airLeft(p float64) float64 {
	abs := math.Max(p+AtmosphericPressure, 0.1*AtmosphericPressure)
	return math.Pow(AtmosphericPressure/abs, 1/PolytropicIndex)
}

// Resonance is the mode of the mass on the oil of the chamber that carries it.
type Resonance struct {
	NaturalFreq float64 // rad/s, undamped
	Damping     float64
}

// Resonance returns the mode with the chamber c at pressure p (Pa) carrying the
// mass times massFactor, the piston at x (m), the motor held:
//
//	ω = sqrt(A²/(C·m)),  ζ = b/(2mω) + L/(2Cω) + A_low²·R/(2mω)
//
// with C the compliance, L the leakage, b viscous friction and R the resistance
// of the valve that clamps the low side. H. E. Merritt, "Hydraulic Control
// Systems", Wiley 1967, gives the first two terms (value from memory).
func (m *Model) Resonance(c Chamber, x, p, massFactor float64) Resonance {
	area, low := m.Area.At(c), m.Area.At(c.Other())
	compliance, mass := m.Compliance(c, x, p), m.Mass*massFactor
	omega := math.Sqrt(area * area / (compliance * mass))
	damping := (m.Viscous+low*low*m.LowResistance)/(2*mass*omega) + m.Leakage/(2*compliance*omega)
	return Resonance{NaturalFreq: omega, Damping: damping}
}
