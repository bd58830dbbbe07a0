package twin

import (
	"math"
	"math/cmplx"
)

// Plant is the machine linearised about slow steady travel at one place, as its
// own simulation step does it: no formula of the compact model enters.
type Plant struct {
	m       *Machine
	h       float64
	a       [numStates][numStates]float64
	b       [numStates]float64
	steady  bool                    // slow travel is
	carrier string                  // chamber that carries the load, "cap" or "rod"
	cache   map[float64][]responses // by controller period, on gridHz
}

const numStates = 14

func (s *Sim) states() [numStates]*float64 {
	return [numStates]*float64{&s.drive.integral, &s.drive.omega, &s.x, &s.v, &s.z, &s.p[0], &s.p[1],
		&s.open[0], &s.open[1], &s.sensedX, &s.sensedP[0], &s.sensedP[1], &s.port[0], &s.port[1]}
}

// nudges are the steps of the numerical derivative, in each state's unit.
var nudges = [numStates]float64{0.1, 1e-3, 1e-8, 1e-6, 1e-9, 10, 10, 1e-4, 1e-4, 1e-8, 10, 10, 10, 10}

const (
	stateSpeed = 1
	stateX     = 9
	stateCap   = 10
	stateRod   = 11
)

// slowShare is the share of full speed at which machines are linearised, fastestShare
// the highest tried where they do not travel steadily at that.
const (
	slowShare    = 0.06
	fastestShare = 0.24
)

// How long slow travel goes on (s) before it is looked at, how long at most, and over
// how long its speed has to stay within steadyBand of its mean to count as steady.
const (
	leastTravel = 2.0
	mostTravel  = 16.0
	steadyTime  = 0.5
	steadyBand  = 0.02
)

// newTravel starts the machine at x (m) with a constant motor speed (rad/s), without
// what would keep it from travelling steadily.
func newTravel(m *Machine, x, speed float64) *Sim {
	s := NewSim(m, math.Max(0.005*m.Stroke, math.Min(0.995*m.Stroke, x)), StepTime)
	s.noRipple, s.fixedReservoir, s.contactGone = true, true, true
	s.Command(speed)
	return s
}

// travelAt returns the machine in travel through x (m) at a share of full speed in
// the direction of sign, and whether that is steady. The rod travels on the spot, x is put back after every
// step, so that a light resonance has the time to die down that no stroke would give it.
func travelAt(m *Machine, x, sign, share float64) (s *Sim, steady bool) {
	s = newTravel(m, x, sign*share*m.MaxSpeed)
	for s.Time() < mostTravel && !steady {
		low, high := math.Inf(1), math.Inf(-1)
		for range int(steadyTime / s.h) {
			s.Step()
			s.x = x
			low, high = math.Min(low, s.v), math.Max(high, s.v)
		}
		steady = s.Time() > leastTravel && high-low < steadyBand*math.Abs(high+low)
	}
	return s, steady
}

// Linearise returns the machine's linearisation in slow steady travel through x
// (m), extending (sign +1) or retracting (-1). Where the rod sticks and slips at that
// speed it is that of the slowest of faster travel, by factors of two, that is steady.
func Linearise(m *Machine, x, sign float64) *Plant {
	s, steady := travelAt(m, x, sign, slowShare)
	share := slowShare
	for smooth := steady; !smooth && share < fastestShare; {
		share *= 2
		s, smooth = travelAt(m, x, sign, share)
	}
	p := linearise(s, sign*share*m.MaxSpeed)
	p.carrier, p.steady = s.carries(), steady
	return p
}

// LineariseAt returns the linearisation in travel at a share of full speed.
func LineariseAt(m *Machine, x, sign, share float64) *Plant {
	s, steady := travelAt(m, x, sign, share)
	p := linearise(s, sign*share*m.MaxSpeed)
	p.carrier, p.steady = s.carries(), steady
	return p
}

// linearisePressed does it at rest on the contact at the hydraulic force (N), with
// the rod sliding slowly against it.
func linearisePressed(m *Machine, force float64) *Plant {
	s := NewSim(m, m.Contact.Position-m.Contact.Sign*1e-4, StepTime)
	s.noRipple, s.fixedReservoir = true, true
	speed := m.Contact.Sign * 0.01 * m.MaxSpeed
	s.Command(speed)
	const patience = 60000 // steps, after which slip is what keeps the rod from the force
	for i := 0; i < 2*patience && (s.p[0]*s.areaCap-s.p[1]*s.areaRod-force)*m.Contact.Sign < 0; i++ {
		if i == patience {
			speed += m.slip() * force / m.pressingArea()
			s.Command(speed)
		}
		s.Step()
	}
	return linearise(s, speed)
}

