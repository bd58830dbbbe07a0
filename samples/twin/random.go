package twin

import (
	"fmt"
	"math"
	"math/rand/v2"
)

// cylinders are bore and rod diameters (mm) in common use (metric series of ISO
// 3320, pairings from memory).
var cylinders = [][2]float64{{32, 18}, {40, 18}, {40, 22}, {40, 28}, {50, 22}, {50, 28}, {50, 32}, {50, 36},
	{63, 28}, {63, 36}, {63, 40}, {63, 45}, {80, 36}, {80, 45}, {80, 50}, {100, 45}, {100, 56}, {100, 63}}

// WorkingPressure is the design pressure (Pa) of every random machine.
const WorkingPressure = 160e5

// draw helps to pick parameters.
type draw struct{ *rand.Rand }

func (d draw) between(low, high float64) float64 { return low + (high-low)*d.Float64() }

// ratio picks evenly in the logarithm.
func (d draw) ratio(low, high float64) float64 { return low * math.Pow(high/low, d.Float64()) }

// Random returns the machine of that kind and seed. The same arguments always
// give the same machine.
func Random(kind Kind, seed uint64) *Machine {
	d := draw{rand.New(rand.NewPCG(seed, uint64(kind)+1))}
	m := &Machine{Kind: kind, Seed: seed, Name: fmt.Sprintf("invented machine %s-%d", kind, seed)}
	m.pickCylinder(d)
	m.pickPump(d)
	m.pickLoad(d)
	m.pickDrive(d)
	m.pickValves(d)
	m.pickSensors(d)
	if kind == Pressing {
		m.pickContact(d)
	}
	if kind == Rough {
		m.roughen(d)
	}
	if kind == Warming {
		m.warm(d)
	}
	m.Loops = HotLoops(m)
	return m
}

func (m *Machine) pickCylinder(d draw) {
	size := cylinders[d.IntN(len(cylinders))]
	if m.Kind == Tiny {
		size = cylinders[d.IntN(4)]
	}
	m.Bore, m.RodDiameter = size[0]*1e-3, size[1]*1e-3
	m.Stroke = math.Round(d.between(3, 6.5)*size[0]/10) * 10e-3
	dead := d.between(0.04, 0.12) * m.AreaCap() * m.Stroke
	m.LineVolume = d.between(10e-6, 40e-6)
	hose := d.between(0.2, 1) * 1e-15 // walls of a block hardly give
	if m.Kind == Remote {
		m.LineVolume = d.ratio(120e-6, 450e-6)
		hose = d.between(3, 9) * 1e-10 * m.LineVolume
		m.LineLoss = d.between(0.5e5, 3e5)
	}
	m.DeadCap = dead + m.LineVolume
	m.DeadRod = dead*d.between(0.7, 1.1) + m.LineVolume
	m.WallCap, m.WallRod = hose, hose*d.between(0.9, 1.1)
	m.Modulus = d.between(1.25e9, 1.65e9)
	m.Air = d.ratio(0.004, 0.02)
}

func (m *Machine) pickPump(d draw) {
	m.MaxSpeed = math.Round(d.between(2000, 3600)/100) * 100 * 2 * math.Pi / 60
	speed := d.ratio(0.09, 0.25)
	cm3 := speed * m.AreaCap() / (m.MaxSpeed / (2 * math.Pi)) * 1e6
	cm3 = math.Max(2, math.Min(20, math.Round(cm3*10)/10))
	m.Displacement = cm3 * 1e-6 / (2 * math.Pi)
	// The true displacement differs from the nameplate's a little; the truth is
	// what the machine has.
	m.Displacement *= 1 + d.between(-0.01, 0.01)
	m.Teeth = float64(9 + d.IntN(6))
	m.Ripple = d.between(0.005, 0.02)
	full := m.MaxSpeed * m.Displacement
	slipAt100bar := d.ratio(0.008, 0.045) * full
	share := d.between(0.05, 0.15)
	m.LeakInternal = slipAt100bar * (1 - share) / 100e5
	m.LeakCase = slipAt100bar * share / 100e5
	m.LeakSpeed = d.between(0, 0.08)
	m.PumpLoss = d.between(0.03, 0.10)
	if m.LineLoss > 0 { // drawn as the loss (Pa) at full flow
		m.LineLoss /= full * full
	}
}

