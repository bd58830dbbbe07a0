package plant

import (
	"math"
	"math/rand/v2"
	"strings"
	"testing"
)

// near fails if got is off want by more than the relative tolerance.
func near(t *testing.T, what string, got, want, tolerance float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tolerance*math.Abs(want)) {
		t.Errorf("%s: got %.7g, want %.7g within %g", what, got, want, tolerance)
	}
}

// worked is the single-rod cylinder D63/d36 with 200 mm stroke, 50 cm³ dead
// volume a side, oil of 1.0 GPa and 500 kg.
func worked() Model {
	const dead, modulus = 50e-6, 1.0e9
	oil := Oil{Fixed: dead / modulus, Modulus: modulus}
	return Model{
		Area: PerChamber[float64]{Cap: math.Pi / 4 * 0.063 * 0.063, Rod: math.Pi / 4 * (0.063*0.063 - 0.036*0.036)}, Stroke: 0.2,
		Displacement: 10e-6 / (2 * math.Pi), Oil: PerChamber[Oil]{Cap: oil, Rod: oil}, Mass: 500,
		Drive: Drive{NaturalFreq: 300, Damping: 0.7}, ControllerPeriod: 1e-3,
	}
}

// The frequencies were computed independently with NumPy for this worked case;
// the formula is that of H. E. Merritt, Hydraulic Control Systems, 1967 (value from memory).
func TestResonanceOfWorkedCase(t *testing.T) {
	m := worked()
	for _, c := range []struct{ mm, capHz, rodHz float64 }{
		{0, 99.225, 21.799}, {50, 48.901, 24.736}, {100, 36.891, 29.308}, {150, 30.840, 37.958}, {200, 27.037, 66.825},
	} {
		near(t, "cap side", m.Resonance(Cap, c.mm*1e-3, 5e6, 1).NaturalFreq/(2*math.Pi), c.capHz, 1e-4)
		near(t, "rod side", m.Resonance(Rod, c.mm*1e-3, 5e6, 1).NaturalFreq/(2*math.Pi), c.rodHz, 1e-4)
	}
	// Four times the mass halves the frequency.
	near(t, "four times the mass", m.Resonance(Cap, 0.1, 5e6, 4).NaturalFreq, m.Resonance(Cap, 0.1, 5e6, 1).NaturalFreq/2, 1e-12)
}

// Eigenvalues of one active chamber, computed independently with NumPy: 1 GPa,
// 20 cm², 400 cm³, 500 kg, leakage 2e-12 m³/(s·Pa), friction 2000 N·s/m give
// 141.49205 rad/s and a damping ratio of 0.0318039. The eigenvalue holds leakage times
// friction too, by the factor 1+bL/A².
func TestResonanceDamping(t *testing.T) {
	m := Model{Area: PerChamber[float64]{Cap: 2e-3, Rod: 1e-3}, Stroke: 1, Mass: 500, Viscous: 2000, Leakage: 2e-12,
		Oil: PerChamber[Oil]{Cap: Oil{Fixed: 4e-4 / 1e9, Modulus: 1e9}}}
	r := m.Resonance(Cap, 0, 0, 1)
	both := math.Sqrt(1 + 2000*2e-12/(2e-3*2e-3))
	near(t, "frequency", r.NaturalFreq*both, 141.49205, 1e-6)
	near(t, "damping", r.Damping/both, 0.0318039, 1e-5)
	// The valve of the low side adds A_low²·R/(2mω).
	m.LowResistance = 1e9
	near(t, "with the low side's valve", m.Resonance(Cap, 0, 0, 1).Damping-r.Damping, 1e-6*1e9/(2*500*r.NaturalFreq), 1e-9)
}

