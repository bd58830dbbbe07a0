package twin

import "math"

// airStep and airSize span the table of (p_a/p)^(1/n) up to some 500 bar.
const (
	airStep = 0.05e5
	airSize = 10000
)

// quickAir and slowAir are computed once: a power in every step would double its cost.
var quickAir, slowAir = tabulateAir(polytropic), tabulateAir(slowIndex)

func tabulateAir(index float64) []float64 {
	t := make([]float64, airSize+2)
	for i := range t {
		t[i] = math.Pow(atmosphere/math.Max(float64(i)*airStep, 0.1*atmosphere), 1/index)
	}
	return t
}

// airRatio returns the volume of free air at absolute pressure p (Pa) over that at atmosphere.
func (m *Machine) airRatio(p float64) float64 {
	airTable := quickAir
	if m.Rough.SlowAir {
		airTable = slowAir
	}
	u := p * (1 / airStep)
	i := int(u)
	if i < 0 {
		return airTable[0]
	}
	if i >= airSize {
		return airTable[airSize]
	}
	return airTable[i] + (u-float64(i))*(airTable[i+1]-airTable[i])
}

const (
	endStiffness = 8e7  // N/m, end stops
	orificeRound = 5000 // Pa, below which the orifice law is rounded off
	lossSpeed    = 2.0  // rad/s, over which motor friction changes sign
)

// Sim is the state of one machine being simulated in steps of h (s).
type Sim struct {
	m     *Machine
	h     float64
	steps int
	drive drive

	x, v, z          float64    // piston (m), speed (m/s), bristle (m)
	p                [2]float64 // chamber pressures, cap and rod (Pa)
	port             [2]float64 // pressures at the pump ports (Pa)
	open             [2]float64 // opening of the pilot-operated checks, 0 to 1
	reservoir        float64    // Pa
	thinned          float64    // factor on leaks, by the oil's temperature
	contact          float64    // N on the work piece
	sensedX          float64
	sensedP          [2]float64
	historyX         [historyLen]float64
	historyP         [2][historyLen]float64
	areaCap, areaRod float64
	bristleK         float64 // N/m
	bristleD         float64 // N·s/m
	endDamping       float64 // N·s/m
	weight           float64
	noRipple         bool
	fixedReservoir   bool
	kickForce        float64 // N, added to the load
	contactGone      bool    // the work piece is taken away
	misread          float64 // m, added to what the transducer reads
	jammed           bool
	contactShift     float64 // m, how far it stands further along the way the rod presses
}

const historyLen = 2048

// NewSim returns the machine at rest at x (m) under its load, pressures as a
// standing load leaves them, with simulation steps of h (s).
func NewSim(m *Machine, x, h float64) *Sim {
	s := &Sim{m: m, h: h, drive: newDrive(m, h), x: x, areaCap: m.AreaCap(), areaRod: m.AreaRod()}
	s.bristleK = m.Coulomb / m.Bristle
	s.bristleD = 0.4 * math.Sqrt(s.bristleK*m.Mass)
	s.endDamping = 0.4 * math.Sqrt(endStiffness*m.Mass)
	s.weight = m.Mass * gravity * math.Sin(m.Angle)
	s.reservoir = m.reservoirPressure(x)
	s.p = [2]float64{s.reservoir, s.reservoir}
	force := -s.load() - (s.areaCap-s.areaRod)*s.reservoir
	if force > 0 {
		s.p[0] += force / s.areaCap
	} else {
		s.p[1] -= force / s.areaRod
	}
	s.port, s.sensedP, s.sensedX = s.p, s.p, x
	for i := range s.historyX {
		s.historyX[i] = x
		s.historyP[0][i], s.historyP[1][i] = s.p[0], s.p[1]
	}
	s.warm()
	s.drive.integral = s.m.Displacement * (s.p[0] - s.p[1]) / m.Inertia
	return s
}

// Time returns the simulated time (s).
func (s *Sim) Time() float64 { return float64(s.steps) * s.h }

// load returns process load and weight (N) at the present position, positive pushing the rod out.
func (s *Sim) load() float64 {
	return s.m.ProcessLoad + s.m.LoadSlope*(s.x-s.m.Stroke/2) - s.weight + s.kickForce
}

// Command gives the drive a speed command (rad/s) now.
func (s *Sim) Command(speed float64) { s.drive.command(s.Time(), speed) }