// pickLoad draws load, friction, and a mass that puts the resonance where
// machines have it.
func (m *Machine) pickLoad(d draw) {
	capForce, rodForce := WorkingPressure*m.AreaCap(), WorkingPressure*m.AreaRod()
	m.Coulomb = d.ratio(0.012, 0.04) * capForce
	m.Static = m.Coulomb * d.between(1.05, 1.5)
	m.StribeckSpeed = d.ratio(1.5e-3, 6e-3)
	m.Bristle = d.between(8e-6, 20e-6)
	axial := -d.between(0.12, 0.4) * capForce
	freq := d.ratio(9, 35)
	switch m.Kind {
	case Overrunning:
		axial = d.between(0.12, 0.4) * rodForce
	case Swap:
		axial = d.between(-0.25, 0.25) * m.Coulomb
	case Vertical:
		axial = 0
	case Heavy:
		freq = d.ratio(6, 10)
		axial = d.between(0.06, 0.25) * capForce
		if d.Float64() < 0.6 {
			axial = -axial
		}
	case Tiny:
		freq = d.ratio(30, 60)
	case Remote, SlowLog, Noisy, NoPressures, Rough:
		if d.Float64() < 0.35 {
			axial = d.between(0.12, 0.35) * rodForce
		}
	case Pressing:
		axial = -math.Max(d.between(0.04, 0.14)*capForce, 1.4*m.Static)
	}
	m.GasVolume = 1 // the reservoir's own pressure does not matter here
	carrying, x, rod := axial, m.Stroke, false
	if axial > 0 {
		x, rod = 0, true
	}
	pressure := math.Max(math.Abs(carrying), 1.5*m.Coulomb) / m.AreaCap()
	area := m.AreaCap()
	if rod {
		area = m.AreaRod()
	}
	stiffness := area * area / m.Compliance(rod, x, pressure)
	omega := 2 * math.Pi * freq
	m.Mass = stiffness / (omega * omega)
	if m.Kind == Vertical {
		m.standWeight(d, capForce, rodForce)
	} else {
		m.ProcessLoad = axial
	}
	m.Mass = roundTo(m.Mass, 2)
	m.slopeLoad()
	omega = math.Sqrt(stiffness / m.Mass)
	fullSpeed := m.MaxSpeed * m.Displacement / m.AreaCap()
	m.Viscous = math.Min(2*m.Mass*omega*d.between(0.02, 0.09), 2.5*m.Coulomb/fullSpeed)
}

// standWeight turns the axis upright, rod up or down, and bounds the mass so
// that its weight stays between an eighth and two fifths of what the cylinder holds.
func (m *Machine) standWeight(d draw, capForce, rodForce float64) {
	holds := capForce
	m.Angle = math.Pi / 2
	if d.Float64() < 0.4 {
		m.Angle, holds = -math.Pi/2, rodForce
	}
	m.Mass = math.Max(0.12*holds/gravity, math.Min(m.Mass, 0.4*holds/gravity))
}

// slopeLoad makes the process load of every fourth machine vary along the
// stroke, by up to a quarter of it between the ends.
func (m *Machine) slopeLoad() {
	d := draw{rand.New(rand.NewPCG(m.Seed, 4242))}
	if m.Seed%4 == 3 && m.Kind != Swap {
		m.LoadSlope = d.between(-0.25, 0.25) * m.ProcessLoad / m.Stroke
	}
}

// roundTo keeps n significant digits.
func roundTo(v float64, n int) float64 {
	scale := math.Pow(10, float64(n)-1-math.Floor(math.Log10(math.Abs(v))))
	return math.Round(v*scale) / scale
}

func (m *Machine) pickDrive(d draw) {
	m.PeakTorque = d.between(1.6, 2.2) * m.Displacement * WorkingPressure
	m.Inertia = m.PeakTorque / (m.MaxSpeed / d.between(0.035, 0.08))
	m.TorqueConstant = d.between(0.7, 1.3)
	m.MotorFriction = d.between(0.01, 0.03) * m.PeakTorque
	m.DriveFreq = 2 * math.Pi * d.ratio(25, 80)
	m.DriveDamping = d.between(0.6, 1)
	m.DeadTime = d.between(0.5e-3, 2.5e-3)
	m.ControlPeriod, m.LogPeriod = 1e-3, 1e-3
	switch d.IntN(4) {
	case 0:
		m.ControlPeriod, m.LogPeriod = 2e-3, 2e-3
	case 1:
		m.ControlPeriod = 2e-3
	}
	if m.Kind == SlowLog {
		m.LogPeriod = []float64{2e-3, 4e-3}[d.IntN(2)]
		m.ControlPeriod = []float64{1e-3, 2e-3}[d.IntN(2)]
	}
	m.OuterDelay = math.Round(d.between(0.5, 2.5)*m.ControlPeriod/StepTime) * StepTime
}

