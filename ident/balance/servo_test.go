package balance

import (
	"math"
	"math/rand/v2"
	"testing"
)

// servo is an axis under its own position loop that runs between two places with
// bang-bang acceleration and rests between, as axes are identified in practice:
// coarse encoder, noise on the force, friction that rises at low speed.
type servo struct {
	mass, viscous, coulomb, offset float64
	rise, stribeck                 float64 // N and m/s
	step                           float64 // m, of the encoder
	noise                          float64 // N
	accel, top                     float64 // m/s², m/s of the reference
}

func (a servo) run(seconds float64, seed uint64) (position, force []float64) {
	const period, fine = 1e-3, 20
	rng := rand.New(rand.NewPCG(seed, 3))
	h := period / fine
	x, v, f := 0.0, 0.0, 0.0
	kp, kd := 900*a.mass, 42*a.mass
	for i := range int(seconds / period * fine) {
		s := float64(i) * h
		if i%fine == 0 {
			read := math.Round(x/a.step) * a.step
			r, rv := a.reference(s)
			position = append(position, read)
			f = kp*(r-read) + kd*(rv-v)
			force = append(force, f+a.noise*rng.NormFloat64())
		}
		friction := (a.coulomb + a.rise*math.Exp(-v*v/(a.stribeck*a.stribeck))) * math.Tanh(v/1e-4)
		v += h * (f - a.offset - friction - a.viscous*v) / a.mass
		x += h * v
	}
	return position, force
}

// reference runs out and back with one acceleration, in moves of growing speed.
func (a servo) reference(s float64) (x, v float64) {
	const cycle = 3.0
	k := int(s / cycle)
	s -= float64(k) * cycle
	top := a.top * []float64{1, 0.4, 0.7}[k/2%3]
	ramp := top / a.accel
	hold := 1.0
	distance := top * (ramp + hold)
	switch {
	case s < ramp:
		x, v = a.accel*s*s/2, a.accel*s
	case s < ramp+hold:
		x, v = top*ramp/2+top*(s-ramp), top
	case s < 2*ramp+hold:
		left := 2*ramp + hold - s
		x, v = distance-a.accel*left*left/2, a.accel*left
	default:
		x = distance
	}
	if k%2 == 1 {
		return distance - x, -v
	}
	return x, v
}

// The truth must lie inside the intervals and within what is asked
// of a fit: 4 % for mass, 5 % for Coulomb, 10 % for viscous friction.
func TestFromForceOnAServoAxis(t *testing.T) {
	cases := map[string]servo{
		"tens of newtons": {mass: 95, viscous: 200, coulomb: 20, offset: -3, rise: 4, stribeck: 2e-3, step: 1e-6, noise: 1, accel: 0.5, top: 0.12},
		"coarse encoder":  {mass: 95, viscous: 200, coulomb: 20, offset: -3, rise: 4, stribeck: 2e-3, step: 2e-5, noise: 1, accel: 0.5, top: 0.12},
		"kilonewtons":     {mass: 800, viscous: 9e3, coulomb: 2500, offset: -7800, rise: 600, stribeck: 3e-3, step: 5e-6, noise: 40, accel: 1, top: 0.2},
		"light and quick": {mass: 0.6, viscous: 2, coulomb: 1.1, offset: 0.1, rise: 0.3, stribeck: 2e-3, step: 1e-6, noise: 0.05, accel: 3, top: 0.3},
	}
	for name, a := range cases {
		t.Run(name, func(t *testing.T) {
			position, force := a.run(24, 1)
			f, err := FromForce(position, force, 1e-3)
			if err != nil {
				t.Fatal(err)
			}
			t.Logf("mass %.4g +- %.2g, viscous %.4g +- %.2g, coulomb %.4g +- %.2g, offset %.4g +- %.2g, lag %.3g ms; %s", f.Mass.Value, f.Mass.HalfWidth(), f.Viscous.Value, f.Viscous.HalfWidth(),
				f.Coulomb.Value, f.Coulomb.HalfWidth(), f.Offset.Value, f.Offset.HalfWidth(), 1e3*f.Lag.Value, f.Mass.From)
			near(t, "mass", f.Mass.Value, a.mass, 0.04)
			near(t, "viscous", f.Viscous.Value, a.viscous, 0.10)
			near(t, "coulomb", f.Coulomb.Value, a.coulomb, 0.05)
			inside(t, "mass", f.Mass, a.mass)
			inside(t, "viscous", f.Viscous, a.viscous)
			inside(t, "coulomb", f.Coulomb, a.coulomb)
			inside(t, "offset", f.Offset, a.offset)
		})
	}
}