// Step advances the machine by one step. Speed is taken half a step ahead of
// pressure and position (leapfrog), which keeps the oil spring free of numerical
// damping; valves, leaks and friction are taken implicitly, so no step is too long for them.
func (s *Sim) Step() {
	m, h := s.m, s.h
	command := s.drive.held(s.Time(), h)
	dp := s.port[0] - s.port[1]
	slide := math.Max(-1, math.Min(1, s.drive.omega*(1/lossSpeed)))
	loadTorque := m.Displacement*dp + slide*(m.MotorFriction+m.PumpLoss*m.Displacement*math.Abs(dp))
	speed := s.drive.step(command, loadTorque, h)

	s.moveRod()
	s.fillChambers(speed)
	s.x += h * s.v
	if !s.fixedReservoir && s.steps&15 == 0 {
		s.reservoir = m.reservoirPressure(s.x)
	}
	s.sense()
	s.steps++
	if s.steps&1023 == 0 {
		s.warm()
	}
}

// warm sets how thin the oil is now.
func (s *Sim) warm() { s.thinned = s.m.Warmth.Thinned(s.m.Warmth.at(s.Time())) }

// moveRod advances speed and bristle over one step: LuGre friction with the
// bristle's stretch and the viscous part taken at the step's end (C. Canudas de
// Wit et al., IEEE Trans. Automatic Control 40(3), 1995, pp. 419-425; value from
// memory). The bristle gives way at the new speed, found in a second pass: at the
// old one friction would act like a mass of h·F_c/|v| beside the true one.
func (s *Sim) moveRod() {
	m, h := s.m, s.h
	force := s.areaCap*s.p[0] - s.areaRod*s.p[1] + s.load()
	force += s.contactForce()
	if s.x < 0 {
		force += -endStiffness*s.x - s.endDamping*math.Min(s.v, 0)
	} else if over := s.x - m.Stroke; over > 0 {
		force += -endStiffness*over - s.endDamping*math.Max(s.v, 0)
	}
	speed := math.Abs(s.v)
	level := m.Coulomb
	if r := speed / m.StribeckSpeed; r < 6 {
		level += (m.Static - m.Coulomb) * math.Exp(-r*r)
	}
	if m.Rough != (Roughness{}) {
		level *= s.roughen()
	}
	before, start := s.z, s.v
	var shrink float64
	for range 2 {
		shrink = 1 / (1 + h*s.bristleK*speed/level)
		k := s.bristleK + s.bristleD/h
		resist := k*before*shrink - s.bristleD/h*before
		s.v = (start + h/m.Mass*(force-resist)) / (1 + h/m.Mass*(k*h*shrink+m.Viscous))
		speed = math.Abs(s.v)
	}
	s.z = (before + h*s.v) * shrink
}

// roughen returns the factor on friction here and now.
func (s *Sim) roughen() float64 {
	r := &s.m.Rough
	f := 1 + r.SealPressure*math.Max(0, math.Max(s.p[0], s.p[1])) + r.FrictionWave*math.Sin(6*math.Pi*s.x/s.m.Stroke)
	if s.z >= 0 {
		return f * (1 + r.FrictionAside)
	}
	return f * (1 - r.FrictionAside)
}

func (s *Sim) contactForce() float64 {
	s.contact = 0
	c := s.m.Contact
	if c == nil || s.contactGone {
		return 0
	}
	depth := (s.x-c.Position)*c.Sign - s.contactShift
	if depth <= 0 {
		return 0
	}
	s.contact = math.Max(0, c.Stiffness*depth+c.Damping*s.v*c.Sign)
	return -s.contact * c.Sign
}

