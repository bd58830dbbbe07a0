package quantity

import (
	"math"
	"strconv"
)

// System chooses the units of display.
type System int

// The systems of display units.
const (
	Metric System = iota
	Inch
)

var systemNames = [...]string{"metric", "inch"}

// String returns "metric" or "inch", as the command line spells it.
func (s System) String() string { return systemNames[s] }

// ParseSystem returns the system of that name and whether there is one.
func ParseSystem(name string) (System, bool) {
	for i, n := range systemNames {
		if n == name {
			return System(i), true
		}
	}
	return Metric, false
}

// display lists the unit of display per dimension: metric, then inch where it differs.
var display = map[Dimension][2]string{
	Number: {"1"}, Percent: {"%"}, Length: {"mm", "in"}, Time: {"s"}, Angle: {"rev"}, Speed: {"mm/s", "in/s"},
	Acceleration: {"mm/s2", "in/s2"}, AngularSpeed: {"rpm"}, AngularAccel: {"rev/s2"}, Mass: {"kg", "lb"},
	Force: {"kN", "lbf"}, Pressure: {"bar", "psi"}, Torque: {"Nm", "lbf in"}, Current: {"A"}, Voltage: {"V"},
	Temperature: {"degC", "degF"}, Volume: {"L", "in3"}, Flow: {"L/min", "gpm"}, Displacement: {"cm3/rev", "in3/rev"},
	TorqueConstant: {"Nm/A", "lbf in/A"}, Frequency: {"Hz"}, Rate: {"1/s"}, RatePerTime: {"1/s2"}, Counts: {"counts"},
	TravelPerTurn: {"mm/rev", "in/rev"}, TurnsPerTravel: {"rev/mm", "rev/in"}, Slip: {"rev/s/bar", "rpm/psi"},
	Viscous: {"kN s/m", "lbf s/in"}, Stiffness: {"kN/mm", "lbf/in"}, ForcePerTurn: {"kN/rev", "lbf/rev"},
	TurnsPerForce: {"rev/kN", "rev/lbf"}, ForceGain: {"rev/s/kN", "rpm/lbf"}, ForceGainRate: {"rev/s2/kN", "rpm/(lbf s)"},
	Compliance: {"cm3/bar", "in3/psi"}, Energy: {"J"},
}

// Display returns the unit that quantities of a dimension are shown in.
func Display(d Dimension, s System) Unit {
	pair := display[d]
	text := pair[0]
	if s == Inch && pair[1] != "" {
		text = pair[1]
	}
	u, _ := LookupAs(text, d)
	return u
}

// Shown returns the unit of display for values in the metric unit of that symbol,
// and their conversion to it. A unit that the system has none of its own for stays: a
// time in ms stays in ms, and so does a frequency in Hz whatever its SI value is held as.
func Shown(symbol string, s System) (string, func(float64) float64) {
	u, ok := Lookup(symbol)
	if own := display[u.Dimension]; !ok || s == Metric || own[1] == "" {
		return symbol, func(v float64) float64 { return v }
	}
	to := Display(u.Dimension, s)
	return to.Symbol, func(v float64) float64 { return to.From(u.SI(v)) }
}

// Format prints an SI value with its unit of display and four significant
// digits, such as "50.8 mm" or "2 in". A value that is not finite prints as "not identified".
func Format(si float64, d Dimension, s System) string {
	if math.IsNaN(si) || math.IsInf(si, 0) {
		return "not identified"
	}
	u := Display(d, s)
	text := Digits(u.From(si), 4)
	if d == Number {
		return text
	}
	return text + " " + u.Symbol
}

// Digits prints v with n significant digits, without exponent for everyday
// sizes and without trailing zeros behind the point; whole digits are never rounded away.
func Digits(v float64, n int) string {
	if v == 0 {
		return "0"
	}
	size := math.Abs(v)
	if size < 1e-5 || size >= 1e9 {
		return strconv.FormatFloat(v, 'g', n, 64)
	}
	decimals := max(0, n-1-int(math.Floor(math.Log10(size))))
	scale := math.Pow(10, float64(decimals))
	return strconv.FormatFloat(math.Round(v*scale)/scale, 'f', -1, 64)
}
