package sim

import (
	"math"

	"eha/strokewise/tuning/law"
)

// Rest is how long a standard step waits at its start before it moves (s), so that
// slip and friction have come to rest as on the machine.
const Rest = 1.0

// StepAt returns a course that rests at from (m) and demands to (m) from time at (s) on.
func StepAt(at, from, to float64) func(float64) law.Demand {
	return func(t float64) law.Demand {
		if t < at-1e-9 {
			return law.Demand{Position: from}
		}
		return law.Demand{Position: to}
	}
}

// SmoothAt returns a course that from time at (s) on moves from one position to
// another (m) within the speed (m/s), acceleration (m/s²) and jerk (m/s³), and
// how long the move takes (s). All three limits must be positive.
func SmoothAt(at, from, to, speed, accel, jerk float64) (course func(float64) law.Demand, duration float64) {
	p := newProfile(math.Abs(to-from), speed, accel, jerk)
	sign := math.Copysign(1, to-from)
	return func(t float64) law.Demand {
		x, v := p.at(t - at)
		return law.Demand{Position: from + sign*x, Rate: sign * v}
	}, p.total()
}

// profile is a move of seven phases: jerk up for j, constant acceleration for a,
// jerk down for j, constant speed for c, and the mirror image.
type profile struct{ jerk, j, a, c, distance float64 }

func newProfile(distance, speed, accel, jerk float64) profile {
	p := profile{jerk: jerk, distance: distance}
	// Speed reached by a given peak speed w: j = min(accel/jerk, sqrt(w/jerk)), a = w/(jerk j) - j,
	// and the way up and down takes w·(2j + a).
	shape := func(w float64) (j, a float64) {
		j = math.Min(accel/jerk, math.Sqrt(w/jerk))
		return j, math.Max(w/(jerk*j)-j, 0)
	}
	w := speed
	if j, a := shape(w); w*(2*j+a) > distance {
		low, high := 0.0, speed
		for range 60 {
			w = (low + high) / 2
			if j, a := shape(w); w*(2*j+a) > distance {
				high = w
			} else {
				low = w
			}
		}
		w = low
	}
	if w <= 0 {
		return profile{distance: distance}
	}
	p.j, p.a = shape(w)
	p.c = math.Max((distance-w*(2*p.j+p.a))/w, 0)
	return p
}

func (p profile) total() float64 { return 4*p.j + 2*p.a + p.c }

// at returns distance and speed at time t into the move.
func (p profile) at(t float64) (x, v float64) {
	total := p.total()
	switch {
	case t <= 0:
		return 0, 0
	case t >= total:
		return p.distance, 0
	case t > total/2:
		x, v = p.at(total - t)
		return p.distance - x, v
	}
	top := p.jerk * p.j
	x, v = 0, 0
	for _, phase := range []struct{ length, accel, jerk float64 }{{p.j, 0, p.jerk}, {p.a, top, 0}, {p.j, top, -p.jerk}, {p.c, 0, 0}} {
		d := math.Min(t, phase.length)
		x += d * (v + d*(phase.accel/2+d*phase.jerk/6))
		v += d * (phase.accel + d*phase.jerk/2)
		if t -= d; t <= 0 {
			break
		}
	}
	return x, v
}

// KickAt returns a load (N) that jumps from zero at time at (s).
func KickAt(at, force float64) func(float64) float64 {
	return func(t float64) float64 {
		if t < at-1e-9 {
			return 0
		}
		return force
	}
}
