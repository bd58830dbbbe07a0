package sim

import (
	"math"

	"eha/strokewise/ident/plant"
)

// drive is the motor under its speed loop. With torque per inertia τ and the
// load's share d, both rad/s²,
//
//	n' = τ - d,  τ = ω z - 2 ζ ω n,  z' = ω (u - n)
//
// which without load and limit is ω²/(s² + 2 ζ ω s + ω²). At the torque limit the
// integral z stays where the torque is just at the limit.
type drive struct {
	speed    float64 // n, rad/s
	integral float64 // z, rad/s
	omega    float64
	perOmega float64
	twoZeta  float64
	limit    float64       // rad/s²
	step     [2][2]float64 // of the deviation from the steady state over one time step
	h        float64
}

func newDrive(d plant.Drive, h float64) drive {
	limit := d.AccelLimit
	if limit <= 0 {
		limit = math.Inf(1)
	}
	w := d.NaturalFreq * h
	return drive{
		omega: d.NaturalFreq, perOmega: 1 / d.NaturalFreq, twoZeta: 2 * d.Damping, limit: limit, h: h,
		step: exponential([2][2]float64{{-2 * d.Damping * w, w}, {-w, 0}}),
	}
}

// advance moves on by one step with command u (rad/s) and load d (rad/s²) and
// reports whether the torque was at its limit.
func (m *drive) advance(u, d float64) bool {
	steady := m.twoZeta*u + d*m.perOmega
	n, z := m.speed-u, m.integral-steady
	before := m.speed
	m.speed = u + m.step[0][0]*n + m.step[0][1]*z
	m.integral = steady + m.step[1][0]*n + m.step[1][1]*z
	torque := m.omega * (m.integral - m.twoZeta*m.speed)
	if math.Abs(torque) <= m.limit {
		return false
	}
	at := math.Copysign(m.limit, torque)
	m.speed = before + m.h*(at-d)
	m.integral = m.twoZeta*m.speed + at/m.omega
	return true
}

// exponential returns e^a of a small matrix by its series.
func exponential(a [2][2]float64) [2][2]float64 {
	sum := [2][2]float64{{1, 0}, {0, 1}}
	term := sum
	for k := 1; k <= 16; k++ {
		term = [2][2]float64{
			{(term[0][0]*a[0][0] + term[0][1]*a[1][0]) / float64(k), (term[0][0]*a[0][1] + term[0][1]*a[1][1]) / float64(k)},
			{(term[1][0]*a[0][0] + term[1][1]*a[1][0]) / float64(k), (term[1][0]*a[0][1] + term[1][1]*a[1][1]) / float64(k)},
		}
		for i := range sum {
			for j := range sum[i] {
				sum[i][j] += term[i][j]
			}
		}
	}
	return sum
}
