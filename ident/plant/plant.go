package plant

import (
	"math/rand/v2"

	"eha/strokewise/ident/machine"
)

// Plant is the result of a fit: the parameters with intervals, the complete
// model built from them, the maps along the stroke and the evidence behind all of it.
type Plant struct {
	Machine machine.Machine
	Logs    []Log
	Params  map[Param]Estimate
	Model   Model
	// AreasKnown, MassKnown and PressuresSeen say whether the model's areas,
	// mass and pressures are real. Where they are not, the model is scaled to the
	// ratios and frequencies that were seen, and forces mean nothing.
	AreasKnown, MassKnown, PressuresSeen bool
	StrokeMap                            StrokeMap
	LoadMap                              LoadMap
	ChamberChange                        []float64 // m, where the chamber that carries changes along the stroke
	Evidence                             Evidence
	Seen                                 Seen
	Validation                           Validation
	SlipThinning                         SlipThinning
	// Warnings are what to know before using the result, most harmful first.
	Warnings []string
	Demo     bool // the invented demo machine
	// Changes compares with an earlier plant where this one was refitted after a
	// change; empty otherwise.
	Changes []Change
}

// SlipThinning says to which oil temperature slip belongs and by what share of itself
// it grows per kelvin about there. PerKelvin is missing where the temperature was
// not logged or hardly varied; then slip is one number.
type SlipThinning struct {
	Temperature float64  // K, mean of the logs
	PerKelvin   Estimate // 1/K
}

// Change is a parameter that an earlier and a later fit both found. Moved says
// that the interval of the difference excludes zero.
type Change struct {
	Param         Param
	Before, After Estimate
	Moved         bool
}

// Log is one recording that the fit used.
type Log struct {
	File     string
	SHA256   string
	Rows     int
	Duration float64 // s
	Period   float64 // s
}

// StrokeMap is the rod travel per motor angle along the stroke, by direction.
// All slices have one entry per position.
type StrokeMap struct {
	Position        []float64               // m
	PerTurn         PerDirection[[]float64] // m/rad
	ResidualWorst   float64                 // m, largest departure of travel from the map
	TransducerCurve []float64               // m, transducer reading less straight line
}

// LoadMap is load and friction along the stroke, one entry per position.
type LoadMap struct {
	Position  []float64               // m
	AxialLoad []float64               // N, positive pushing the rod out
	Friction  PerDirection[[]float64] // N
}

// Point is one dot of a plot, in SI units of the axes its field names.
type Point struct{ X, Y float64 }

// FrequencyResponse is a measured response with what the fitted plant gives beside it.
type FrequencyResponse struct {
	// From and To name the channels, as "speed_command" and "motor_speed".
	From, To  string
	Position  float64   // m, mean rod position while it was taken
	Chamber   Chamber   // that carried the load
	Chambers  bool      // whether Chamber is known
	Direction Direction // of travel
	Directed  bool      // whether the rod kept to Direction
	Omega     []float64 // rad/s
	Measured  []complex128
	Coherence []float64
	RelError  []float64    // standard deviation over magnitude
	Fitted    []complex128 // nil where no fit exists
}

// Quadrant says in words which chamber carried and which way the rod went, as far
// as both are known: ", cap side carries, extending".
func (f *FrequencyResponse) Quadrant() string {
	text := ""
	if f.Chambers {
		text = ", " + f.Chamber.String() + " side carries"
	}
	if f.Directed {
		text += ", " + f.Direction.String() + "ing"
	}
	return text
}

// Evidence holds what the plots draw.
type Evidence struct {
	Friction   []Point // rod speed (m/s) against friction force (N, signed as the speed)
	Slip       []Point // pressure across the pump (Pa) against motor speed lost (rad/s)
	Resonance  []Point // rod position (m) against undamped hydraulic frequency (rad/s), softest chamber
	LostMotion []Point // rod position (m) against turns lost at a reversal (rad)
	// LostMotionForce is the hydraulic force (N) at each of these, the mean of the
	// travel before and after; 0 where no pressures were logged.
	LostMotionForce []float64
	Pressing        []Point // rod position (m) against force (N) while pressing
	Responses       []FrequencyResponse
	HoldOut         []Overlay
}

// Overlay is a stretch of log that the fit did not see with what the model gives for it.
type Overlay struct {
	Channel           string  // a channel's name, or "rod_speed"
	Period            float64 // s
	Start             float64 // s on the log's clock
	Measured, Modeled []float64
}

