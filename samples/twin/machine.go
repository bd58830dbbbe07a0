// Package twin simulates electro-hydrostatic machines in more detail than the
// model that is fitted to their logs: bristle friction, air in the oil, oil
// compressed inside the pump, ripple, check and pilot-opened valves, a gas-loaded
// reservoir, a torque-limited drive, and sensors with lag, delay, offset, noise
// and steps. It makes the demo machine's logs and the machines of the ensemble,
// and it judges proposed settings under its own implementation of the control
// law. So that it can judge, it imports nothing from ident or tuning.
//
// All machines are invented; none stands for a product. Units are SI, pressures
// gauge; stroke, force and motor angle are positive when extending.
package twin

import "math"

// Machine holds every parameter of a simulated machine, in SI units.
type Machine struct {
	Name string
	Kind Kind
	Seed uint64
	// Session is which recording of the machine this is: another one has other
	// noise and other random pulses, on the same machine.
	Session uint64

	Bore, RodDiameter, Stroke float64 // m
	DeadCap, DeadRod          float64 // m³ at the piston's own end, line included
	LineVolume                float64 // m³, part of each dead volume that is line
	WallCap, WallRod          float64 // m³/Pa, give of walls and hoses
	Modulus                   float64 // Pa, oil without free air
	Air                       float64 // share of free air at atmospheric pressure
	LineLoss                  float64 // Pa/(m³/s)², between port and chamber

	Displacement   float64 // m³/rad
	Ripple         float64 // share of the flow, at tooth frequency
	Teeth          float64
	LeakInternal   float64 // m³/(s·Pa), between the ports
	LeakCase       float64 // m³/(s·Pa), each port to the reservoir
	LeakSpeed      float64 // rise of the internal leak at full speed, share
	PumpLoss       float64 // share of the pressure's torque lost in the pump
	MotorFriction  float64 // N·m
	Inertia        float64 // kg·m²
	PeakTorque     float64 // N·m
	TorqueConstant float64 // N·m/A
	MaxSpeed       float64 // rad/s
	DriveFreq      float64 // rad/s, undamped, command to speed
	DriveDamping   float64
	DeadTime       float64 // s, command to drive

	MakeUp, Crack          float64 // m³/(s·Pa) and Pa, anti-cavitation checks
	PilotGain              float64 // m³/(s·√Pa), open pilot-operated check
	PilotRatio             float64 // opening ratio
	PilotSpring, PilotBand float64 // Pa, where it starts and over what it opens
	PilotTime              float64 // s
	Relief, ReliefSlope    float64 // Pa and m³/(s·Pa)
	Preload, GasVolume     float64 // Pa gauge and m³, reservoir with the rod retracted

	Mass          float64 // kg
	Angle         float64 // rad, rod-out direction above horizontal
	ProcessLoad   float64 // N, positive pushing the rod out
	LoadSlope     float64 // N/m, change of the process load along the stroke, zero mid-stroke
	Coulomb       float64 // N
	Static        float64 // N, friction at rest
	StribeckSpeed float64 // m/s
	Viscous       float64 // N·s/m
	Bristle       float64 // m, deflection at the Coulomb force
	Contact       *Contact
	Rough         Roughness
	Warmth        Warmth

	Sensors       Sensors
	ControlPeriod float64 // s
	LogPeriod     float64 // s
	OuterDelay    float64 // s, measurement to speed command
	Loops         Loops   // settings in use when the closed-loop logs are made
}

// Contact is what the rod presses on: a one-sided spring and damper.
type Contact struct {
	Position  float64 // m
	Stiffness float64 // N/m
	Damping   float64 // N·s/m
	Sign      float64 // +1 met while extending, -1 while retracting
}

// Roughness is what real machines add and the fitted model leaves out. The zero
// value adds nothing.
type Roughness struct {
	SlowAir       bool    // air follows its pressure at nearly constant temperature
	SealPressure  float64 // rise of friction per Pa of the higher chamber pressure
	FrictionAside float64 // friction is higher by this share extending, lower retracting
	FrictionWave  float64 // change of friction along the stroke, share
	LeakRoot      float64 // leak that goes with the root of pressure, m³/s per √Pa
	LeakDrift     float64 // rise of the leak per second, share, as the oil warms
}

// Sensors describes how a machine is measured.
type Sensors struct {
	PositionDelay, PositionLag  float64    // s
	PositionNoise, PositionStep float64    // m
	PositionBow                 float64    // m, amplitude of the non-linearity along the stroke
	PressureLag                 float64    // s
	PressureOffset              [2]float64 // Pa, cap and rod
	PressureNoise, PressureStep float64    // Pa
	CountsPerRev                float64
	CurrentNoise                float64 // A
	NoPressures                 bool    // not logged
	LoadCell                    bool    // the force on the work piece is logged
	JitterSteps                 int     // largest clock jitter, in simulation steps
}

const (
	atmosphere = 101325.0
	polytropic = 1.4
	slowIndex  = 1.15
	gravity    = 9.80665
	// StepTime is the simulation step (s). Halving it changes the figures by less
	// than the sensors resolve; a test keeps it so.
	StepTime = 1e-4
)

// AreaCap returns the cap-side area (m²).
func (m *Machine) AreaCap() float64 { return math.Pi / 4 * m.Bore * m.Bore }

// AreaRod returns the rod-side area (m²).
func (m *Machine) AreaRod() float64 {
	return math.Pi / 4 * (m.Bore*m.Bore - m.RodDiameter*m.RodDiameter)
}

// AxialLoad returns the constant force along the axis (N) at mid-stroke,
// positive when it pushes the rod out.
func (m *Machine) AxialLoad() float64 {
	return m.ProcessLoad - m.Mass*gravity*math.Sin(m.Angle)
}

// WithMass returns the machine with its mass scaled by factor.
func (m *Machine) WithMass(factor float64) *Machine {
	c := *m
	c.Mass *= factor
	return &c
}

// Compliance returns dV/dp (m³/Pa) of the cap (rod: of the rod) side with the
// piston at x (m) and the chamber at gauge pressure p (Pa).
func (m *Machine) Compliance(rod bool, x, p float64) float64 {
	volume, wall := m.DeadCap+m.AreaCap()*x, m.WallCap
	if rod {
		volume, wall = m.DeadRod+m.AreaRod()*(m.Stroke-x), m.WallRod
	}
	abs := math.Max(p+atmosphere, 0.1*atmosphere)
	n := m.airIndex()
	return volume*(1/m.Modulus+m.Air*math.Pow(atmosphere/abs, 1/n)/(n*abs)) + wall
}

// reservoirPressure returns the gas-loaded reservoir's gauge pressure (Pa) with
// the piston at x (m): extending takes the rod's volume out of it.
func (m *Machine) reservoirPressure(x float64) float64 {
	ratio := m.GasVolume / (m.GasVolume + (m.AreaCap()-m.AreaRod())*x)
	return (m.Preload+atmosphere)*math.Pow(ratio, polytropic) - atmosphere
}

// airIndex is the polytropic index of free air.
func (m *Machine) airIndex() float64 {
	if m.Rough.SlowAir {
		return slowIndex
	}
	return polytropic
}

// friction returns the steady friction (N) at speed v >= 0 (m/s) without its viscous part.
func (m *Machine) friction(v float64) float64 {
	s := v / m.StribeckSpeed
	return m.Coulomb + (m.Static-m.Coulomb)*math.Exp(-s*s)
}
