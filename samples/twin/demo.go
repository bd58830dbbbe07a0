package twin

import "math"

// Demo returns the demo machine, invented like every other: the rib press of the
// imaginary boatyard at Hollowmere. An upright cylinder lifts a heavy former and
// presses strips of wood against a fixed beam. The cap side carries the weight
// both ways, the oil spring shows clearly, and the settings in use are too hot.
func Demo() *Machine {
	const cm3, rpm = 1e-6, 2 * math.Pi / 60
	m := &Machine{
		Name: "rib press, Hollowmere boatyard (invented)", Kind: Pressing, Seed: 20260,
		Bore: 0.080, RodDiameter: 0.045, Stroke: 0.320,
		DeadCap: 150 * cm3, DeadRod: 130 * cm3, LineVolume: 30 * cm3, WallCap: 2e-14, WallRod: 2e-14,
		Modulus: 1.42e9, Air: 0.008,
		Displacement: 12.4 * cm3 / (2 * math.Pi), Ripple: 0.01, Teeth: 12,
		LeakSpeed: 0.05, PumpLoss: 0.06, MotorFriction: 0.9,
		PeakTorque: 62, TorqueConstant: 1.05, MaxSpeed: 2800 * rpm,
		DriveFreq: 2 * math.Pi * 44, DriveDamping: 0.78, DeadTime: 1.2e-3,
		Crack: 0.2e5, PilotRatio: 3, PilotSpring: 1.5e5, PilotBand: 1.5e5, PilotTime: 12e-3,
		Relief: 200e5, Preload: 2.2e5, GasVolume: 3.5e-3,
		Mass: 900, Angle: math.Pi / 2, Coulomb: 1450, Static: 1850, StribeckSpeed: 3e-3, Viscous: 9500, Bristle: 14e-6,
		ControlPeriod: 1e-3, LogPeriod: 1e-3, OuterDelay: 1.6e-3,
		Contact: &Contact{Position: 0.246, Stiffness: 19e6, Damping: 6000, Sign: 1},
		Sensors: Sensors{PositionDelay: 0.4e-3, PositionLag: 0.3e-3, PositionNoise: 2e-6, PositionStep: 2e-6, PositionBow: 30e-6,
			PressureLag: 0.6e-3, PressureOffset: [2]float64{0.4e5, -0.3e5}, PressureNoise: 0.07e5, PressureStep: 0.1e5,
			CountsPerRev: 8192, CurrentNoise: 0.06, JitterSteps: 1},
	}
	m.LeakInternal = 0.010 * m.Displacement * 2 * math.Pi * 1e-5
	m.LeakCase = 0.09 * m.LeakInternal
	m.Inertia = m.PeakTorque / (m.MaxSpeed / 0.055)
	full := m.MaxSpeed * m.Displacement
	m.MakeUp, m.PilotGain = 0.45*full/0.8e5, 0.45*full/math.Sqrt(2.5e5)
	m.ReliefSlope = full / 10e5
	m.Loops = hotLoops(m, 1.5)
	return m
}

// DemoAfter returns the demo machine's log of another day, after its position loop
// was tuned: the same moves as in its log as found, under quicker settings.
func DemoAfter() *Log {
	m := Demo()
	m.Session = 1
	left := *m.Loops.Position
	left.KpExtend, left.KpRetract, left.Lowpass, left.SpeedLimit, left.Window = 19, 16.5, 12.4, 2800, 0.035
	l := AsFound(m, Loops{Format: m.Loops.Format, Position: &left, Force: m.Loops.Force})
	l.Name = "after.csv"
	return l
}

// Thin sets how many decimals each channel is written with, so that files stay
// small without losing what the sensors resolve.
func (l *Log) Thin(decimals map[string]int) {
	for i := range l.Columns {
		if d, ok := decimals[l.Columns[i].Channel]; ok {
			l.Columns[i].Decimals = d
		}
	}
}
