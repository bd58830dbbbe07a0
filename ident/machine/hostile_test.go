package machine

import (
	"errors"
	"math"
	"strings"
	"testing"
)

// Whatever stands in a machine file, there is one line that names place and fault. The
// key of many parts took the square of their number in memory before.
func TestParseOfHostileFiles(t *testing.T) {
	const many = 200_000
	for _, c := range []struct{ name, text, want string }{
		{"deep lists", "a = " + strings.Repeat("[", many), "not valid TOML"},
		{"deep lists, closed", "a = " + strings.Repeat("[", many) + strings.Repeat("]", many), "not valid TOML"},
		{"deep tables", "a = " + strings.Repeat("{a=", many) + "1" + strings.Repeat("}", many), "not valid TOML"},
		{"key of many parts", "[a" + strings.Repeat(".a", many) + "]\nb = 1\n", "unknown key"},
		{"keys of more and more parts", moreAndMore(1000), "unknown key"},
		{"huge list", "[load]\nmass_range = [" + strings.Repeat("\"1 kg\",", many) + "]\n", "low and high"},
		{"huge text", "[cylinder]\nbore = \"" + strings.Repeat("5", many) + " mm\"\n", "not a finite number"},
		{"huge key", strings.Repeat("k", many) + " = 1\n", "unknown key"},
		{"not a number", "[cylinder]\nbore = \"nan mm\"\n", "needed a number"},
		{"overflow", "[cylinder]\nbore = \"1e999 mm\"\n", "not a finite number"},
		{"overflow in SI", "[limits]\nforce = \"1e308 kN\"\n", "too large"},
		{"nearly so", "[limits]\nforce = \"1e300 kN\"\n", "not plausible"},
		{"range nearly so", "[load]\nforce_range = [\"-1e300 kN\", \"1e300 kN\"]\n", "not plausible"},
		{"mass range nearly so", "[load]\nmass_range = [\"1 kg\", \"1e300 kg\"]\n", "not plausible"},
		{"contact nearly so", "[contact]\nstiffness = [\"1 kN/mm\", \"1e300 kN/mm\"]\n", "not plausible"},
		{"margin nearly so", "[limits]\nstroke_margin = \"1e300 mm\"\n", "not plausible"},
		{"table twice", "[load]\nmass = \"1 kg\"\n[load]\nangle = \"0 deg\"\n", "not valid TOML"},
		{"list of tables", "[[load]]\nmass = \"1 kg\"\n", "table of its own"},
		{"bytes that are no text", "name = \"\xff\xfe\"\n", "not valid TOML"},
		{"NUL", "name = \"a\x00b\"\n", "not valid TOML"},
	} {
		t.Run(c.name, func(t *testing.T) {
			_, err := Parse([]byte(c.text), "m.toml")
			var fault *FileError
			if !errors.As(err, &fault) || !strings.Contains(fault.Problem, c.want) {
				t.Fatalf("got %.300v, want a *FileError with %q", err, c.want)
			}
			if text := err.Error(); strings.ContainsAny(text, "\n\x00") || len(text) > 1500 {
				t.Errorf("not one short line: %.200q, %d bytes", text, len(text))
			}
		})
	}
}

func moreAndMore(n int) string {
	var b strings.Builder
	for i := range n {
		b.WriteString("[a" + strings.Repeat(".a", i) + "]\n")
	}
	return b.String() + "b = 1\n"
}

// Check finds in a machine from elsewhere what Parse would not take.
func TestCheckNamesTheImpossible(t *testing.T) {
	steep := 2.0
	for want, m := range map[string]*Machine{
		"cylinder.bore":               {Cylinder: Cylinder{Bore: -1}},
		"cylinder.rod":                {Cylinder: Cylinder{Bore: 0.05, Rod: 0.06}},
		"limits.relief":               {Limits: Limits{Relief: math.NaN()}},
		"limits.stroke_margin":        {Limits: Limits{StrokeMargin: math.Inf(1)}},
		"load.mass_range":             {Load: Load{MassRange: [2]float64{0, 5}}},
		"load.force_range":            {Load: Load{ForceRange: [2]float64{5, -5}}},
		"load.angle":                  {Load: Load{Angle: &steep}},
		"controller.scale":            {Controller: Controller{Scale: 99}},
		"controller.ratio_bits":       {Controller: Controller{RatioBits: 63}},
		"controller.integral":         {Controller: Controller{Integral: -1}},
		"controller.resolution.kp":    {Controller: Controller{Resolution: map[string]float64{"kp": 0}}},
		"reservoir.preload":           {Reservoir: Reservoir{Preload: 9e5}, Limits: Limits{Relief: 8e5}},
		"controller.period":           {Controller: Controller{Period: 1e-9}},
		"contact.stiffness":           {Contact: Contact{Stiffness: [2]float64{1e6, 1e300}}},
		"motor.continuous_torque":     {Motor: Motor{PeakTorque: 5, ContinuousTorque: 6}},
		"controller.pressure_damping": {Controller: Controller{PressureDamping: 7}},
	} {
		if err := m.Check(); err == nil || !strings.Contains(err.Error(), "machine: "+want+": ") {
			t.Errorf("got %v, want an error about %s", err, want)
		}
	}
}

// What Parse takes, Check takes.
func TestCheckTakesWhatParseTakes(t *testing.T) {
	for _, text := range []string{"", whole} {
		m, err := Parse([]byte(text), "m.toml")
		if err != nil {
			t.Fatal(err)
		}
		if err := m.Check(); err != nil {
			t.Error(err)
		}
	}
}
