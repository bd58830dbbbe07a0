package quantity

import (
	"sort"
	"strings"
)

// Exact defined values: international inch, avoirdupois pound, standard gravity, US gallon.
const (
	inch     = 0.0254
	pound    = 0.45359237
	gravity  = 9.80665
	poundF   = pound * gravity
	psi      = poundF / (inch * inch)
	gallonUS = 231 * inch * inch * inch
)

// units lists every unit by dimension; further spellings follow the symbol.
// Spellings are written as normalise leaves them: no spaces, dots or carets.
var units = []struct {
	Unit
	also string
}{
	{Unit{"1", Number, 1, 0}, ""},
	{Unit{"%", Percent, 0.01, 0}, "pct percent"},

	{Unit{"m", Length, 1, 0}, "metre meter metres meters"},
	{Unit{"mm", Length, 1e-3, 0}, "millimetre millimeter millimetres millimeters"},
	{Unit{"cm", Length, 1e-2, 0}, ""},
	{Unit{"um", Length, 1e-6, 0}, "micron microns micrometre micrometer"},
	{Unit{"in", Length, inch, 0}, "inch inches \" ″"},
	{Unit{"mil", Length, inch / 1000, 0}, "thou"},
	{Unit{"ft", Length, 12 * inch, 0}, "feet foot"},

	{Unit{"s", Time, 1, 0}, "sec second seconds sek sekunde sekunden"},
	{Unit{"ms", Time, 1e-3, 0}, "msec millisecond milliseconds millisekunden"},
	{Unit{"us", Time, 1e-6, 0}, "usec microsecond microseconds"},
	{Unit{"ns", Time, 1e-9, 0}, "nsec nanosecond nanoseconds"},
	{Unit{"min", Time, 60, 0}, "minute minutes"},
	{Unit{"h", Time, 3600, 0}, "hour hours"},

	{Unit{"rad", Angle, 1, 0}, "radian radians"},
	{Unit{"rev", Angle, turn, 0}, "revs revolution revolutions turn turns U tr giri umdr"},
	{Unit{"deg", Angle, turn / 360, 0}, "° degree degrees"},
	{Unit{"mrad", Angle, 1e-3, 0}, ""},

	{Unit{"m/s", Speed, 1, 0}, ""},
	{Unit{"mm/s", Speed, 1e-3, 0}, "mm/sec"},
	{Unit{"cm/s", Speed, 1e-2, 0}, ""},
	{Unit{"m/min", Speed, 1. / 60, 0}, ""},
	{Unit{"mm/min", Speed, 1e-3 / 60, 0}, ""},
	{Unit{"in/s", Speed, inch, 0}, "inch/s in/sec ips"},
	{Unit{"in/min", Speed, inch / 60, 0}, "inch/min ipm"},
	{Unit{"ft/min", Speed, 12 * inch / 60, 0}, ""},
	{Unit{"m/s2", Acceleration, 1, 0}, ""},
	{Unit{"mm/s2", Acceleration, 1e-3, 0}, ""},
	{Unit{"in/s2", Acceleration, inch, 0}, ""},

	{Unit{"rad/s", AngularSpeed, 1, 0}, "rad/sec"},
	{Unit{"rpm", AngularSpeed, turn / 60, 0}, "1/min min-1 r/min rev/min revs/min U/min tr/min giri/min obr/min ot/min varv/min turns/min RPM"},
	{Unit{"rev/s", AngularSpeed, turn, 0}, "revs/s rev/sec rps r/s U/s tr/s turns/s"},
	{Unit{"deg/s", AngularSpeed, turn / 360, 0}, "°/s deg/sec"},
	{Unit{"krpm", AngularSpeed, 1000 * turn / 60, 0}, ""},
	{Unit{"rev/s2", AngularAccel, turn, 0}, "rev/s/s"},
	{Unit{"rad/s2", AngularAccel, 1, 0}, "rad/s/s"},
	{Unit{"rpm/s", AngularAccel, turn / 60, 0}, "1/min/s"},

	{Unit{"kg", Mass, 1, 0}, ""},
	{Unit{"g", Mass, 1e-3, 0}, ""},
	{Unit{"t", Mass, 1000, 0}, "tonne tonnes"},
	{Unit{"lb", Mass, pound, 0}, "lbm lbs"},

	{Unit{"N", Force, 1, 0}, "newton newtons"},
	{Unit{"kN", Force, 1e3, 0}, ""},
	{Unit{"daN", Force, 10, 0}, ""},
	{Unit{"MN", Force, 1e6, 0}, ""},
	{Unit{"lbf", Force, poundF, 0}, ""},
	{Unit{"klbf", Force, 1000 * poundF, 0}, "kip"},
	{Unit{"kgf", Force, gravity, 0}, "kp"},

	{Unit{"Pa", Pressure, 1, 0}, ""},
	{Unit{"bar", Pressure, 1e5, 0}, "barg bar(g) bars"},
	{Unit{"mbar", Pressure, 100, 0}, ""},
	{Unit{"hPa", Pressure, 100, 0}, ""},
	{Unit{"kPa", Pressure, 1e3, 0}, "kPag"},
	{Unit{"MPa", Pressure, 1e6, 0}, "N/mm2 MPag Mpa MPA"},
	{Unit{"GPa", Pressure, 1e9, 0}, ""},
	{Unit{"psi", Pressure, psi, 0}, "psig psi(g) lbf/in2"},
	{Unit{"kgf/cm2", Pressure, gravity * 1e4, 0}, "kg/cm2 kp/cm2"},
	{Unit{"bara", Pressure, 1e5, -StandardAtmosphere}, "bar(a) barabs"},
	{Unit{"kPaa", Pressure, 1e3, -StandardAtmosphere}, "kPa(a) kPaabs"},
	{Unit{"MPaa", Pressure, 1e6, -StandardAtmosphere}, "MPa(a) MPaabs"},
	{Unit{"psia", Pressure, psi, -StandardAtmosphere}, "psi(a) psiabs"},

	{Unit{"Nm", Torque, 1, 0}, "N-m NM"},
	{Unit{"mNm", Torque, 1e-3, 0}, ""},
	{Unit{"kNm", Torque, 1e3, 0}, ""},
	{Unit{"lbf in", Torque, poundF * inch, 0}, "lbfin lbf-in lb-in in-lb inlb lbin in-lbf"},
	{Unit{"lbf ft", Torque, poundF * 12 * inch, 0}, "lbfft lbf-ft lb-ft ft-lb ftlb lbft ft-lbf"},

	{Unit{"A", Current, 1, 0}, "amp amps ampere Arms A_rms Aeff A_eff"},
	{Unit{"mA", Current, 1e-3, 0}, ""},
	{Unit{"V", Voltage, 1, 0}, "volt volts Vdc"},
	{Unit{"mV", Voltage, 1e-3, 0}, ""},
	{Unit{"K", Temperature, 1, 0}, "kelvin"},
	{Unit{"degC", Temperature, 1, 273.15}, "°C C ℃ celsius GradC"},
	{Unit{"degF", Temperature, 5. / 9, 459.67 * 5 / 9}, "°F F ℉ fahrenheit"},

	{Unit{"m3", Volume, 1, 0}, ""},
	{Unit{"L", Volume, 1e-3, 0}, "dm3 litre liter litres liters"},
	{Unit{"cm3", Volume, 1e-6, 0}, "cc ccm mL"},
	{Unit{"in3", Volume, inch * inch * inch, 0}, "cuin"},
	{Unit{"gal", Volume, gallonUS, 0}, "galUS gallon gallons"},
	{Unit{"m3/s", Flow, 1, 0}, ""},
	{Unit{"m3/h", Flow, 1. / 3600, 0}, ""},
	{Unit{"L/min", Flow, 1e-3 / 60, 0}, "lpm dm3/min"},
	{Unit{"cm3/s", Flow, 1e-6, 0}, "cc/s mL/s"},
	{Unit{"cm3/min", Flow, 1e-6 / 60, 0}, "cc/min mL/min"},
	{Unit{"in3/s", Flow, inch * inch * inch, 0}, ""},
	{Unit{"gpm", Flow, gallonUS / 60, 0}, "gal/min"},
	{Unit{"m3/rad", Displacement, 1, 0}, ""},
	{Unit{"cm3/rev", Displacement, 1e-6 / turn, 0}, "cc/rev ccm/rev mL/rev cm3/U cm3/tr cm3/turn cc/turn ccm/U cc cm3 ccm mL"},
	{Unit{"cm3/rad", Displacement, 1e-6, 0}, "cc/rad mL/rad"},
	{Unit{"L/rev", Displacement, 1e-3 / turn, 0}, "dm3/rev"},
	{Unit{"in3/rev", Displacement, inch * inch * inch / turn, 0}, "cuin/rev cir in3"},
	{Unit{"Nm/A", TorqueConstant, 1, 0}, "Nm/Arms Nm/Aeff"},
	{Unit{"lbf in/A", TorqueConstant, poundF * inch, 0}, "lbfin/A lb-in/A in-lb/A"},

	{Unit{"Hz", Frequency, 1, 0}, ""},
	{Unit{"kHz", Frequency, 1e3, 0}, ""},
	{Unit{"1/s", Rate, 1, 0}, "s-1"},
	{Unit{"1/s2", RatePerTime, 1, 0}, "s-2"},
	{Unit{"counts", Counts, 1, 0}, "count cts cnt inc incr increment increments ticks pulses digits"},

	{Unit{"mm/rev", TravelPerTurn, 1e-3 / turn, 0}, "mm/turn"},
	{Unit{"in/rev", TravelPerTurn, inch / turn, 0}, "in/turn"},
	{Unit{"rev/mm", TurnsPerTravel, turn * 1e3, 0}, "turns/mm"},
	{Unit{"rev/in", TurnsPerTravel, turn / inch, 0}, "turns/in"},
	{Unit{"rev/s/bar", Slip, turn / 1e5, 0}, ""},
	{Unit{"rpm/bar", Slip, turn / 60 / 1e5, 0}, ""},
	{Unit{"rpm/psi", Slip, turn / 60 / psi, 0}, ""},
	{Unit{"kN s/m", Viscous, 1e3, 0}, "kNs/m"},
	{Unit{"N s/m", Viscous, 1, 0}, "Ns/m"},
	{Unit{"lbf s/in", Viscous, poundF / inch, 0}, "lbfs/in"},
	{Unit{"kN/mm", Stiffness, 1e6, 0}, ""},
	{Unit{"N/m", Stiffness, 1, 0}, ""},
	{Unit{"N/mm", Stiffness, 1e3, 0}, ""},
	{Unit{"lbf/in", Stiffness, poundF / inch, 0}, "lb/in"},
	{Unit{"kN/rev", ForcePerTurn, 1e3 / turn, 0}, ""},
	{Unit{"lbf/rev", ForcePerTurn, poundF / turn, 0}, ""},
	{Unit{"rev/kN", TurnsPerForce, turn / 1e3, 0}, ""},
	{Unit{"rev/lbf", TurnsPerForce, turn / poundF, 0}, ""},
	{Unit{"rev/s/kN", ForceGain, turn / 1e3, 0}, ""},
	{Unit{"rpm/lbf", ForceGain, turn / 60 / poundF, 0}, ""},
	{Unit{"rpm/kN", ForceGain, turn / 60 / 1e3, 0}, ""},
	{Unit{"rev/s2/kN", ForceGainRate, turn / 1e3, 0}, ""},
	{Unit{"rpm/(lbf s)", ForceGainRate, turn / 60 / poundF, 0}, "rpm/lbf/s"},
	{Unit{"cm3/bar", Compliance, 1e-11, 0}, "mL/bar cc/bar"},
	{Unit{"in3/psi", Compliance, inch * inch * inch / psi, 0}, ""},
	{Unit{"J", Energy, 1, 0}, "Nm(J)"},
	{Unit{"kJ", Energy, 1e3, 0}, ""},
}