// A published aerospace actuator: 686 MPa, 7045 mm², 0.376 L, 30 kg give 276.51 Hz
// (Li, Shang, Jiao et al., Chin. J. Aeronautics 31(12), 2018, pp. 2312-2320, parameters second hand).
func TestResonanceOfPublishedActuator(t *testing.T) {
	m := Model{Area: PerChamber[float64]{Cap: 7045e-6}, Stroke: 1, Mass: 30, Oil: PerChamber[Oil]{Cap: Oil{Fixed: 0.376e-3 / 686e6, Modulus: 686e6}}}
	near(t, "frequency (Hz)", m.Resonance(Cap, 0, 0, 1).NaturalFreq/(2*math.Pi), 276.51, 1e-4)
}

// 10 cm³ a turn move the D63/d36 rod by 1/0.311725 mm on the cap side and by
// 1/0.209937 mm on the rod side (computed from the areas of ISO 3320 pairings, value from memory).
func TestStrokePerTurn(t *testing.T) {
	m := worked()
	near(t, "cap side (rev/mm)", 1/(m.StrokePerTurn(Cap)*2*math.Pi*1e3), 0.311725, 1e-5)
	near(t, "rod side (rev/mm)", 1/(m.StrokePerTurn(Rod)*2*math.Pi*1e3), 0.209937, 1e-5)
	// 200 bar on 10 cm³ a turn ask for 31.8310 N·m without losses (handbook formula D·Δp/2π).
	near(t, "torque (N·m)", m.Displacement*200e5, 31.8310, 1e-5)
}

// The effective modulus of oil of 1.6 GPa with free air, in MPa at bar gauge: a
// form common in the literature (survey: Gholizadeh, Burton and Schoenau, Int. J.
// Fluid Power 12(3), 2011, title only), tabulated independently. The table counts the
// air's own volume in V, ours does not: hence the factor 1+αr.
func TestOilWithAir(t *testing.T) {
	bars := []float64{2, 5, 10, 20, 50, 100, 200}
	for air, row := range map[float64][]float64{
		0.001: {584, 1044, 1346, 1506, 1579, 1593, 1598},
		0.005: {165, 437, 824, 1220, 1498, 1567, 1590},
		0.01:  {87, 254, 555, 987, 1409, 1536, 1580},
		0.02:  {45, 138, 336, 714, 1259, 1476, 1560},
		0.05:  {19, 59, 155, 391, 954, 1323, 1504},
	} {
		o := Oil{Modulus: 1.6e9, Air: air}
		for i, want := range row {
			p := bars[i] * 1e5
			r := math.Pow(AtmosphericPressure/(p+AtmosphericPressure), 1/PolytropicIndex)
			got := 1 / o.Compliance(1, p) * (1 + air*r) / 1e6
			if math.Abs(got-want) > 0.51 { // the table is rounded to 1 MPa
				t.Errorf("%.1f %% air at %g bar: %.1f MPa, want %g", 100*air, bars[i], got, want)
			}
		}
	}
	if c := (Oil{Modulus: 1.6e9, Air: 0.01}).Compliance(1, -5e5); math.IsInf(c, 0) || math.IsNaN(c) || c <= 0 {
		t.Errorf("below vacuum: %g", c)
	}
}

// The quadrants: what the rod must push against decides the chamber, and its
// pressure carries the force.
func TestCarrier(t *testing.T) {
	m := worked()
	m.LowPressure = 2e5
	m.Coulomb = PerDirection[float64]{Extend: 500, Retract: 500}
	if c := m.Carrier(m.SteadyForce(0.1, 1)); c != Cap {
		t.Errorf("extending against friction is carried by the %s side", c)
	}
	if c := m.Carrier(m.SteadyForce(-0.1, 1)); c != Rod {
		t.Errorf("retracting against friction is carried by the %s side", c)
	}
	m.AxialLoad = -8000 // pushes the rod in
	for _, v := range []float64{0.1, -0.1} {
		force := m.SteadyForce(v, 1)
		if m.Carrier(force) != Cap {
			t.Errorf("a load that pushes the rod in is not carried by the cap side at %g m/s", v)
		}
		p := m.PressureFor(Cap, force)
		near(t, "force from its pressure", m.Force(p, m.LowPressure), force, 1e-12)
	}
	m.GravityShare = -8000
	near(t, "load at double mass", m.LoadAt(2), -16000, 1e-12)
}

