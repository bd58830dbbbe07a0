package machine

import (
	"errors"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"

	"eha/strokewise/ident/trace"
)

// whole states every key of the machine file.
const whole = `name = "tilt table, left actuator"
[cylinder]
bore = "50 mm"
rod = "28 mm"
stroke = "300 mm"
[pump]
displacement = "5 cm3/rev"
min_speed = "100 rpm"          # a comment
[motor]
max_speed = "3000 rpm"
peak_torque = "20 Nm"
continuous_torque = "8 Nm"
torque_constant = "1.1 Nm/A"
[reservoir]
preload = "2 bar"
volume = "0.6 L"
[valve]
holding = false
[limits]
working_pressure = "160 bar"
relief = "200 bar"
speed = "250 mm/s"
stroke_margin = "10 mm"
force = "25 kN"
[load]
mass = "250 kg"
mass_range = ["150 kg", "600 kg"]
angle = "90 deg"
force_range = ["-8 kN", "3 kN"]
[contact]
position = "210 mm"
presses = "retract"
stiffness = ["5 kN/mm", "20 kN/mm"]
[controller]
period = "1 ms"
outer_delay = "1.5 ms"
scale = "direction"
gains = "one"
integral = true
feedforward = false
ratio_bits = 16
resolution = { kp = "0.1 1/s", velocity_feedforward = 0.01, speed_limit = "10 rpm" }
[channels]
time              = { column = "t",     unit = "ms" }
motor_position    = { column = "enc",   unit = "counts", counts_per_rev = 65536, wrap = 4294967296 }
rod_position      = { column = "lt",    unit = "mm", offset = "-12.4 mm" }
cap_pressure      = { column = "ai1", from = ["0.5 V", "9.5 V"], to = ["0 bar", "250 bar"] }
rod_pressure      = { column = "pB",    unit = "psi", reference = "absolute" }
motor_torque      = { column = "q", unit = "%", full_scale = "12.5 Nm", sign = -1 }
oil_temperature   = { column = "temp",  unit = "degC", offset = "-2 degC" }
`

func wholeMachine() *Machine {
	right := math.Pi / 2
	rpm := math.Pi / 30
	return &Machine{
		Name:       "tilt table, left actuator",
		Cylinder:   Cylinder{0.050, 0.028, 0.3},
		Pump:       Pump{5e-6 / (2 * math.Pi), 100 * rpm},
		Motor:      Motor{3000 * rpm, 20, 8, 1.1},
		Reservoir:  Reservoir{2e5, 0.6e-3},
		Limits:     Limits{WorkingPressure: 160e5, Relief: 200e5, Speed: 0.25, StrokeMargin: 0.01, Force: 25e3, ForcePull: 25e3},
		Load:       Load{250, [2]float64{150, 600}, &right, [2]float64{-8e3, 3e3}},
		Contact:    Contact{0.21, true, [2]float64{5e6, 20e6}},
		Controller: Controller{Period: 1e-3, OuterDelay: 1.5e-3, Scale: ScaleDirection, OneGain: true, Integral: Yes, Feedforward: No, RatioBits: 16, Resolution: map[string]float64{"kp": 0.1, "velocity_feedforward": 0.01, "speed_limit": 10}},
		Channels: map[trace.Channel]trace.Column{
			trace.Time:           {Header: "t", Unit: "ms"},
			trace.MotorPosition:  {Header: "enc", Unit: "counts", CountsPerRev: 65536, Wrap: 1 << 32},
			trace.RodPosition:    {Header: "lt", Unit: "mm", Offset: -0.0124},
			trace.CapPressure:    {Header: "ai1", Unit: "V", From: [2]float64{0.5, 9.5}, To: [2]float64{0, 250e5}},
			trace.RodPressure:    {Header: "pB", Unit: "psi", Absolute: true},
			trace.MotorTorque:    {Header: "q", Unit: "%", FullScale: 12.5, Sign: -1},
			trace.OilTemperature: {Header: "temp", Unit: "degC", Offset: -2},
		},
	}
}

// rounding allows for a decimal factor that is not exact in binary.
var rounding = cmpopts.EquateApprox(1e-13, 1e-15)

func TestParseReadsEveryKey(t *testing.T) {
	got, err := Parse([]byte(whole), "machine.toml")
	if err != nil {
		t.Fatal(err)
	}
	if diff := cmp.Diff(wholeMachine(), got, rounding); diff != "" {
		t.Error(diff)
	}
}

