package flow

import (
	"math"

	"eha/strokewise/ident/plant"
	"eha/strokewise/ident/window"
)

// meanTime is the length (s) of the pieces that a log is averaged over for the
// fits that need no resonance: long against ripple, noise and counts of the
// encoder, short against a move.
const meanTime = 0.02

// means is a log averaged over successive pieces of meanTime.
type means struct {
	dt              float64
	angle, x        []float64
	cap, rod        []float64 // nil where not logged
	speed           []float64 // rad/s, motor
	travel          []float64 // m/s, rod
	bad             []bool    // holds a gap, or the relief valve may be open
	driven, airLost []float64 // running ∫|Δp| dθ (rad·Pa) and ∫c dθ (rad) while pumping
	leaked          []float64 // running ∫Δp dt (Pa·s)
	leakedFast      []float64 // running ∫Δp·|n| dt (Pa·rad)
	warmth          []float64 // K, of the oil; nil where not logged
}

// average returns the pieces of the log. relief (Pa) is the pressure at which
// oil may leave through the relief valve, zero where unknown.
func average(c channels, relief float64) *means {
	step := max(int(math.Round(meanTime/c.period)), 1)
	count := len(c.x) / step
	m := &means{dt: float64(step) * c.period, bad: make([]bool, count)}
	m.angle, m.x = pieces(c.angle, step), pieces(c.x, step)
	if c.warmth != nil {
		m.warmth = pieces(c.warmth, step)
	}
	mask := window.NewMask(c.log)
	if c.pressures() {
		m.cap, m.rod = pieces(c.cap, step), pieces(c.rod, step)
	}
	for i := range count {
		for k := i * step; k < (i+1)*step; k++ {
			m.bad[i] = m.bad[i] || mask.Bad(k)
		}
		if relief > 0 && c.pressures() {
			m.bad[i] = m.bad[i] || math.Max(m.cap[i], m.rod[i]) > 0.95*relief
		}
	}
	m.speed, m.travel = slopes(m.angle, m.dt), slopes(m.x, m.dt)
	if c.pressures() {
		m.accumulate()
	}
	return m
}

// pieces returns the means of y over successive pieces of step samples.
func pieces(y []float64, step int) []float64 {
	out := make([]float64, len(y)/step)
	for i := range out {
		var sum float64
		for _, v := range y[i*step : (i+1)*step] {
			sum += v
		}
		out[i] = sum / float64(step)
	}
	return out
}

// slopes returns the rate of change of y by central differences.
func slopes(y []float64, dt float64) []float64 {
	out := make([]float64, len(y))
	for i := 1; i+1 < len(y); i++ {
		out[i] = (y[i+1] - y[i-1]) / (2 * dt)
	}
	return out
}

// accumulate forms the running integrals that the turns equation needs.
func (m *means) accumulate() {
	n := len(m.x)
	m.driven, m.airLost = make([]float64, n), make([]float64, n)
	m.leaked, m.leakedFast = make([]float64, n), make([]float64, n)
	if n == 0 {
		return
	}
	last := airLoss(m.cap, m.rod, 0)
	for i := 1; i < n; i++ {
		turn := m.angle[i] - m.angle[i-1]
		before, after := m.cap[i-1]-m.rod[i-1], m.cap[i]-m.rod[i]
		across := (before + after) / 2
		loss := airLoss(m.cap, m.rod, i)
		m.leaked[i] = m.leaked[i-1] + across*m.dt
		m.leakedFast[i] = m.leakedFast[i-1] + across*math.Abs(turn)
		m.driven[i], m.airLost[i] = m.driven[i-1], m.airLost[i-1]
		if turn*across > 0 {
			m.driven[i] += math.Abs(across) * turn
			m.airLost[i] += (loss + last) / 2 * turn
		}
		last = loss
	}
}

// airLoss returns c(p): the share of a volume of free air that the pressure
// across the pump takes away.
func airLoss(cap, rod []float64, i int) float64 {
	return math.Abs(airTerm(cap[i]) - airTerm(rod[i]))
}

// carrier returns +1 where the cap side carries throughout pieces from to to, -1
// where the rod side does, 0 otherwise or where the pieces are bad.
func (m *means) carrier(from, to int, level float64) int {
	side := 0
	for i := from; i <= to; i++ {
		if m.bad[i] {
			return 0
		}
		s := 0
		switch across := m.cap[i] - m.rod[i]; {
		case across > level:
			s = 1
		case across < -level:
			s = -1
		}
		if s == 0 || side != 0 && s != side {
			return 0
		}
		side = s
	}
	return side
}

// chamberOf returns the chamber of a side, +1 the cap side and -1 the rod side.
func chamberOf(side int) plant.Chamber {
	if side > 0 {
		return plant.Cap
	}
	return plant.Rod
}
