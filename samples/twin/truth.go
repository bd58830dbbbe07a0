package twin

import (
	"math"
)

// True is a parameter's true value with the range of values that its definition
// lets one defend, in the unit of the JSON results.
type True struct {
	Value float64    `json:"value"`
	Unit  string     `json:"unit"`
	Range [2]float64 `json:"range"`
}

// Truth holds a machine's true parameters by their names in the JSON results.
type Truth struct {
	Carrier map[string]string // direction to chamber in slow travel
	Params  map[string]True
}

// middleOfLog is a time (s) amid a survey, for what drifts along it.
const middleOfLog = 110

// rootSlip is the slip (rad/s/Pa) of the leak that goes with the root of pressure, at p (Pa).
func (m *Machine) rootSlip(p float64) float64 {
	return m.Rough.LeakRoot / math.Sqrt(p) / m.Displacement
}

// slip returns the motor speed lost per pressure (rad/s/Pa): the pump's leak and
// that of the loaded port, at half speed, and where it drifts amid the survey.
func (m *Machine) slip() float64 {
	leak := m.LeakInternal*(1+0.5*m.LeakSpeed)*(1+middleOfLog*m.Rough.LeakDrift) + m.LeakCase
	return m.Warmth.Thinned(m.Warmth.mean())*leak/m.Displacement + m.rootSlip(50e5)
}

// pressingStiffness returns the force per motor angle (N/rad) at the contact with
// the loaded chamber at pressure p (Pa): A·D/(C + A²/k).
func (m *Machine) pressingStiffness(p float64) float64 {
	rod, area := m.Contact.Sign < 0, m.AreaCap()
	if rod {
		area = m.AreaRod()
	}
	return area * m.Displacement / (m.Compliance(rod, m.Contact.Position, p) + area*area/m.Contact.Stiffness)
}

// slowTravel is the machine in slow steady travel through mid-stroke one way.
type slowTravel struct {
	sign     float64
	rod      bool       // the rod side carries
	p        [2]float64 // Pa
	pressure float64    // Pa, of the chamber that carries
	speed    float64    // m/s
}

// travelSlowly averages over a second of travel about mid-stroke, because near
// the valves' switching travel at constant motor speed need not be steady.
func travelSlowly(m *Machine, sign float64) slowTravel {
	const seconds = 1.0
	speed := sign * slowShare * m.MaxSpeed
	middle := m.Stroke/2 - 0.5*seconds*speed*m.Displacement/m.AreaCap()
	s := newTravel(m, middle-leastTravel*speed*m.Displacement/m.AreaCap(), speed)
	s.reservoir = m.reservoirPressure(middle)
	for i := 0; i < 40000 && (s.x-middle)*sign < 0; i++ {
		s.Step()
	}
	t := slowTravel{sign: sign}
	n := int(seconds / s.h)
	from := s.x
	for range n {
		s.Step()
		t.p[0] += s.p[0] / float64(n)
		t.p[1] += s.p[1] / float64(n)
	}
	t.speed = math.Abs(s.x-from) / seconds
	force := s.areaCap*t.p[0] - s.areaRod*t.p[1]
	t.rod = force < (s.areaCap-s.areaRod)*s.reservoir
	t.pressure = t.p[0]
	if t.rod {
		t.pressure = t.p[1]
	}
	return t
}

// TruthOf returns the machine's true parameters by the definitions of ident/plant.
func TruthOf(m *Machine) Truth {
	ways := [2]slowTravel{travelSlowly(m, 1), travelSlowly(m, -1)}
	t := Truth{Carrier: map[string]string{}, Params: map[string]True{}}
	for i, name := range []string{"extend", "retract"} {
		t.Carrier[name] = map[bool]string{false: "cap", true: "rod"}[ways[i].rod]
	}
	t.strokes(m, ways)
	t.rodForces(m, ways)
	t.oil(m, ways)
	t.resonance(m, ways)
	t.driveAndSensors(m)
	t.lostMotion(m)
	if m.Contact != nil {
		k := m.Contact.Stiffness * 1e-6
		t.set("contact_stiffness", "kN/mm", k, k, k)
		at := func(p float64) float64 { return m.pressingStiffness(p) * 2 * math.Pi * 1e-3 }
		middle := 0.45 * m.ForceLimit() / m.pressingArea()
		t.set("pressing_stiffness", "kN/rev", at(middle), at(0.7*middle), at(1.5*middle))
	}
	return t
}

