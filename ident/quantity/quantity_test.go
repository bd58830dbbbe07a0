package quantity

import (
	"errors"
	"math"
	"strings"
	"testing"
)

// Defined values, as listed in the handbooks: international inch and pound
// (1959), standard gravity (CGPM 1901), US gallon of 231 in³; the products are
// the printed ones, hence the relative limit of half a unit in their last place.
func TestFactors(t *testing.T) {
	cases := []struct {
		unit      string
		dimension Dimension
		si        float64
		limit     float64
	}{
		{"bar", Pressure, 1e5, 0},
		{"psi", Pressure, 6894.757293168, 1e-12},
		{"MPa", Pressure, 145.0377377 * 6894.757293168, 1e-9},
		{"kPa", Pressure, 1e3, 0},
		{"Pa", Pressure, 1, 0},
		{"kgf/cm2", Pressure, 98066.5, 1e-15},
		{"in", Length, 0.0254, 0},
		{"inch", Length, 0.0254, 0},
		{"mm", Length, 1e-3, 0},
		{"µm", Length, 1e-6, 0},
		{"μm", Length, 1e-6, 0},
		{"in3", Volume, 16.387064e-6, 1e-15},
		{"lbf", Force, 4.4482216152605, 1e-14},
		{"lb", Mass, 0.45359237, 0},
		{"rpm/(lbf s)", ForceGainRate, 2 * math.Pi / 60 / 4.4482216152605, 1e-14}, // by its words, from the rows above
		{"lbf in", Torque, 0.1129848290, 1e-9},
		{"lbf·ft", Torque, 1.3558179483, 1e-10},
		{"gal", Volume, 3.785411784e-3, 1e-15},
		{"gpm", Flow, 3.785411784e-3 / 60, 1e-15},
		{"L/min", Flow, 1.6667e-5, 3e-5},
		{"rpm", AngularSpeed, 0.1047197551, 1e-9},
		{"1/min", AngularSpeed, 0.1047197551, 1e-9},
		{"min⁻¹", AngularSpeed, 0.1047197551, 1e-9},
		{"rev/s", AngularSpeed, 2 * math.Pi, 1e-15},
		{"deg/s", AngularSpeed, math.Pi / 180, 1e-15},
		{"rad/s", AngularSpeed, 1, 0},
		{"cm3/rev", Displacement, 1.5915494e-7, 3.2e-8},
		{"cc/rev", Displacement, 1.5915494e-7, 3.2e-8},
		{"cm³/U", Displacement, 1.5915494e-7, 3.2e-8},
		{"in3/rev", Displacement, 16.387064e-6 / (2 * math.Pi), 1e-15},
		{"deg", Angle, math.Pi / 180, 1e-15},
		{"kN", Force, 1e3, 0},
		{"Nm", Torque, 1, 0},
		{"ms", Time, 1e-3, 0},
		{"µs", Time, 1e-6, 0},
		{"ns", Time, 1e-9, 0},
		{"%", Percent, 0.01, 0},
		{"N.m", Torque, 1, 0},
		{"in.", Length, 0.0254, 0},
		{"A_rms", Current, 1, 0},
		{"deg. C", Temperature, 1, 0},
		{"Sek", Time, 1, 0},
	}
	for _, c := range cases {
		u, ok := LookupAs(c.unit, c.dimension)
		if !ok {
			t.Errorf("%s: not found as %s", c.unit, c.dimension)
			continue
		}
		if got := math.Abs(u.Factor/c.si - 1); got > c.limit {
			t.Errorf("%s: factor %.15g, want %.15g within %g, off by %g", c.unit, u.Factor, c.si, c.limit, got)
		}
	}
}

// Fixed points of the scales: water freezes at 0 degC = 32 degF = 273.15 K;
// gauge zero is one standard atmosphere (101325 Pa), 14.696 psi absolute.
func TestScalesWithZero(t *testing.T) {
	cases := []struct {
		text  string
		d     Dimension
		si    float64
		limit float64
	}{
		{"0 degC", Temperature, 273.15, 1e-12},
		{"32 °F", Temperature, 273.15, 1e-12},
		{"212 degF", Temperature, 373.15, 1e-12},
		{"1.01325 bara", Pressure, 0, 1e-9},
		{"14.696 psia", Pressure, 0, 1},
		{"10 bar(a)", Pressure, 1e6 - 101325, 1e-9},
		{"10 barg", Pressure, 1e6, 0},
	}
	for _, c := range cases {
		got, err := Parse(c.text, c.d)
		if err != nil || math.Abs(got-c.si) > c.limit {
			t.Errorf("%s: got %g, %v; want %g within %g", c.text, got, err, c.si, c.limit)
		}
	}
}