func linearise(s *Sim, speed float64) *Plant {
	p := &Plant{m: s.m, h: s.h}
	s.drive.hold, s.drive.pending = speed, nil
	after := func(change func(*Sim)) [numStates]float64 {
		c := *s
		change(&c)
		c.Step()
		var out [numStates]float64
		for i, v := range c.states() {
			out[i] = *v
		}
		return out
	}
	for j := range numStates {
		up := after(func(c *Sim) { *c.states()[j] += nudges[j] })
		down := after(func(c *Sim) { *c.states()[j] -= nudges[j] })
		for i := range up {
			p.a[i][j] = (up[i] - down[i]) / (2 * nudges[j])
		}
	}
	const du = 0.01
	up := after(func(c *Sim) { c.drive.hold += du })
	down := after(func(c *Sim) { c.drive.hold -= du })
	for i := range up {
		p.b[i] = (up[i] - down[i]) / (2 * du)
	}
	return p
}

// Response returns the responses from speed command (rad/s) to the measured
// position (m) and to both measured pressures (Pa) at omega (rad/s), with the
// command held over period (s) and every delay up to the controller's input.
func (p *Plant) Response(omega, period float64) (x, pCap, pRod complex128) {
	z := cmplx.Exp(complex(0, omega*p.h))
	y := p.solve(z)
	n := math.Round(period / p.h)
	hold := complex(1, 0)
	if n > 1 {
		hold = (1 - cmplx.Pow(z, complex(-n, 0))) / ((1 - 1/z) * complex(n, 0))
	}
	late := func(t float64) complex128 { return hold * cmplx.Exp(complex(0, -omega*t)) }
	m := p.m
	base := m.DeadTime + m.OuterDelay
	return y[stateX] * late(base+m.Sensors.PositionDelay), y[stateCap] * late(base), y[stateRod] * late(base)
}

// FromMotor returns the responses from motor angle (rad) to the logged position (m)
// and to both logged pressures (Pa) at omega (rad/s).
func (p *Plant) FromMotor(omega float64) (x, pCap, pRod complex128) {
	y := p.solve(cmplx.Exp(complex(0, omega*p.h)))
	angle := y[stateSpeed] / complex(0, omega)
	return y[stateX] / angle * cmplx.Exp(complex(0, -omega*p.m.Sensors.PositionDelay)), y[stateCap] / angle, y[stateRod] / angle
}

// responses are those of Response at one frequency.
type responses struct{ x, pCap, pRod complex128 }

// onGrid returns the responses on gridHz(period); they are kept, because a search
// asks for them again and again.
func (p *Plant) onGrid(period float64) []responses {
	if r, ok := p.cache[period]; ok {
		return r
	}
	freqs := gridHz(period)
	all := make([]responses, len(freqs))
	for i, f := range freqs {
		all[i].x, all[i].pCap, all[i].pRod = p.Response(2*math.Pi*f, period)
	}
	if p.cache == nil {
		p.cache = map[float64][]responses{}
	}
	p.cache[period] = all
	return all
}

// solve returns (zI - A)⁻¹ B by elimination with pivoting.
func (p *Plant) solve(z complex128) [numStates]complex128 {
	var w [numStates][numStates + 1]complex128
	for i := range w {
		for j := range numStates {
			w[i][j] = complex(-p.a[i][j], 0)
		}
		w[i][i] += z
		w[i][numStates] = complex(p.b[i], 0)
	}
	for k := range numStates {
		pivot := k
		for i := k + 1; i < numStates; i++ {
			if cmplx.Abs(w[i][k]) > cmplx.Abs(w[pivot][k]) {
				pivot = i
			}
		}
		w[k], w[pivot] = w[pivot], w[k]
		for i := k + 1; i < numStates; i++ {
			f := w[i][k] / w[k][k]
			if f == 0 {
				continue
			}
			for j := k; j <= numStates; j++ {
				w[i][j] -= f * w[k][j]
			}
		}
	}
	var y [numStates]complex128
	for i := numStates - 1; i >= 0; i-- {
		sum := w[i][numStates]
		for j := i + 1; j < numStates; j++ {
			sum -= w[i][j] * y[j]
		}
		y[i] = sum / w[i][i]
	}
	return y
}

// Carries returns the chamber, "cap" or "rod", that carries the load in slow
// travel through x (m) in the direction of sign.
func Carries(m *Machine, x, sign float64) string {
	s, _ := travelAt(m, x, sign, slowShare)
	return s.carries()
}

// carries returns the chamber that carries the load now.
func (s *Sim) carries() string {
	if s.areaCap*s.p[0]-s.areaRod*s.p[1] < (s.areaCap-s.areaRod)*s.reservoir {
		return "rod"
	}
	return "cap"
}