// Seen is the range that the logs cover and the noise they carry, for the
// guards, the windows and warnings against extrapolation.
type Seen struct {
	Position   [2]float64             // m
	RodSpeed   [2]float64             // m/s, most negative and most positive
	MotorSpeed [2]float64             // rad/s
	Pressure   PerChamber[[2]float64] // Pa
	Force      [2]float64             // N, hydraulic
	PressForce [2]float64             // N, hydraulic while pressing; zero without pressing
	// CellOffset is the piston's force from pressures less the load cell's (N): that while
	// the force eases off, the middle, that while it is pressed up; zeros without a load cell.
	CellOffset   [3]float64 `json:",omitzero"`
	Accel        float64    // rad/s², largest motor acceleration
	Noise        Noise
	Resolution   Noise
	Temperature  [2]float64 // K, zero where not logged
	ClosedLoop   bool       // a position command was logged
	MismatchRate float64    // m/s, 99.9 % of encoder against transducer travel rate, slip taken out
}

// Noise is one standard deviation of each kind of measurement at rest, or its
// step of resolution; zero where unknown.
type Noise struct {
	Position   float64 // m
	Pressure   float64 // Pa
	MotorAngle float64 // rad
}

// Validation is the model's error on moves that the fit did not see.
type Validation struct {
	HeldOut         float64 // s; zero where nothing could be held out
	RodSpeed        float64 // rms error over rms variation
	CapPressure     float64
	RodPressure     float64
	StrokeFromTurns float64 // m, rms error of travel computed from turns and pressures over a move
	Verdict         string  // how far to trust this plant, one sentence
	Refinement      string  // how the fit by output error ended, one sentence
}

// Est returns the estimate of p; one that is absent is Missing.
func (p *Plant) Est(param Param) Estimate { return p.Params[param] }

// Draw returns a model drawn from the parameters' joint uncertainty: each
// estimate that bears on the loops varies as a normal with its interval,
// compliances and mass separately so that the hydraulic frequency follows from both.
func (p *Plant) Draw(rng *rand.Rand) Model {
	m := p.Model
	factor := func(param Param) float64 {
		e := p.Params[param]
		if !e.Known() || e.Value == 0 {
			return 1
		}
		f := 1 + rng.NormFloat64()*e.Sigma()/e.Value
		return min(max(f, 0.3), 3)
	}
	shift := func(param Param) float64 {
		e := p.Params[param]
		if !e.Known() {
			return 0
		}
		return rng.NormFloat64() * e.Sigma()
	}
	m.Leakage *= factor(Slip)
	coulomb := factor(CoulombFriction)
	m.Coulomb.Extend *= coulomb
	m.Coulomb.Retract *= coulomb
	m.Breakaway = max(m.Breakaway*factor(BreakawayForce), m.Coulomb.Extend, m.Coulomb.Retract)
	m.Viscous *= factor(ViscousFriction)
	m.LowResistance *= factor(HydraulicDamping)
	if p.MassKnown {
		m.Mass *= factor(MovingMass)
		m.AxialLoad += shift(AxialLoad)
		m.Oil.Cap = m.Oil.Cap.Scaled(factor(ComplianceCap))
		m.Oil.Rod = m.Oil.Rod.Scaled(factor(ComplianceRod))
	} else {
		f := factor(HydraulicFrequency)
		m.Oil.Cap = m.Oil.Cap.Scaled(1 / (f * f))
		m.Oil.Rod = m.Oil.Rod.Scaled(1 / (f * f))
	}
	m.Drive.NaturalFreq *= factor(DriveBandwidth)
	m.Drive.Damping *= factor(DriveDamping)
	m.Drive.DeadTime = max(m.Drive.DeadTime+shift(DeadTime), 0)
	m.OuterDelay = max(m.OuterDelay+shift(OuterDelay), 0)
	m.TransducerDelay = max(m.TransducerDelay+shift(TransducerDelay), 0)
	return m
}

// Scaled returns the oil with its compliance multiplied by f at every volume and pressure.
func (o Oil) Scaled(f float64) Oil {
	return Oil{Fixed: o.Fixed * f, Modulus: o.Modulus / f, Air: o.Air * f, AirVolume: o.AirVolume}
}