// fillChambers advances the pressures over one step at motor speed w (rad/s).
func (s *Sim) fillChambers(w float64) {
	m, h := s.m, s.h
	abs0, abs1 := math.Max(s.p[0]+atmosphere, 1e4), math.Max(s.p[1]+atmosphere, 1e4)
	air0, air1 := m.Air*m.airRatio(abs0), m.Air*m.airRatio(abs1)

	q := m.Displacement * w
	if !s.noRipple && m.Ripple > 0 {
		q *= 1 + m.Ripple*math.Cos(m.Teeth*s.drive.theta)
	}
	// The teeth fill at the inlet's density, so the outlet receives the volume
	// that the same oil takes at the outlet's pressure.
	room0, room1 := 1-s.p[0]/m.Modulus+air0, 1-s.p[1]/m.Modulus+air1
	q0, q1 := q, -q
	if q >= 0 {
		q0 = q * room0 / room1
	} else {
		q1 = -q * room1 / room0
	}
	cross, leak := s.cross(w)

	index := m.airIndex()
	volume0, volume1 := m.DeadCap+s.areaCap*math.Max(s.x, 0), m.DeadRod+s.areaRod*math.Max(m.Stroke-s.x, 0)
	c0 := volume0*(1/m.Modulus+air0/(index*abs0)) + m.WallCap
	c1 := volume1*(1/m.Modulus+air1/(index*abs1)) + m.WallRod
	valve0, slope0 := s.valves(0)
	valve1, slope1 := s.valves(1)
	net0 := q0 - s.areaCap*s.v - cross + valve0
	net1 := q1 + s.areaRod*s.v + cross + valve1
	s.port[0], s.port[1] = s.p[0], s.p[1]
	s.p[0] = math.Max(s.p[0]+h*net0/(c0+h*(leak+slope0)), -0.95*atmosphere)
	s.p[1] = math.Max(s.p[1]+h*net1/(c1+h*(leak+slope1)), -0.95*atmosphere)
	if m.LineLoss > 0 {
		s.port[0] = s.p[0] + m.LineLoss*q0*math.Abs(q0)
		s.port[1] = s.p[1] + m.LineLoss*q1*math.Abs(q1)
	} else {
		s.port = s.p
	}
}

// cross returns the leak (m³/s) from cap to rod side at the motor speed w (rad/s)
// and how it rises with the pressure across (m³/(s·Pa)).
func (s *Sim) cross(w float64) (flow, slope float64) {
	m := s.m
	slope = m.LeakInternal * (1 + m.LeakSpeed*math.Abs(w)/m.MaxSpeed)
	slope *= (1 + m.Rough.LeakDrift*s.Time()) * s.thinned
	dp := s.p[0] - s.p[1]
	return slope*dp + m.Rough.LeakRoot*dp/math.Sqrt(math.Abs(dp)+orificeRound), slope
}

// valves returns the flow (m³/s) into chamber i through its checks, less case
// leak and relief, and how it falls with the chamber's pressure (m³/(s·Pa)).
func (s *Sim) valves(i int) (flow, slope float64) {
	m := s.m
	p, other, pr := s.p[i], s.p[1-i], s.reservoir
	flow, slope = m.LeakCase*s.thinned*(pr-p), m.LeakCase*s.thinned
	if d := pr - m.Crack - p; d > 0 {
		flow += m.MakeUp * d
		slope += m.MakeUp
	}
	if p > m.Relief {
		flow -= m.ReliefSlope * (p - m.Relief)
		slope += m.ReliefSlope
	}
	target := ((other - pr) - (p-pr)/m.PilotRatio - m.PilotSpring) / m.PilotBand
	target = math.Max(0, math.Min(1, target))
	s.open[i] += (target - s.open[i]) * s.h / (m.PilotTime + s.h)
	if s.open[i] > 1e-4 {
		d := pr - p
		g := m.PilotGain * s.open[i] / math.Sqrt(math.Abs(d)+orificeRound)
		flow += g * d
		slope += g
	}
	return flow, slope
}

// sense advances the sensors' lags and keeps their output for delayed reading.
func (s *Sim) sense() {
	sn := &s.m.Sensors
	s.sensedX += (s.x - s.sensedX) * s.h / (sn.PositionLag + s.h)
	r := s.h / (sn.PressureLag + s.h)
	s.sensedP[0] += (s.port[0] - s.sensedP[0]) * r
	s.sensedP[1] += (s.port[1] - s.sensedP[1]) * r
	i := (s.steps + 1) & (historyLen - 1)
	s.historyX[i] = s.sensedX
	s.historyP[0][i], s.historyP[1][i] = s.sensedP[0], s.sensedP[1]
}

// back returns history's value of delay seconds ago, rounded to a step.
func (s *Sim) back(history *[historyLen]float64, delay float64) float64 {
	n := int(math.Round(delay / s.h))
	return history[(s.steps-n)&(historyLen-1)]
}
