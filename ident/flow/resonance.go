package flow

import (
	"math"

	"eha/strokewise/ident/plant"
)

// dampingSpan and valveSpan are half-widths of the damping ratio and of the
// valve's part in it, as shares: what valves half open and both chambers active
// leave open. weakDamping replaces dampingSpan where the load is so near zero
// that the carrying chamber stands less than nearZero (Pa) above the reservoir.
const (
	dampingSpan = 0.10
	valveSpan   = 0.30
	weakDamping = 0.60
	nearZero    = 8e5
)

// guessedSpan is the standard deviation of a compliance whose pressure of slow
// travel was not seen, as a share.
const guessedSpan = 0.1

// Resonance is the mode of the mass on the oil, lowest over the stroke.
type Resonance struct {
	Chamber   plant.Chamber   // that carries where it is lowest
	Direction plant.Direction // of slow travel whose pressure was taken
	Position  float64         // m
	Frequency Number          // rad/s
	Damping   Number
	Points    []plant.Point // rod position (m) against frequency (rad/s), softest chamber
	Params    map[plant.Param]plant.Estimate
}

// Resonance returns the hydraulic mode
//
//	ω = sqrt(A²/(C·m)),  ζ = b/(2mω) + L/(2Cω) + A_low²·R_low/(2mω)
//
// of the moving mass (kg) and viscous friction (N·s/m) at the end of the stroke
// where the chamber that carries is softest, at the lower of the two directions'
// pressures of slow travel. ok is false where mass or compliance is not known.
func (o *Oil) Resonance(mass, viscous Number) (Resonance, bool) {
	var r Resonance
	if !(mass.Value > 0) {
		return r, false
	}
	lowest := math.Inf(1)
	for _, c := range []plant.Chamber{plant.Cap, plant.Rod} {
		for _, d := range []plant.Direction{plant.Extend, plant.Retract} {
			p, ok := o.SlowPressure(c, d)
			if !ok {
				continue
			}
			x := o.softEnd(c)
			n, ok := o.frequency(c, x, p, mass)
			if ok && n.Value < lowest {
				lowest = n.Value
				r.Chamber, r.Direction, r.Position, r.Frequency = c, d, x, n
			}
		}
	}
	if math.IsInf(lowest, 1) {
		return r, false
	}
	r.Damping = o.damping(r, mass, viscous)
	r.Points = o.alongStroke(mass)
	r.estimates(o)
	return r, true
}

// softEnd returns the end of the stroke (m) where the chamber holds most oil.
func (o *Oil) softEnd(c plant.Chamber) float64 {
	if c == plant.Rod {
		return 0
	}
	return o.stroke.Travel
}

func (o *Oil) frequency(c plant.Chamber, x, p float64, mass Number) (Number, bool) {
	n, ok := o.slowCompliance(c, x, p)
	if !ok || !(n.Value > 0) {
		return Number{}, false
	}
	if o.guessed(c) {
		n.Sigma = math.Hypot(n.Sigma, guessedSpan*n.Value)
	}
	area := o.stroke.Areas.At(c)
	omega := math.Sqrt(area * area / (n.Value * mass.Value))
	return Number{omega, omega / 2 * math.Hypot(n.Sigma/n.Value, mass.Sigma/mass.Value)}, true
}

// damping returns the damping ratio at the mode.
func (o *Oil) damping(r Resonance, mass, viscous Number) Number {
	p, _ := o.SlowPressure(r.Chamber, r.Direction)
	c, _ := o.Compliance(r.Chamber, r.Position, p)
	low, omega := o.stroke.Areas.At(r.Chamber.Other()), r.Frequency.Value
	valve := o.LowResistance.At(r.Chamber)
	zeta := (viscous.Value+low*low*valve.Value)/(2*mass.Value*omega) + o.stroke.Leakage()/(2*c.Value*omega)
	share := func(n Number, factor float64) float64 { return factor * n.Sigma / (2 * mass.Value * omega) }
	valve.Sigma = math.Hypot(valve.Sigma, valveSpan/1.96*valve.Value)
	sigma := math.Hypot(share(viscous, 1), share(valve, low*low))
	// The mass divides friction and valves but not leakage, through ω once more.
	sigma = math.Hypot(sigma, zeta*mass.Sigma/mass.Value/2)
	span := dampingSpan
	if p < o.stroke.Reservoir.Value+nearZero {
		span = weakDamping
	}
	if valve.Value == 0 {
		// The valve's part was not seen; it is as large as the rest as a rule.
		zeta, span = 2*zeta, 1
	}
	return Number{zeta, math.Hypot(sigma, span*zeta/1.96)}
}

// alongStroke returns the lowest frequency of the chambers that carry, along the stroke.
func (o *Oil) alongStroke(mass Number) []plant.Point {
	var points []plant.Point
	for i := range mapPoints {
		x := o.stroke.Travel * float64(i) / (mapPoints - 1)
		lowest := math.Inf(1)
		for _, c := range []plant.Chamber{plant.Cap, plant.Rod} {
			for _, d := range []plant.Direction{plant.Extend, plant.Retract} {
				if p, ok := o.SlowPressure(c, d); ok {
					if n, ok := o.frequency(c, x, p, mass); ok {
						lowest = math.Min(lowest, n.Value)
					}
				}
			}
		}
		if !math.IsInf(lowest, 1) {
			points = append(points, plant.Point{X: x, Y: lowest})
		}
	}
	return points
}

func (r *Resonance) estimates(o *Oil) {
	f := r.Frequency.estimate(plant.HydraulicFrequency, "capacity of the "+r.Chamber.String()+" side and moving mass")
	z := r.Damping.estimate(plant.HydraulicDamping, "friction, leakage and the valve that clamps the low side")
	z.Low = math.Max(z.Low, 0)
	if (o.Borrowed(r.Chamber) || o.guessed(r.Chamber)) && f.Status == plant.Identified {
		f.Status = plant.Weak
	}
	r.Params = map[plant.Param]plant.Estimate{plant.HydraulicFrequency: f, plant.HydraulicDamping: z}
}
