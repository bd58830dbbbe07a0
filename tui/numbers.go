package tui

import (
	"fmt"
	"math"
	"strconv"
	"strings"

	"eha/strokewise/ident/plant"
	"eha/strokewise/ident/quantity"
	"eha/strokewise/tuning"
)

// Quantity is the kind of a number, which decides the unit it is shown in.
type Quantity = quantity.Dimension

// units shows SI numbers in the user's units; nothing else on a screen does.
type units struct{ system quantity.System }

func (u units) symbol(d Quantity) string { return quantity.Display(d, u.system).Symbol }

// from returns an SI value in the unit of display.
func (u units) from(si float64, d Quantity) float64 {
	return quantity.Display(d, u.system).From(si)
}

// all converts a slice for a plot.
func (u units) all(si []float64, d Quantity) []float64 {
	unit := quantity.Display(d, u.system)
	out := make([]float64, len(si))
	for i, v := range si {
		out[i] = unit.From(v)
	}
	return out
}

// say returns prose from below, which is written in metric units, in the user's.
func (u units) say(text string) string { return quantity.Restate(text, u.system) }

// show writes a value with its unit; "none" for an infinite one.
func (u units) show(si float64, d Quantity) string {
	if math.IsInf(si, 0) {
		return "none"
	}
	return quantity.Format(si, d, u.system)
}

// label names an axis with its unit.
func (u units) label(name string, d Quantity) string {
	if d == quantity.Number {
		return name
	}
	return name + " (" + u.symbol(d) + ")"
}

// span writes a figure with its band, to the first digit that the band leaves open.
func (u units) span(r tuning.Range, d Quantity) string {
	if r.Low == r.Value && r.High == r.Value {
		return strings.TrimSpace(u.value(r, d) + " " + u.symbol(d))
	}
	n := u.decimals(r, d)
	return fmt.Sprintf("%s (%s to %s) %s", u.fixed(r.Value, d, n), u.fixed(r.Low, d, n), u.fixed(r.High, d, n), u.symbol(d))
}

// value writes the figure alone, no more finely than its band warrants.
func (u units) value(r tuning.Range, d Quantity) string {
	if r.Low == r.Value && r.High == r.Value {
		if math.IsInf(r.Value, 0) || math.IsNaN(r.Value) {
			return "never"
		}
		return digits(u.from(r.Value, d), 3)
	}
	return u.fixed(r.Value, d, u.decimals(r, d))
}

// decimals returns how many places behind the point the band leaves meaning to.
func (u units) decimals(r tuning.Range, d Quantity) int {
	half := math.Abs(u.from(r.High, d)-u.from(r.Low, d)) / 2
	if math.IsInf(r.High, 0) {
		half = 0.1 * math.Abs(u.from(r.Value, d))
	}
	if !(half > 0) || math.IsInf(half, 0) {
		return 3
	}
	n := -int(math.Floor(math.Log10(half)))
	// However narrow the band, four digits of the figure are enough.
	if v := math.Abs(u.from(r.Value, d)); v > 0 && !math.IsInf(v, 0) {
		n = min(n, 3-int(math.Floor(math.Log10(v))))
	}
	return min(max(n, 0), 6)
}

func (u units) fixed(si float64, d Quantity, decimals int) string {
	if math.IsInf(si, 0) || math.IsNaN(si) {
		return "never"
	}
	return fixed(u.from(si, d), decimals)
}

func digits(v float64, n int) string { return quantity.Digits(v, n) }

// param returns the unit that a parameter is shown in, "" for none, and the
// conversion of its SI value to it.
func (u units) param(p plant.Param) (symbol string, shown func(float64) float64) {
	info := p.Info()
	symbol, convert := quantity.Shown(info.Unit, u.system)
	if symbol == "1" {
		symbol = ""
	}
	return symbol, func(si float64) float64 { return convert(si * info.Factor) }
}

// estimate writes a parameter's value with half its interval, as many digits as
// the interval warrants; a missing one is never a number.
func (u units) estimate(p plant.Param, e plant.Estimate) string {
	if !e.Known() {
		return "not identified"
	}
	symbol, shown := u.param(p)
	value, half := shown(e.Value), (shown(e.High)-shown(e.Low))/2
	text := digits(value, 4)
	if half > 0 {
		text = withHalf(value, half)
	}
	return strings.TrimSpace(text + " " + symbol)
}

// withHalf writes a value and half its interval, both to the second digit of the
// latter: a zero there says as much as any other digit.
func withHalf(value, half float64) string {
	if math.IsInf(half, 0) || half < 1e-5 || half >= 1e9 {
		return digits(value, 4) + " ± " + digits(half, 2)
	}
	n := placesFor(half, 2)
	return fixed(value, n) + " ± " + fixed(half, n)
}

// placesFor returns the places behind the point that show so many digits of v.
func placesFor(v float64, digits int) int {
	n := max(digits-1-int(math.Floor(math.Log10(v))), 0)
	// 0.0996 is 0.10 with two digits.
	if scale := math.Pow(10, float64(n)); n > 0 && math.Round(v*scale) >= math.Pow(10, float64(digits)) {
		n--
	}
	return n
}

// shownTo prints v with n significant digits, zeros among them.
func shownTo(v float64, n int) string {
	size := math.Abs(v)
	if !(size >= 1e-5 && size < 1e9) {
		return digits(v, n)
	}
	return fixed(v, placesFor(size, n))
}

func fixed(v float64, places int) string { return strconv.FormatFloat(v, 'f', places, 64) }

// between writes the ends of an interval to the same place.
func between(low, high float64) string {
	half := (high - low) / 2
	if !(half > 1e-5) || math.IsInf(half, 0) {
		return digits(low, 3) + " to " + digits(high, 3)
	}
	n := placesFor(half, 2)
	return fixed(low, n) + " to " + fixed(high, n)
}

// words turns a name of the results into plain words.
func words(name string) string { return strings.ReplaceAll(name, "_", " ") }

// decibels returns a ratio in dB.
func decibels(ratio float64) float64 { return 20 * math.Log10(ratio) }

// ratio returns dB as a ratio.
func ratio(dB float64) float64 { return math.Pow(10, dB/20) }

// degrees returns an angle in degrees.
func degrees(rad float64) float64 { return rad * 180 / math.Pi }

const hertz = 1 / (2 * math.Pi) // rad/s -> Hz
