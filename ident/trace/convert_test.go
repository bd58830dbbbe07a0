package trace

import (
	"fmt"
	"math"
	"strings"
	"testing"
)

// column reads one column with what is stated of it and returns its samples.
func column(t *testing.T, c Channel, header string, values []float64, stated Column) ([]float64, *Reading) {
	t.Helper()
	var b strings.Builder
	fmt.Fprintf(&b, "time_s,%s,rod_speed\n", header)
	for i, v := range values {
		fmt.Fprintf(&b, "%.3f,%.10g,1\n", float64(i)*1e-3, v)
	}
	opt := ReadOptions{}
	if stated != (Column{}) {
		opt.Columns = map[Channel]Column{c: stated}
	}
	r := readText(t, b.String(), opt)
	x, ok := r.Trace.Samples(c)
	if !ok {
		t.Fatalf("%s is absent", c)
	}
	return x, r
}

func TestScaling(t *testing.T) {
	cases := []struct {
		name   string
		c      Channel
		raw    float64
		stated Column
		want   float64
	}{
		{"volts to mm", RodPosition, 5, Column{Header: "ai", Unit: "V", From: [2]float64{0.5, 9.5}, To: [2]float64{0, 0.3}}, 0.15},
		{"milliamps to bar", CapPressure, 12, Column{Header: "ai", Unit: "mA", From: [2]float64{4, 20}, To: [2]float64{0, 250e5}}, 125e5},
		{"counts to kN", Force, 16384, Column{Header: "ai", Unit: "counts", From: [2]float64{0, 32768}, To: [2]float64{-50e3, 50e3}}, 0},
		{"percent of a travel", RodPosition, 25, Column{Header: "ai", Unit: "%", FullScale: 0.4}, 0.1},
		{"percent of a torque, flipped", MotorTorque, -50, Column{Header: "ai", Unit: "%", FullScale: 12.5, Sign: -1}, 6.25},
		{"offset", RodPosition, 112.4, Column{Header: "ai", Unit: "mm", Offset: -0.0124}, 0.1},
		{"sign before offset", RodPosition, -250, Column{Header: "ai", Unit: "mm", Sign: -1, Offset: -0.05}, 0.2},
		{"absolute by statement", CapPressure, 11.01325, Column{Header: "ai", Unit: "bar", Absolute: true}, 10e5},
		{"absolute by unit", CapPressure, 11.01325, Column{Header: "ai", Unit: "bara"}, 10e5},
		{"absolute, said twice", CapPressure, 11.01325, Column{Header: "ai", Unit: "bara", Absolute: true}, 10e5},
		{"absolute and scaled", CapPressure, 5, Column{Header: "ai", Unit: "V", From: [2]float64{0, 10}, To: [2]float64{0, 400e5}, Absolute: true}, 200e5 - 101325},
		{"Fahrenheit", OilTemperature, 104, Column{Header: "ai", Unit: "degF"}, 313.15},
		{"counts of an encoder", MotorPosition, 1024, Column{Header: "ai", Unit: "counts", CountsPerRev: 4096}, math.Pi / 2},
		{"absent sign", SpeedCommand, 30, Column{Header: "ai", Unit: "rpm"}, math.Pi},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			x, _ := column(t, c.c, "ai", []float64{c.raw, c.raw, c.raw}, c.stated)
			if math.Abs(x[1]-c.want) > 1e-9*math.Max(1, math.Abs(c.want)) {
				t.Errorf("%g reads as %.12g, want %.12g", c.raw, x[1], c.want)
			}
		})
	}
}

