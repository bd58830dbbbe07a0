package outputerror

import (
	"math"

	"eha/strokewise/ident/plant"
)

// The unknowns. Logarithms are of the value over that of the model to start from.
const (
	frequency  = iota // logarithm
	damping           // the ratio itself
	valveGain         // logarithm, of the valve that clamps the low side
	delay             // s, of the rod position
	deadVolume        // logarithm; only without pressures
	mass              // logarithm; these three only with pressures
	otherOil          // logarithm, compliance of the chamber that is not the softest
	lag               // s, of the pressures
	numUnknown
)

var names = [numUnknown]string{"frequency", "damping", "valve", "transducer delay", "dead volume", "mass", "compliance", "pressure lag"}

// blindUnknowns and allUnknowns are what is free without and with pressures.
var (
	blindUnknowns = []int{frequency, damping, valveGain, delay, deadVolume}
	allUnknowns   = []int{frequency, damping, valveGain, delay, mass, otherOil, lag}
)

// Limits and standard deviations before the logs speak (common practice, no
// source): wide where the logs tell, narrow where they can not.
var (
	lower = [numUnknown]float64{frequency: -0.7, damping: 1e-3, valveGain: -2, delay: -3e-3, deadVolume: -2, mass: -0.7, otherOil: -2, lag: -3e-3}
	upper = [numUnknown]float64{frequency: 0.7, damping: 1.5, valveGain: 2, delay: 8e-3, deadVolume: 2.5, mass: 0.7, otherOil: 2, lag: 8e-3}
	prior = [numUnknown]float64{frequency: 0.5, damping: 0.3, valveGain: 0.5, delay: 1e-3, deadVolume: 0.7, mass: 0.1, otherOil: 0.3, lag: 1e-3}
)

// usualDrop is the pressure (Pa) that the low side's valve takes at full speed
// (common practice, no source).
const usualDrop = 2e5

// slowShare is the share of full speed of slow travel, where the damping is stated.
const slowShare = 0.06

// laminar (Pa) is the pressure below which flow through the valve is laminar.
const laminar = 1e4

// machine is the compact model with all unknowns put in.
type machine struct {
	area          plant.PerChamber[float64]
	displacement  float64
	leakage       float64
	mass, viscous float64
	scale         plant.PerChamber[float64] // on the compliance
	dead          float64                   // on its fixed part
	gain          float64                   // m³/s/√Pa, of the low side's valve
	low           float64                   // Pa
	delay, lag    float64                   // s
}

// surplus is the flow (m³/s) through the low side's valve at a share of full speed.
func (p *Problem) surplus(share float64) float64 {
	a := p.Model.Area
	return math.Abs(a.Cap-a.Rod) * share * p.TopSpeed * p.Model.Displacement / a.At(p.Chamber)
}

// start returns the unknowns of the model to start from.
func (p *Problem) start() [numUnknown]float64 {
	mode := p.Model.Resonance(p.Chamber, p.At, p.Pressure, 1)
	return [numUnknown]float64{damping: mode.Damping, delay: p.Model.TransducerDelay, lag: p.Model.PressureLag}
}

// machine returns the model with the unknowns u put in. Oil and friction follow
// from frequency and damping at the place where these are meant.
func (p *Problem) machine(u *[numUnknown]float64) machine {
	m := &p.Model
	out := machine{area: m.Area, displacement: m.Displacement, leakage: m.Leakage, mass: m.Mass * math.Exp(u[mass]),
		dead: math.Exp(u[deadVolume]), low: m.LowPressure, delay: u[delay], lag: u[lag],
		gain: p.surplus(1) / math.Sqrt(usualDrop) * math.Exp(u[valveGain])}
	omega := p.mode.NaturalFreq * math.Exp(u[frequency])
	oil := m.Oil.At(p.Chamber)
	oil.Fixed *= out.dead
	area, low := m.Area.At(p.Chamber), m.Area.At(p.Chamber.Other())
	compliance := area * area / (out.mass * omega * omega)
	scale := compliance / oil.Compliance(m.Swept(p.Chamber, p.At), p.Pressure)
	out.scale.Set(p.Chamber, scale)
	out.scale.Set(p.Chamber.Other(), math.Exp(u[otherOil]))
	if p.blind {
		out.scale.Set(p.Chamber.Other(), scale)
	}
	valve := resistance(out.gain, p.surplus(slowShare))
	out.viscous = 2*out.mass*omega*u[damping] - m.Leakage*out.mass/compliance - low*low*valve
	return out
}

// resistance returns dp/dq (Pa·s/m³) at flow q (m³/s) of a valve that passes
//
//	q = gain·Δp/√(|Δp| + laminar)
func resistance(gain, q float64) float64 {
	r := q / gain
	dp := (r*r + r*math.Sqrt(r*r+4*laminar)) / 2 // from Δp² = r²·(Δp + laminar)
	return math.Pow(dp+laminar, 1.5) / (gain * (dp/2 + laminar))
}