func TestCheckNamesTheImpossible(t *testing.T) {
	good := worked()
	if err := good.Check(); err != nil {
		t.Fatal(err)
	}
	for want, spoil := range map[string]func(*Model){
		"mass":              func(m *Model) { m.Mass = 0 },
		"cap area":          func(m *Model) { m.Area.Cap = math.NaN() },
		"leakage":           func(m *Model) { m.Leakage = -1 },
		"low pressure":      func(m *Model) { m.LowPressure = math.NaN() },
		"axial load":        func(m *Model) { m.AxialLoad = 1e308 },
		"mode":              func(m *Model) { m.Mass = 1e-8 },
		"contact":           func(m *Model) { m.Contact = &Contact{} },
		"pressing":          func(m *Model) { m.Contact = &Contact{Presses: 5, Position: 0.1, Stiffness: 1e7} },
		"dead time":         func(m *Model) { m.Drive.DeadTime = math.Inf(1) },
		"controller period": func(m *Model) { m.ControllerPeriod = 0 },
		// A simulation at this speed would not end in a lifetime.
		"drive natural frequency": func(m *Model) { m.Drive.NaturalFreq = 1e12 },
	} {
		m := worked()
		m.Oil.Cap.Air = 0.01
		spoil(&m)
		if err := m.Check(); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%s spoilt: %v", want, err)
		}
	}
}

// Draws must spread as the intervals say: a thousand of them within four standard
// errors of the standard deviation (4/sqrt(2·1000) = 9 %).
func TestDrawFollowsIntervals(t *testing.T) {
	p := &Plant{Model: worked(), MassKnown: true, Params: map[Param]Estimate{
		MovingMass: MovingMass.Found(500, 450, 550, "test"), DriveBandwidth: DriveBandwidth.Found(300, 294, 306, "test")}}
	rng := rand.New(rand.NewPCG(1, 2))
	var sum, squares float64
	const n = 1000
	for range n {
		m := p.Draw(rng)
		if err := m.Check(); err != nil {
			t.Fatal(err)
		}
		sum += m.Mass
		squares += m.Mass * m.Mass
	}
	mean := sum / n
	near(t, "mean mass", mean, 500, 0.01)
	near(t, "spread of mass", math.Sqrt(squares/n-mean*mean), 50/1.96, 0.09)
	if p.Model.Mass != 500 {
		t.Error("Draw changed the plant")
	}
}

func TestParams(t *testing.T) {
	seen := map[string]bool{}
	for _, p := range Params() {
		i := p.Info()
		if i.Name == "" || i.Unit == "" || i.Factor <= 0 || i.WeakAbove <= 0 || i.Meaning == "" || seen[i.Name] {
			t.Errorf("parameter %d is not described, or twice: %+v", p, i)
		}
		seen[i.Name] = true
		if back, ok := ParseParam(i.Name); !ok || back != p {
			t.Errorf("%s does not read back", i.Name)
		}
	}
	if e := Slip.Found(1, 0.9, 1.1, ""); e.Status != Identified {
		t.Errorf("slip known to 10 %% is %s", e.Status)
	}
	if e := Slip.Found(1, 0.7, 1.3, ""); e.Status != Weak {
		t.Errorf("slip known to 30 %% is %s", e.Status)
	}
	if e := Slip.Found(1, -1, 3, ""); e.Low != 0 {
		t.Errorf("slip's interval begins at %g", e.Low)
	}
	if e := AxialLoad.Found(100, -50, 250, ""); e.Low != -50 {
		t.Errorf("the axial load's interval begins at %g", e.Low)
	}
}