func TestParseTakesInchUnits(t *testing.T) {
	got, err := Parse([]byte("[cylinder]\nbore = \"2 in\"\n[pump]\ndisplacement = \"0.5 in3/rev\"\n[reservoir]\nvolume = \"0.25 gal\"\npreload = \"30 psi\"\n[load]\nmass = \"100 lb\"\n"), "m.toml")
	if err != nil {
		t.Fatal(err)
	}
	want := &Machine{Cylinder: Cylinder{Bore: 0.0508}, Pump: Pump{Displacement: 0.5 * 16.387064e-6 / (2 * math.Pi)},
		Reservoir: Reservoir{Preload: 30 * 6894.757293168, Volume: 0.25 * 3.785411784e-3}, Load: Load{Mass: 45.359237}}
	if diff := cmp.Diff(want, got, cmpopts.EquateApprox(1e-12, 0)); diff != "" {
		t.Error(diff)
	}
}

func TestAnEmptyFileIsAMachineThatSaysNothing(t *testing.T) {
	for _, text := range []string{"", "\n# nothing\n", "[cylinder]\n", "[channels]\n"} {
		got, err := Parse([]byte(text), "m.toml")
		if err != nil || !cmp.Equal(got, &Machine{}) {
			t.Errorf("%q: %+v, %v", text, got, err)
		}
	}
}

func TestParseRefuses(t *testing.T) {
	cases := []struct {
		name, text string
		line       int
		key        string
		want       string
	}{
		{"bare number", "[cylinder]\nbore = 50\n", 2, "cylinder.bore", `such as "50 mm"`},
		{"number in a text", "[cylinder]\n\nbore = \"50\"\n", 3, "cylinder.bore", `such as "50 mm"`},
		{"other dimension", "[cylinder]\nbore = \"50 bar\"\n", 2, "cylinder.bore", "bar is a pressure, needed a length"},
		{"unknown key", "[cylinder]\nbor = \"50 mm\"\n", 2, "cylinder.bor", `did you mean "cylinder.bore"`},
		{"key under the wrong table", "[pump]\nbore = \"50 mm\"\n", 2, "pump.bore", `did you mean "cylinder.bore"`},
		{"unknown table", "[colour]\nred = 1\n", 2, "colour.red", "unknown key"},
		{"table in place of a key", "cylinder = 3\n", 1, "cylinder", "table of its own"},
		{"not a number", "[load]\nmass = nan\n", 2, "load.mass", "with its unit"},
		{"infinite", "[load]\nmass = \"inf kg\"\n", 2, "load.mass", "number"},
		{"negative", "[load]\nmass = \"-3 kg\"\n", 2, "load.mass", "greater than zero"},
		{"zero", "[cylinder]\nstroke = \"0 mm\"\n", 2, "cylinder.stroke", "greater than zero"},
		{"far out", "[cylinder]\nbore = \"50 m\"\n", 2, "cylinder.bore", "check the unit"},
		{"rod as thick as the bore", "[cylinder]\nbore = \"50 mm\"\nrod = \"50 mm\"\n", 3, "cylinder.rod", "not thinner"},
		{"margins over the stroke", "[cylinder]\nstroke = \"20 mm\"\n[limits]\nstroke_margin = \"10 mm\"\n", 4, "limits.stroke_margin", "leaves nothing"},
		{"contact beyond the stroke", "[cylinder]\nstroke = \"200 mm\"\n[contact]\nposition = \"210 mm\"\n", 4, "contact.position", "not within the stroke"},
		{"neither way", "[contact]\npresses = \"down\"\n", 2, "contact.presses", "needs one of"},
		{"low above high", "[load]\nmass_range = [\"3 kg\", \"2 kg\"]\n", 2, "load.mass_range", "above the high end"},
		{"range of one", "[load]\nmass_range = [\"3 kg\"]\n", 2, "load.mass_range", "low and high"},
		{"mass out of its range", "[load]\nmass = \"5 kg\"\nmass_range = [\"2 kg\", \"3 kg\"]\n", 2, "load.mass", "outside load.mass_range"},
		{"preload over the relief", "[reservoir]\npreload = \"9 bar\"\n[limits]\nrelief = \"8 bar\"\n", 2, "reservoir.preload", "not below limits.relief"},
		{"steep angle", "[load]\nangle = \"120 deg\"\n", 2, "load.angle", "90 deg"},
		{"unknown word", "[controller]\nscale = \"double\"\n", 2, "controller.scale", "single"},
		{"number for a yes", "[controller]\nintegral = 1\n", 2, "controller.integral", "true or false"},
		{"bits as text", "[controller]\nratio_bits = \"16\"\n", 2, "controller.ratio_bits", "whole number"},
		{"unknown setting", "[controller]\nresolution = { kq = \"1 1/s\" }\n", 2, "controller.resolution.kq", "did you mean \"k"},
		{"infinite step", "[controller]\nresolution = { velocity_feedforward = inf }\n", 2, "controller.resolution.velocity_feedforward", "quantity"},
		{"unknown channel", "[channels]\nrod_pos = { column = \"a\" }\n", 2, "channels.rod_pos", `did you mean "rod_position"`},
		{"unknown channel key", "[channels.rod_position]\ncolumn = \"a\"\nunits = \"mm\"\n", 3, "channels.rod_position.units", `did you mean "unit"`},
		{"unit of another kind", "[channels]\nrod_position = { column = \"a\", unit = \"bar\" }\n", 2, "channels.rod_position", "needed a length"},
		{"unknown unit", "[channels]\nrod_position = { column = \"a\", unit = \"smoot\" }\n", 2, "channels.rod_position.unit", "unknown unit"},
		{"counts alone", "[channels]\nmotor_position = { column = \"a\", unit = \"counts\" }\n", 2, "channels.motor_position", "counts_per_rev"},
		{"offset without unit", "[channels]\nrod_position = { column = \"a\", unit = \"mm\", offset = 3 }\n", 2, "channels.rod_position.offset", "with its unit"},
		{"sign of two", "[channels]\nrod_position = { column = \"a\", sign = 2 }\n", 2, "channels.rod_position.sign", "1 or -1"},
		{"from without to", "[channels]\nrod_position = { column = \"a\", from = [\"0 V\", \"10 V\"] }\n", 2, "channels.rod_position", "belong together"},
		{"one point twice", "[channels]\nrod_position = { column = \"a\", from = [\"1 V\", \"1 V\"], to = [\"0 mm\", \"9 mm\"] }\n", 2, "channels.rod_position", "different points"},
		{"from in two kinds", "[channels]\nrod_position = { column = \"a\", from = [\"1 V\", \"9 mA\"], to = [\"0 mm\", \"9 mm\"] }\n", 2, "channels.rod_position.from", "same kind"},
		{"absolute length", "[channels]\nrod_position = { column = \"a\", reference = \"absolute\" }\n", 2, "channels.rod_position.reference", "pressures only"},
		{"column as a bare text", "[channels]\nrod_position = \"lt\"\n", 2, "channels.rod_position", "needs a table"},
		{"broken TOML", "[cylinder\nbore = \"50 mm\"\n", 1, "", "not valid TOML"},
		{"open quotation marks", "[cylinder]\nbore = \"50 mm\nrod = \"28 mm\"\n", 2, "", "close the quotation marks"},
		{"decimal comma", "name = 63,0\n", 1, "", "not valid TOML"},
		{"key twice", "[load]\nmass = \"1 kg\"\nmass = \"2 kg\"\n", 3, "", "not valid TOML"},
		{"steering characters", "[load]\n\"\\u001b[2J\" = 1\n", 2, "load.·[2J", "unknown key"},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			_, err := Parse([]byte(c.text), "m.toml")
			var fault *FileError
			if !errors.As(err, &fault) {
				t.Fatalf("error %v is no *FileError", err)
			}
			if fault.Line != c.line || fault.Key != c.key || !strings.Contains(fault.Problem, c.want) {
				t.Errorf("%v\nwant line %d, key %q, a message with %q", err, c.line, c.key, c.want)
			}
			if strings.ContainsAny(err.Error(), "\n\x1b") || !strings.HasPrefix(err.Error(), "machine: m.toml:") {
				t.Errorf("not one clean line: %q", err)
			}
		})
	}
}

