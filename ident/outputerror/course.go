package outputerror

import (
	"math"

	"eha/strokewise/ident/plant"
)

const (
	longestStep = 3.4e-4 // s, of the simulation
	stepAngle   = 0.12   // largest step times the resonance (rad)
	startHalf   = 8e-3   // s, to both sides of a start's rod speed
	slowEvery   = 8      // samples over which compliances are held
	// The pilot-opened valve of the low side opens over a bar of the other side's
	// lead (common practice, no source).
	pilotFrom, pilotOver = 0.5e5, 1e5 // Pa
)

// course is a stretch made ready to be simulated: all that does not hang on the unknowns.
type course struct {
	*Stretch
	steps              int
	h                  float64   // s
	speed              []float64 // rad/s, of the motor, per step
	softCap, softRod   []float64 // m³/Pa, compliances without their fixed parts, per sample
	fixedCap, fixedRod float64   // m³/Pa
	intoCap, intoRod   []float64 // share of the pump's flow that arrives
	v0, pCap, pRod     float64   // start
	force              float64   // N, mean hydraulic force
	meanSpeed, rise    float64   // m/s, m/s², of the rod
	x, cap, rod        []float64 // the last simulation
}

func newCourse(m *plant.Model, omega float64, s *Stretch) *course {
	n := len(s.Angle)
	c := &course{Stretch: s, fixedCap: m.Oil.Cap.Fixed, fixedRod: m.Oil.Rod.Fixed}
	for _, p := range []*[]float64{&c.softCap, &c.softRod, &c.intoCap, &c.intoRod, &c.x, &c.cap, &c.rod} {
		*p = make([]float64, n)
	}
	c.steps = max(1, int(math.Ceil(s.Period/math.Min(longestStep, stepAngle/omega)-1e-9)))
	c.h = s.Period / float64(c.steps)
	c.speed = motorSpeeds(s.Angle, c.steps, c.h)
	half := max(1, int(startHalf/s.Period))
	time := float64(n-1) * s.Period
	c.v0 = slope(s.Position[:2*half+1], s.Period)
	c.meanSpeed = (s.Position[n-1] - s.Position[0]) / time
	c.rise = (slope(s.Position[n-2*half-1:], s.Period) - c.v0) / time
	c.pressures(m)
	return c
}

// pressures sets what follows from the pressures as logged, or without them
// from those that the model has in steady travel.
func (c *course) pressures(m *plant.Model) {
	at := func(i int) (float64, float64) {
		from, to := max(i-slowEvery/2, 0), min(i+slowEvery/2+1, len(c.Cap))
		return mean(c.Cap[from:to]), mean(c.Rod[from:to])
	}
	if c.Cap == nil {
		force := m.SteadyForce(c.meanSpeed, 1)
		carrier := m.Carrier(force)
		p := plant.PerChamber[float64]{Cap: m.LowPressure, Rod: m.LowPressure}
		p.Set(carrier, m.PressureFor(carrier, force))
		at = func(int) (float64, float64) { return p.Cap, p.Rod }
		c.force = m.Force(p.Cap, p.Rod)
	} else {
		c.force = m.Force(mean(c.Cap), mean(c.Rod))
	}
	c.pCap, c.pRod = at(0)
	for i := range c.Position {
		if i%slowEvery != 0 {
			c.softCap[i], c.softRod[i], c.intoCap[i], c.intoRod[i] = c.softCap[i-1], c.softRod[i-1], c.intoCap[i-1], c.intoRod[i-1]
			continue
		}
		pCap, pRod := at(i)
		c.softCap[i] = m.Compliance(plant.Cap, c.Position[i], pCap) - c.fixedCap
		c.softRod[i] = m.Compliance(plant.Rod, c.Position[i], pRod) - c.fixedRod
		c.intoCap[i], c.intoRod[i] = 1, 1
		lost := m.PumpLoss(c.meanSpeed, pCap, pRod)
		if pCap > pRod {
			c.intoCap[i] -= lost
		} else {
			c.intoRod[i] -= lost
		}
	}
}