// index finds units by spelling: exact first, then in lower case where that
// means one unit only.
type index struct{ exact, folded map[string][]Unit }

var byText = makeIndex()

func makeIndex() index {
	ix := index{map[string][]Unit{}, map[string][]Unit{}}
	for _, e := range units {
		for _, text := range append([]string{e.Symbol}, strings.Fields(e.also)...) {
			key := normalise(text)
			ix.exact[key] = append(ix.exact[key], e.Unit)
			low := strings.ToLower(key)
			ix.folded[low] = append(ix.folded[low], e.Unit)
		}
	}
	// A prefix whose case decides between a millionth and a million, and "nm", the
	// nanometre to a physicist and a torque to a drive, are taken as written only.
	for _, risky := range []string{"nm", "mn", "mnm", "mpa", "mpaa"} {
		delete(ix.folded, risky)
	}
	return ix
}

var unitText = strings.NewReplacer(
	" ", "", "\u00a0", "", "\u2009", "", "\u202f", "", ".", "", "·", "", "⋅", "", "•", "", "*", "", "^", "", "²", "2", "³", "3", "⁻¹", "-1", "⁻²", "-2",
	"µ", "u", "μ", "u", "_per_", "/", "−", "-", "º", "°")

func normalise(text string) string { return unitText.Replace(strings.TrimSpace(text)) }

// find returns the units of that spelling. A spelling in the wrong case counts
// only if it can mean one unit.
func find(text string) []Unit {
	key := normalise(text)
	if found := byText.exact[key]; len(found) > 0 {
		return found
	}
	found := byText.folded[strings.ToLower(key)]
	for _, u := range found {
		if u != found[0] {
			return nil
		}
	}
	return found
}

// Lookup returns the unit of that spelling and whether there is one. Where a
// spelling serves two dimensions (cm3 is a volume, and by custom also a volume
// per turn) it returns the first; LookupAs chooses.
func Lookup(text string) (Unit, bool) {
	if found := find(text); len(found) > 0 {
		return found[0], true
	}
	return Unit{}, false
}

// LookupAs returns the unit of that spelling in the given dimension and whether
// there is one.
func LookupAs(text string, d Dimension) (Unit, bool) {
	for _, u := range find(text) {
		if u.Dimension == d {
			return u, true
		}
	}
	return Unit{}, false
}

// Symbols returns the symbols of all units of a dimension, for messages.
func Symbols(d Dimension) []string {
	var all []string
	for _, e := range units {
		if e.Dimension == d {
			all = append(all, e.Symbol)
		}
	}
	sort.Strings(all)
	return all
}