func TestEncoderWrap(t *testing.T) {
	const turns = 40.0
	turned := make([]float64, 4000) // turns, to and fro with a stop
	for i := range turned {
		turned[i] = turns*math.Sin(float64(i)*0.003) + 0.3
	}
	type wrap struct {
		name    string
		counts  float64 // per turn
		modulus float64
		signed  bool
		stated  float64
		unit    string
	}
	cases := []wrap{
		{"stated", 4096, 65536, false, 65536, "counts"},
		{"stated, not a power of two", 4000, 100000, false, 100000, "counts"},
		{"16 bits", 4096, 65536, false, 0, "counts"},
		{"16 bits signed", 4096, 65536, true, 0, "counts"},
		{"20 bits", 65536, 1 << 20, false, 0, "counts"},
		{"one turn", 8192, 8192, false, 0, "counts"},
		{"one turn of 10000", 10000, 10000, false, 0, "counts"},
		{"degrees", 360, 360, false, 0, "deg"},
		{"turns of one", 1, 1, false, 0, "rev"},
		{"never", 4096, 1 << 40, true, 0, "counts"},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			raw := make([]float64, len(turned))
			for i, v := range turned {
				n := v * c.counts
				if c.unit == "counts" {
					n = math.Round(n)
				}
				n -= c.modulus * math.Floor(n/c.modulus)
				if c.signed && n >= c.modulus/2 {
					n -= c.modulus
				}
				raw[i] = n
			}
			x, r := column(t, MotorPosition, "enc", raw, Column{Header: "enc", Unit: c.unit, CountsPerRev: c.counts * b2f(c.unit == "counts"), Wrap: c.stated})
			shift := x[0] - turned[0]*2*math.Pi
			for i := range x {
				if math.Abs(x[i]-shift-turned[i]*2*math.Pi) > 2*math.Pi/c.counts+1e-6 {
					t.Fatalf("sample %d is %g rev, want %g", i, (x[i]-shift)/(2*math.Pi), turned[i])
				}
			}
			if want := c.name != "never"; (r.Wrap.Count > 0) != want || want && r.Wrap.Modulus != c.modulus || r.Wrap.Stated != (c.stated > 0) {
				t.Errorf("wrap %+v, want modulus %g", r.Wrap, c.modulus)
			}
		})
	}
}

// Every size of counter, plain and signed, up to 0.4 of its range from row to row.
func TestEncoderWrapOfEverySize(t *testing.T) {
	for bits := 12; bits <= 32; bits++ {
		for _, signed := range []bool{false, true} {
			modulus := math.Ldexp(1, bits)
			var b strings.Builder
			b.WriteString("time_s,enc,rod_position_mm\n")
			at := func(i int) float64 { return math.Round(modulus * (0.7 + 20*math.Sin(float64(i)*0.02))) }
			for i := range 1000 {
				n := at(i) - modulus*math.Floor(at(i)/modulus)
				if signed && n >= modulus/2 {
					n -= modulus
				}
				fmt.Fprintf(&b, "%.3f,%.0f,%d\n", float64(i)*1e-3, n, i)
			}
			r := readText(t, b.String(), ReadOptions{Columns: map[Channel]Column{MotorPosition: {Header: "enc", Unit: "counts", CountsPerRev: 4096}}})
			x, _ := r.Trace.Samples(MotorPosition)
			for i := range x {
				if d := (x[i]-x[0])*4096/(2*math.Pi) - (at(i) - at(0)); math.Abs(d) > 1e-6*modulus || r.Wrap.Modulus != modulus {
					t.Fatalf("%d bits, signed %v: sample %d off by %g counts, wrap %+v", bits, signed, i, d, r.Wrap)
				}
			}
		}
	}
}

// Units of force, torque, current and temperature; factors as in quantity's table.
func TestUnitsOfTheOtherChannels(t *testing.T) {
	for _, c := range []struct {
		header string
		c      Channel
		raw    float64
		want   float64
	}{
		{"Force [kN]", Force, 2, 2000}, {"Force [N]", Force, 2000, 2000}, {"Force_N", Force, 2000, 2000}, {"Force [lbf]", Force, 1000, 4448.2216152605},
		{"Force command_N", ForceCommand, 2000, 2000}, {"Force command [kN]", ForceCommand, 2, 2000},
		{"Motor torque [Nm]", MotorTorque, 5, 5}, {"Motor torque [N.m]", MotorTorque, 5, 5}, {"Motor torque [N·m]", MotorTorque, 5, 5},
		{"Motor current [A]", MotorCurrent, 5, 5}, {"Motor current [A_rms]", MotorCurrent, 5, 5}, {"Motor current [mA]", MotorCurrent, 5000, 5},
		{"Oil temperature [degC]", OilTemperature, 40, 313.15}, {"Oil temperature [°C]", OilTemperature, 40, 313.15}, {"Oil temperature [deg. C]", OilTemperature, 40, 313.15},
		{"Oil temperature [degF]", OilTemperature, 104, 313.15}, {"Oil temperature [K]", OilTemperature, 313.15, 313.15},
		{"Motor speed [min^-1]", MotorSpeed, 30, math.Pi}, {"Motor speed [min-1]", MotorSpeed, 30, math.Pi}, {"Motor speed [U/min]", MotorSpeed, 30, math.Pi},
		{"Rod position [inches]", RodPosition, 10, 0.254}, {"Rod position [in.]", RodPosition, 10, 0.254}, {"Rod position [micron]", RodPosition, 254000, 0.254},
	} {
		x, _ := column(t, c.c, c.header, []float64{c.raw, c.raw, c.raw}, Column{})
		if math.Abs(x[1]-c.want) > 1e-9*c.want {
			t.Errorf("%s: %g reads as %.12g, want %.12g", c.header, c.raw, x[1], c.want)
		}
	}
}