func TestRigMachineFilesParse(t *testing.T) {
	files, err := filepath.Glob("../../../shared/rigs/*/machine.toml")
	if err != nil || len(files) == 0 {
		t.Skip("the shared rigs are not beside this module")
	}
	for _, f := range files {
		data, err := os.ReadFile(f)
		if err != nil {
			t.Fatal(err)
		}
		if _, err := Parse(data, f); err != nil {
			t.Error(err)
		}
	}
}

func FuzzParse(f *testing.F) {
	f.Add([]byte(whole))
	f.Add([]byte("[channels.rod_position]\ncolumn = \"a\"\nfrom = [1, 2]\nto = [\"0 mm\", \"1 mm\"]\n"))
	f.Add([]byte("a.b.c.d = { e = [[1], {f = 1}] }\n[[x]]\n[x.y]\n"))
	f.Fuzz(func(t *testing.T, data []byte) {
		m, err := Parse(data, "m.toml")
		if err != nil {
			if strings.ContainsAny(err.Error(), "\n\x1b\r") {
				t.Errorf("not one clean line: %q", err)
			}
			return
		}
		saved, err := SaveChannels(data, m.Channels)
		if err != nil {
			return // a form that cannot be edited is refused, not spoilt
		}
		again, err := Parse(saved, "m.toml")
		if err != nil {
			t.Fatalf("saved file does not parse: %v\n%s", err, saved)
		}
		if diff := cmp.Diff(m, again, cmpopts.EquateApprox(1e-9, 1e-12)); diff != "" {
			t.Errorf("saving what is there changed it: %s", diff)
		}
	})
}