// set stores a value with the range spanned by it and the others.
func (t *Truth) set(name, unit string, value float64, others ...float64) {
	r := [2]float64{value, value}
	for _, o := range others {
		r[0], r[1] = math.Min(r[0], o), math.Max(r[1], o)
	}
	t.Params[name] = True{value, unit, r}
}

func (t *Truth) strokes(m *Machine, ways [2]slowTravel) {
	perTurn := func(area float64) float64 { return m.Displacement / area * 2 * math.Pi * 1e3 }
	// compressed is the share that pumping to the chamber's pressure takes away.
	compressed := func(p float64) float64 {
		room := func(p float64) float64 { return 1 - p/m.Modulus + m.Air*m.airRatio(p+atmosphere) }
		return 1 - room(math.Max(p, m.Preload))/room(m.Preload)
	}
	highest := [2]float64{m.Preload, m.Preload}
	for i, name := range []string{"stroke_per_turn_extend", "stroke_per_turn_retract"} {
		w := ways[i]
		s, side := perTurn(m.AreaCap()), 0
		if w.rod {
			s, side = perTurn(m.AreaRod()), 1
		}
		highest[side] = math.Max(highest[side], w.pressure)
		pumping := (w.sign > 0) != w.rod
		low := s
		if pumping {
			low = s * (1 - compressed(w.pressure))
		}
		t.set(name, "mm/rev", s, low)
	}
	t.set("stroke_per_turn_cap", "mm/rev", perTurn(m.AreaCap()), perTurn(m.AreaCap())*(1-compressed(highest[0])))
	t.set("stroke_per_turn_rod", "mm/rev", perTurn(m.AreaRod()), perTurn(m.AreaRod())*(1-compressed(highest[1])))
	unit := 1e5 / (2 * math.Pi)
	root := [2]float64{m.rootSlip(100e5), m.rootSlip(15e5)}
	still := (m.LeakInternal+m.LeakCase)/m.Displacement + root[0]
	full := (m.LeakInternal*(1+m.LeakSpeed)*(1+2*middleOfLog*m.Rough.LeakDrift)+m.LeakCase)/m.Displacement + root[1]
	if w := m.Warmth; w != (Warmth{}) {
		// What a log's mean temperature is, is open to a kelvin.
		still *= w.Thinned(w.mean() - 1)
		full *= w.Thinned(w.mean() + 1)
	}
	t.set("slip", "rev/s/bar", m.slip()*unit, still*unit, full*unit)
}

