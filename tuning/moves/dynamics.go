package moves

import (
	"math"

	"eha/strokewise/ident/machine"
	"eha/strokewise/ident/plant"
	"eha/strokewise/ident/quantity"
)

// The times (s) to full speed: of a ramp with even the lightest load, and at most
// of what a drive's torque is asked for in pulses and excitation. Drives reach
// full speed in some 0.04 to 0.1 s unloaded; common practice, no source.
const (
	rampTime  = 0.15
	quickTime = 0.1
)

// setDynamics sets the ramps, and the pressure that sudden changes make:
//
//	ramp  Δp = 2·m·a/A     (2: the oil spring overshoots a sudden acceleration by as much again)
//	step  Δp = Δv·sqrt(K·m)/A = Δv·sqrt(m/C)
//
// with K = A²/C the stiffness of the chamber and C its compliance. A mass that
// nothing tells is at most what a chamber at working pressure holds, P·A/g: the
// areas cancel, and a = g/2·Δp/P.
func (b *Bounds) setDynamics(m *machine.Machine, p *plant.Plant, k *known) {
	_, b.Mass = statedMass(m)
	if p != nil && p.MassKnown && p.Est(plant.MovingMass).Known() {
		b.Mass = max(b.Mass, p.Est(plant.MovingMass).High)
	}
	if b.Mass > 0 && k.area.Cap > 0 {
		b.accel = b.Dynamic * k.area.Rod / (2 * b.Mass)
		b.impedance = math.Sqrt(b.Mass * stiffOil / (leastVolume * k.area.Rod * b.stroke))
	} else {
		b.Mass = 0
		b.assume("the moving mass is not stated: at most what a chamber at working pressure can hold; ramps are gentle for it")
		b.accel = b.Dynamic / b.Pressure * gravity / 2
		b.impedance = math.Sqrt(b.Pressure * stiffOil / (leastVolume * b.stroke * gravity))
	}
	b.accel = min(b.accel/b.fastest(), b.MaxSpeed/rampTime)
	b.quick = b.MaxSpeed / quickTime
	if p != nil && p.Model.Drive.AccelMet {
		b.quick = 0.6 * p.Model.Drive.AccelLimit
		b.accel = min(b.accel, b.quick)
	}
}

// setResonance sets where the hydraulic resonance is expected, and the noise that
// it must stand out of.
func (b *Bounds) setResonance(m *machine.Machine, p *plant.Plant, k *known) {
	b.freq, b.noise = [2]float64{6, 40}, 10e-6 // usual machines and a plain transducer; common practice, no source
	low, high := statedMass(m)
	if p != nil && p.Est(plant.HydraulicFrequency).Known() {
		e := p.Est(plant.HydraulicFrequency)
		b.freq = [2]float64{e.Low / (2 * math.Pi), e.High / (2 * math.Pi)}
	} else if high > 0 && k.area.Cap > 0 {
		// Lowest over the stroke, so with a full chamber: much air in the oil and the small area, or little and the large one.
		b.freq = [2]float64{
			math.Sqrt(0.6e9*k.area.Rod/(1.15*b.stroke*high)) / (2 * math.Pi),
			math.Sqrt(1.4e9*k.area.Cap/(b.stroke*low)) / (2 * math.Pi)}
	} else {
		b.assume("the resonance lies between %s and %s", show(b.freq[0], quantity.Frequency), show(b.freq[1], quantity.Frequency))
	}
	if p != nil && p.Seen.Noise.Position > 0 {
		b.noise = max(p.Seen.Noise.Position, p.Seen.Resolution.Position/math.Sqrt(12))
	}
}

// stepSpeed returns the largest sudden change of motor speed (rad/s).
func (b *Bounds) stepSpeed() float64 { return b.Dynamic / b.impedance / b.fastest() }
