package twin

// SlowTravel describes slow steady travel through mid-stroke one way.
type SlowTravel struct {
	Chamber       string     // that carries, "cap" or "rod"
	Pressure      [2]float64 // Pa, cap and rod
	LowResistance float64    // Pa·s/m³ of the valves that clamp the low side; 0 where none is open
}

// TravelSlowly returns the machine in slow steady travel in the direction of sign.
func TravelSlowly(m *Machine, sign float64) SlowTravel {
	w := travelSlowly(m, sign)
	out := SlowTravel{Chamber: "cap", Pressure: w.p, LowResistance: m.lowResistance(w, w.p[1])}
	if w.rod {
		out.Chamber, out.LowResistance = "rod", m.lowResistance(w, w.p[0])
	}
	return out
}

// Slip returns the motor speed lost per pressure across the pump (rad/s per Pa).
func (m *Machine) Slip() float64 { return m.slip() }