func b2f(b bool) float64 {
	if b {
		return 1
	}
	return 0
}

// Three hundred missing rows in fast motion hold more than half the encoder's range.
func TestEncoderWrapOverMissingRows(t *testing.T) {
	var b strings.Builder
	b.WriteString("time_s,enc,rod_position_mm\n")
	at := func(i int) float64 { return 45 * float64(i) * 1e-3 } // turns
	for i := range 3000 {
		if i >= 1000 && i < 1300 {
			continue
		}
		counts := math.Mod(math.Round(at(i)*4096), 65536)
		fmt.Fprintf(&b, "%.3f,%.0f,%d\n", float64(i)*1e-3, counts, i)
	}
	r := readText(t, b.String(), ReadOptions{Columns: map[Channel]Column{MotorPosition: {Header: "enc", Unit: "counts", CountsPerRev: 4096}}})
	x, _ := r.Trace.Samples(MotorPosition)
	if got := x[2999] / (2 * math.Pi); math.Abs(got-at(2999)) > 1./4096 {
		t.Errorf("ends at %g rev, want %g", got, at(2999))
	}
}

func TestAStatedChannelThatIsNotThereIsAbsent(t *testing.T) {
	r := readText(t, strings.Join(ten(), "\n"), ReadOptions{Columns: map[Channel]Column{
		CapPressure: {Header: "pA", Unit: "bar"}, PositionCommand: {Header: "x_set", Unit: "mm"}}})
	if r.Trace.Has(CapPressure) || r.Trace.Has(PositionCommand) || !r.Trace.Has(MotorPosition, RodPosition) {
		t.Errorf("channels %v", r.Trace.Channels())
	}
}

func TestStatedColumnsAreFoundByAnySpelling(t *testing.T) {
	for _, header := range []string{"LT 1", "lt 1", "LT 1 [mm]", "lt_1"} {
		r := readText(t, "time_s;LT 1 [mm];enc [rev]\n0;1;2\n0,001;2;3\n0,002;3;4\n", ReadOptions{Columns: map[Channel]Column{RodPosition: {Header: header}}})
		if x, ok := r.Trace.Samples(RodPosition); !ok || x[2] != 0.003 {
			t.Errorf("%q: %v %v", header, x, ok)
		}
	}
}

// An encoder that wraps counts on over cells that hold no number.
func TestEncoderWrapWithLostCells(t *testing.T) {
	var b strings.Builder
	b.WriteString("time_s,enc,rod_position_mm\n")
	at := func(i int) float64 { return 20 * math.Sin(float64(i)*1e-3) } // turns
	for i := range 6000 {
		counts := math.Round(at(i) * 4096)
		cell := fmt.Sprintf("%.0f", counts-65536*math.Floor(counts/65536))
		if i%500 == 77 {
			cell = ""
		}
		fmt.Fprintf(&b, "%.3f,%s,%d\n", float64(i)*1e-3, cell, i)
	}
	r := readText(t, b.String(), ReadOptions{Columns: map[Channel]Column{MotorPosition: {Header: "enc", Unit: "counts", CountsPerRev: 4096}}})
	x, _ := r.Trace.Samples(MotorPosition)
	if got := (x[5999] - x[0]) / (2 * math.Pi); r.Wrap.Modulus != 65536 || math.Abs(got-at(5999)) > 1./4096 {
		t.Errorf("wrap %+v, ends at %g rev, want %g", r.Wrap, got, at(5999))
	}
}