func TestParse(t *testing.T) {
	cases := []struct {
		text string
		d    Dimension
		si   float64
	}{
		{"50 mm", Length, 0.05},
		{"50mm", Length, 0.05},
		{" -12.4 mm ", Length, -0.0124},
		{"−12.4 mm", Length, -0.0124},
		{"1e-3 m", Length, 1e-3},
		{"1E3mm", Length, 1},
		{"0.1 1/s", Rate, 0.1},
		{"+2 BAR", Pressure, 2e5},
		{"0.5 ms", Time, 0.5e-3},
		{"3000 rpm", AngularSpeed, 100 * math.Pi},
		{"6.3 cm3", Displacement, 6.3e-6 / (2 * math.Pi)},
		{"6.3 cm3", Volume, 6.3e-6},
		{"90°", Angle, math.Pi / 2},
		{"4", Number, 4},
	}
	for _, c := range cases {
		got, err := Parse(c.text, c.d)
		if err != nil || math.Abs(got-c.si) > 1e-15*math.Abs(c.si) {
			t.Errorf("%q as %s: got %g, %v; want %g", c.text, c.d, got, err, c.si)
		}
	}
}

func TestParseRefuses(t *testing.T) {
	cases := []struct {
		text string
		d    Dimension
		want string // a part of the message
	}{
		{"", Length, "needed a number"},
		{"mm", Length, "needed a number"},
		{"50", Length, "such as \"50 mm\""},
		{"50 bar", Length, "bar is a pressure, needed a length"},
		{"50 furlongs", Length, "unknown unit"},
		{"63,0 mm", Length, "point"},
		{"1_000 mm", Length, "not a number"},
		{"0x1p3 mm", Length, "unknown unit"},
		{"inf mm", Length, "needed a number"},
		{"nan mm", Length, "needed a number"},
		{"1e400 mm", Length, "not a finite number"},
		{"1e308 MPa", Pressure, "too large"},
		{"5 nm", Torque, "unknown unit"},
		{"5 mN", Force, "unknown unit"},
		{"1.2.3 mm", Length, "not a finite number"},
	}
	for _, c := range cases {
		got, err := Parse(c.text, c.d)
		if err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%q as %s: got %g, error %v; want an error with %q", c.text, c.d, got, err, c.want)
		}
	}
	if _, err := Parse("50", Length); !errors.Is(err, ErrNoUnit) {
		t.Errorf("a bare number: error %v does not wrap ErrNoUnit", err)
	}
}

func TestFormat(t *testing.T) {
	cases := []struct {
		si   float64
		d    Dimension
		s    System
		want string
	}{
		{0.0508, Length, Metric, "50.8 mm"},
		{0.0508, Length, Inch, "2 in"},
		{1e5, Pressure, Metric, "1 bar"},
		{1e7, Pressure, Inch, "1450 psi"},
		{293.15, Temperature, Metric, "20 degC"},
		{0, Length, Metric, "0 mm"},
		{123456, Force, Metric, "123.5 kN"},
		{3000 * math.Pi / 30, AngularSpeed, Metric, "3000 rpm"},
		{12345 * math.Pi / 30, AngularSpeed, Metric, "12345 rpm"},
		{0.75, Number, Inch, "0.75"},
		{math.NaN(), Length, Metric, "not identified"},
	}
	for _, c := range cases {
		if got := Format(c.si, c.d, c.s); got != c.want {
			t.Errorf("Format(%g, %s, %s) = %q, want %q", c.si, c.d, c.s, got, c.want)
		}
	}
}

// Every dimension can be shown in both systems, and every unit reads back what it prints.
func TestTableIsWhole(t *testing.T) {
	for d := Number; int(d) < len(dimensionNames); d++ {
		for _, s := range []System{Metric, Inch} {
			if u := Display(d, s); u.Factor == 0 || u.Dimension != d {
				t.Errorf("%s in %s: no unit of display", d, s)
			}
		}
	}
	for _, e := range units {
		for _, text := range append([]string{e.Symbol}, strings.Fields(e.also)...) {
			u, ok := LookupAs(text, e.Dimension)
			if !ok || u != e.Unit {
				t.Errorf("%q as %s gives %v, want %v", text, e.Dimension, u, e.Unit)
			}
		}
		if got := e.From(e.SI(7)); math.Abs(got-7) > 1e-9 {
			t.Errorf("%s: 7 comes back as %g", e.Symbol, got)
		}
	}
}

func TestIn(t *testing.T) {
	if got := In(2e5, "bar"); got != 2 {
		t.Errorf("In(2e5, bar) = %g, want 2", got)
	}
	defer func() {
		if recover() == nil {
			t.Error("In with an unknown unit did not panic")
		}
	}()
	In(1, "furlong")
}

func FuzzParse(f *testing.F) {
	for _, s := range []string{"50 mm", "1e-3m", "−4 °", "0.1 1/s", "1e400 bar", "\x00\xff"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, text string) {
		for _, d := range []Dimension{Length, Pressure, Number, Displacement} {
			if v, err := Parse(text, d); err == nil && (math.IsNaN(v) || math.IsInf(v, 0)) {
				t.Errorf("%q as %s gives %g without error", text, d, v)
			}
		}
	})
}