func (m *Machine) pickValves(d draw) {
	surplus := (m.AreaCap() - m.AreaRod()) * m.MaxSpeed * m.Displacement / m.AreaRod()
	m.Crack = d.between(0.1e5, 0.4e5)
	m.MakeUp = surplus / d.between(0.5e5, 1.2e5)
	m.PilotGain = surplus / math.Sqrt(d.between(1e5, 4e5))
	m.PilotRatio = d.between(2.5, 4)
	m.PilotSpring = d.between(0.8e5, 2.5e5)
	m.PilotBand = d.between(1e5, 2.5e5)
	m.PilotTime = d.between(5e-3, 25e-3)
	m.Relief = 200e5
	m.ReliefSlope = m.MaxSpeed * m.Displacement / 10e5
	m.Preload = d.between(1.2e5, 3e5)
	m.GasVolume = d.between(4, 10) * (m.AreaCap() - m.AreaRod()) * m.Stroke
}

func (m *Machine) pickSensors(d draw) {
	m.Sensors = Sensors{
		PositionDelay: math.Round(d.between(0, 1.5)*10) * 1e-4, PositionLag: d.between(0.1e-3, 0.8e-3),
		PositionNoise: d.ratio(0.8e-6, 4e-6), PositionStep: []float64{1e-6, 2e-6, 5e-6}[d.IntN(3)],
		PositionBow: d.between(0, 0.0003) * m.Stroke,
		PressureLag: d.between(0.2e-3, 1.2e-3), PressureOffset: [2]float64{d.NormFloat64() * 0.5e5, d.NormFloat64() * 0.5e5},
		PressureNoise: d.between(0.04e5, 0.12e5), PressureStep: d.between(0.02e5, 0.1e5),
		CountsPerRev: []float64{4096, 16384, 65536, 131072}[d.IntN(4)], CurrentNoise: 0.05,
	}
	for i, o := range m.Sensors.PressureOffset {
		m.Sensors.PressureOffset[i] = math.Max(-1.5e5, math.Min(1.5e5, o))
	}
	if m.Kind == Noisy {
		m.Sensors.PositionNoise = d.between(8e-6, 25e-6)
		m.Sensors.PositionStep = 20e-6
		m.Sensors.PressureNoise = d.between(0.3e5, 0.8e5)
		m.Sensors.PressureStep = 0.25e5
		m.Sensors.JitterSteps = 1
	}
	m.Sensors.NoPressures = m.Kind == NoPressures
}

// roughen adds what the fitted model does not know.
func (m *Machine) roughen(d draw) {
	m.Rough = Roughness{
		SlowAir: true, SealPressure: d.between(0, 0.3) / 100e5, FrictionAside: d.between(-0.1, 0.1),
		FrictionWave: d.between(0, 0.1), LeakRoot: d.between(0, 0.15) * m.LeakInternal * math.Sqrt(50e5),
		LeakDrift: d.between(-0.1, 0.3) / 200,
	}
	m.Sensors.PositionBow *= 1.5
}

func (m *Machine) pickContact(d draw) {
	stiffness := d.ratio(5e6, 40e6)
	m.Contact = &Contact{
		Position: math.Round(d.between(0.7, 0.88)*m.Stroke*1e3) * 1e-3, Stiffness: stiffness,
		Damping: 0.05 * math.Sqrt(stiffness*m.Mass), Sign: 1,
	}
}

// ForceLimit returns the largest pressing force (N) the machine file allows, pulling
// where the work piece is met while retracting.
func (m *Machine) ForceLimit() float64 {
	return math.Round(0.7*WorkingPressure*m.pressingArea()/1e3) * 1e3
}

// pressingArea is the area (m²) whose pressure presses.
func (m *Machine) pressingArea() float64 {
	if m.Contact != nil && m.Contact.Sign < 0 {
		return m.AreaRod()
	}
	return m.AreaCap()
}

// Touching returns the machine with a work piece at the far end of its stroke,
// met while extending; one that has a work piece is returned as it is.
func Touching(m *Machine) *Machine {
	if m.Contact != nil {
		return m
	}
	p := *m
	p.pickContact(draw{rand.New(rand.NewPCG(m.Seed, 7171))})
	p.Loops = HotLoops(&p)
	return &p
}

// Clear returns the machine with nothing to press on.
func Clear(m *Machine) *Machine {
	p := *m
	p.Contact, p.Loops.Force = nil, nil
	return &p
}

// Pulling returns the counterpart of a machine that presses while extending: the
// work piece at the other end of the stroke, met while retracting, and a load that
// pulls the rod out. It panics on a machine that presses on nothing.
func Pulling(m *Machine) *Machine {
	p, c := *m, *m.Contact
	c.Position, c.Sign = m.Stroke-c.Position, -c.Sign
	p.Contact, p.Name = &c, m.Name+", pulling"
	p.ProcessLoad = math.Max(-m.ProcessLoad*m.AreaRod()/m.AreaCap(), 1.4*m.Static)
	p.LoadSlope = -m.LoadSlope * m.AreaRod() / m.AreaCap()
	p.Loops = HotLoops(&p)
	return &p
}