func (t *Truth) rodForces(m *Machine, ways [2]slowTravel) {
	// Intercept and slope of the straight line through steady friction at the
	// speeds that the definition names.
	full := m.MaxSpeed * m.Displacement / m.AreaCap()
	var n, sv, svv, sf, svf float64
	for share := 0.08; share <= 0.7; share += 0.01 {
		v := share * full
		f := m.friction(v) + m.Viscous*v
		n, sv, svv, sf, svf = n+1, sv+v, svv+v*v, sf+f, svf+v*f
	}
	slope := (n*svf - sv*sf) / (n*svv - sv*sv)
	intercept := (sf - slope*sv) / n
	// Seals press harder with pressure; sides and places differ.
	rise := [2]float64{}
	for i, w := range ways {
		rise[i] = 1 + m.Rough.SealPressure*math.Max(w.p[0], w.p[1])
	}
	mid, wave := (rise[0]+rise[1])/2, m.Rough.FrictionWave
	intercept *= mid
	least, most := math.Min(rise[0], rise[1])/mid-wave/3, math.Max(rise[0], rise[1])/mid+wave/3
	t.set("coulomb_friction", "kN", intercept*1e-3, m.Coulomb*mid*1e-3, intercept*least*1e-3, intercept*most*1e-3)
	t.set("viscous_friction", "kN s/m", slope*1e-3, m.Viscous*1e-3)
	t.set("breakaway_force", "kN", m.Static*mid*1e-3, m.Static*(mid-m.Rough.FrictionAside-wave)*1e-3, m.Static*(mid+m.Rough.FrictionAside+wave)*1e-3)
	t.set("stribeck_speed", "mm/s", m.StribeckSpeed*1e3)
	t.set("moving_mass", "kg", m.Mass)
	// What friction has more of extending than retracting cannot be told from load.
	aside := m.Rough.FrictionAside*intercept + (rise[0]-rise[1])/2*m.Coulomb
	t.set("axial_load", "kN", m.AxialLoad()*1e-3, (m.AxialLoad()-aside)*1e-3)
	q := m.MaxSpeed * m.Displacement
	t.set("line_loss", "bar", m.LineLoss*q*q*1e-5)
}

func (t *Truth) oil(m *Machine, ways [2]slowTravel) {
	mid := m.Stroke / 2
	sides := []struct {
		name string
		rod  bool
	}{{"cap", false}, {"rod", true}}
	for _, side := range sides {
		var pressures []float64
		for _, w := range ways {
			if w.rod == side.rod {
				pressures = append(pressures, w.pressure)
			}
		}
		if pressures == nil { // a chamber that never carries has no working pressure
			continue
		}
		low, high := pressures[0], pressures[len(pressures)-1]
		c := func(p float64) float64 { return m.Compliance(side.rod, mid, p) }
		t.set("compliance_"+side.name, "cm3/bar", c((low+high)/2)*1e11, c(low)*1e11, c(high)*1e11)
		volume := m.DeadCap + m.AreaCap()*mid
		if side.rod {
			volume = m.DeadRod + m.AreaRod()*mid
		}
		b := func(p, volume float64) float64 { return volume / c(p) * 1e-9 }
		less := volume - m.LineVolume
		name := "bulk_modulus_" + side.name
		t.set(name, "GPa", b((low+high)/2, volume), b(low, volume), b(high, volume), b(low, less), b(high, less))
	}
	first := t.Params["bulk_modulus_cap"]
	if ways[0].rod {
		first = t.Params["bulk_modulus_rod"]
	}
	if ways[0].rod != ways[1].rod { // either chamber may be meant
		other := t.Params["bulk_modulus_rod"]
		if ways[0].rod {
			other = t.Params["bulk_modulus_cap"]
		}
		t.set("bulk_modulus", "GPa", (first.Value+other.Value)/2, first.Range[0], first.Range[1], other.Range[0], other.Range[1])
		return
	}
	t.Params["bulk_modulus"] = first
}

func mean(v []float64) float64 {
	sum := 0.0
	for _, x := range v {
		sum += x
	}
	return sum / float64(len(v))
}

func (t *Truth) driveAndSensors(m *Machine) {
	f := m.DriveFreq / (2 * math.Pi)
	t.set("drive_bandwidth", "Hz", f)
	t.set("drive_damping", "1", m.DriveDamping)
	dead := m.DeadTime * 1e3
	t.set("dead_time", "ms", dead, dead+0.5e3*math.Min(m.LogPeriod, m.ControlPeriod))
	t.set("outer_delay", "ms", m.OuterDelay*1e3)
	a := m.PeakTorque / m.Inertia * toTurn
	t.set("acceleration_limit", "rev/s2", a, 0.75*a, 1.25*a)
	sn := m.Sensors
	delay := (sn.PositionDelay + sn.PositionLag) * 1e3
	t.set("transducer_delay", "ms", delay, sn.PositionDelay*1e3)
	t.set("pressure_lag", "ms", sn.PressureLag*1e3)
}