// run simulates the course on the machine, started aside by dv (m/s) and by dp
// (Pa) in the chamber that carries:
//
//	m·v' = p_cap·A_cap - p_rod·A_rod - b·v + F,  C·p' = flow of the pump, the rod, leakage and valve
//
// F is what keeps the mean balance of the logged forces. Speed and pressures
// leapfrog, which keeps the oil spring free of numerical damping; a pressure
// falls towards where valve and leakage draw it by 1/(1+z+z²/2) a step, z being
// the step over its time constant: that is e^(-z) to second order and decays for any z.
func (c *course) run(m *machine, dv, dp float64) {
	force := -c.force + m.viscous*c.meanSpeed + m.mass*c.rise
	v, pCap, pRod, x := c.v0+dv, c.pCap, c.pRod, 0.0
	if pCap > pRod {
		pCap += dp
	} else {
		pRod += dp
	}
	push := c.h / m.mass
	slow := 1 / (1 + push*m.viscous)
	for i := range c.x {
		c.x[i], c.cap[i], c.rod[i] = x, pCap, pRod
		if i+1 == len(c.x) {
			break
		}
		hCap, hRod := c.h/(m.scale.Cap*(m.dead*c.fixedCap+c.softCap[i])), c.h/(m.scale.Rod*(m.dead*c.fixedRod+c.softRod[i]))
		for _, n := range c.speed[i*c.steps : (i+1)*c.steps] {
			flow := m.displacement * n
			v = (v + push*(m.area.Cap*pCap-m.area.Rod*pRod+force)) * slow
			x += c.h * v
			gCap, gRod := m.valve(pCap, pRod), m.valve(pRod, pCap)
			zCap, zRod := hCap*(gCap+m.leakage), hRod*(gRod+m.leakage)
			leak := m.leakage * (pCap - pRod)
			pCap += hCap * (flow*c.intoCap[i] - m.area.Cap*v + gCap*(m.low-pCap) - leak) * (1 + zCap/2) / (1 + zCap + zCap*zCap/2)
			pRod += hRod * (m.area.Rod*v - flow*c.intoRod[i] + gRod*(m.low-pRod) + leak) * (1 + zRod/2) / (1 + zRod + zRod*zRod/2)
		}
	}
}

// valve returns flow over pressure (m³/(s·Pa)) of what joins a side at pressure
// p to the reservoir while the other is at pressure other.
func (m *machine) valve(p, other float64) float64 {
	open := 1.0
	if p >= m.low {
		if open = (other - p - pilotFrom) / pilotOver; open <= 0 {
			return 0
		}
	}
	return math.Min(open, 1) * m.gain / math.Sqrt(math.Abs(p-m.low)+laminar)
}

// motorSpeeds returns the mean motor speed (rad/s) over each of steps parts of
// every period, by cubics through the logged angles (Catmull and Rom, tangents
// from the neighbours): straight lines between samples of a slow log would take
// the resonance's share of the excitation away.
func motorSpeeds(angle []float64, steps int, h float64) []float64 {
	n := len(angle)
	out := make([]float64, (n-1)*steps)
	tangent := func(i int) float64 {
		a, b := max(i-1, 0), min(i+1, n-1)
		return (angle[b] - angle[a]) / float64(b-a)
	}
	for i := range n - 1 {
		rise, t0, t1 := angle[i+1]-angle[i], tangent(i), tangent(i+1)
		at := func(s float64) float64 { return s * (t0 + s*(3*rise-2*t0-t1+s*(t0+t1-2*rise))) }
		for k := range steps {
			out[i*steps+k] = (at(float64(k+1)/float64(steps)) - at(float64(k)/float64(steps))) / h
		}
	}
	return out
}

// slope returns the slope of the straight line through y at the given period.
func slope(y []float64, period float64) float64 {
	mid := float64(len(y)-1) / 2
	var sxy, sxx float64
	for i, v := range y {
		d := float64(i) - mid
		sxy, sxx = sxy+d*v, sxx+d*d
	}
	return sxy / sxx / period
}

func mean(y []float64) float64 {
	sum := 0.0
	for _, v := range y {
		sum += v
	}
	return sum / float64(len(y))
}
