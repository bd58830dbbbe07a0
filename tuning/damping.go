package tuning

import (
	"math"

	"eha/strokewise/ident/machine"
	"eha/strokewise/ident/plant"
	"eha/strokewise/tuning/law"
	"eha/strokewise/tuning/loop"
)

// dampingPays is the gain in kp from which pressure damping is worth its trouble.
const dampingPays = 1.15

// addedDamping are the damping ratios that pressure damping is tried to add.
var addedDamping = []float64{0.1, 0.2, 0.3}

// mayDamp reports whether pressure damping may be proposed, and whether it is
// asked for even where it does not pay. A controller that is not stated to have it gets none.
func (d *design) mayDamp() (may, asked bool) {
	if !d.p.PressuresSeen || d.opt.PressureDamping == machine.No || d.p.Machine.Controller.PressureDamping == machine.No {
		return false, false
	}
	asked = d.opt.PressureDamping == machine.Yes
	return asked || d.p.Machine.Controller.PressureDamping == machine.Yes, asked
}

// noisiest is the share of the speed limit up to which the pressures' noise may
// shake the speed command (one standard deviation; common practice, no source).
const noisiest = 0.005

// shaken returns how far (rad/s, one standard deviation) the pressures' noise shakes the
// speed command behind the low-pass.
func (d *design) shaken(set *law.Position, lowpass float64) float64 {
	share := law.NewLowpass(lowpass, set.Period).Share
	return set.PressureDamping * d.p.Seen.Noise.Pressure * math.Sqrt(share/(2-share))
}

// damped returns the settings with the pressure damping that allows the most kp,
// the search with it, and what it brings as a factor on kp: 1 and the settings
// unchanged where the drive turns it too far, noise drowns it or nothing is gained.
func (d *design) damped(set law.Position, plain search) (law.Position, search, float64) {
	best, found, factor := set, plain, 1.0
	mode := d.lowestMode(&d.model, d.bothCorners())
	if d.turned(mode) > math.Pi/3 {
		return best, found, factor
	}
	for _, zeta := range addedDamping {
		tried := set
		// Added leakage adds damping: Δζ = (D k/(2A)) sqrt(m/C), k per pressure of the
		// chamber that carries. The softest mode takes the most, so it sets k.
		tried.PressureDamping = d.typed.down("pressure_damping", d.dampingFor(zeta), revPerSBar)
		tried.Highpass = d.typed.down("pressure_highpass", mode/3, inHz)
		if tried.PressureDamping == 0 || tried.Highpass == 0 {
			continue
		}
		s := d.fastest(&d.model, tried, loop.Coarse)
		if d.shaken(&tried, s.lowpass) > noisiest*tried.SpeedLimit {
			continue
		}
		if f := math.Sqrt(s.product() / plain.product()); f > factor {
			best, found, factor = tried, s, f
		}
	}
	return best, found, factor
}

// turned returns the phase (rad) by which delays and drive turn the damping at omega (rad/s).
func (d *design) turned(omega float64) float64 {
	m := &d.model
	delay := d.delays[len(d.delays)-1] + m.Drive.DeadTime + m.ControllerPeriod/2 + m.PressureLag
	return omega*delay + math.Atan2(2*m.Drive.Damping*omega*m.Drive.NaturalFreq, m.Drive.NaturalFreq*m.Drive.NaturalFreq-omega*omega)
}

// dampingFor returns the feedback (rad/s per Pa) that adds zeta to the mode that it acts on most.
func (d *design) dampingFor(zeta float64) float64 {
	least := math.Inf(1)
	both := d.bothCorners()
	for _, dir := range []plant.Direction{plant.Extend, plant.Retract} {
		for _, c := range both.At(dir) {
			a := loop.NewAxis(&d.model, c.place)
			k := 2 * zeta * a.Area / a.Displacement * math.Sqrt(a.Compliance/a.Mass)
			if c.place.Chamber == plant.Rod {
				k *= d.model.Area.Cap / d.model.Area.Rod
			}
			least = min(least, k)
		}
	}
	return least
}

func (d *design) bothCorners() plant.PerDirection[[]corner] {
	return plant.PerDirection[[]corner]{Extend: d.corners(&d.model, plant.Extend, d.delays), Retract: d.corners(&d.model, plant.Retract, d.delays)}
}

// product returns the product of both directions' gains.
func (s search) product() float64 { return s.limit.Extend.kp * s.limit.Retract.kp }
