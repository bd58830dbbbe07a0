package record

import (
	"strings"
	"testing"

	"eha/strokewise/ident/plant"
)

// A plant file is kept for years, mailed and edited. What no machine can be gets one
// line; before, some of these ended in a panic, in all of the memory or never.
func TestDecodePlantRefusesWhatNoMachineIs(t *testing.T) {
	good, err := EncodePlant(somePlant())
	if err != nil {
		t.Fatal(err)
	}
	replace := func(old, by string) string {
		if !strings.Contains(string(good), old) {
			t.Fatalf("the document holds no %s", old)
		}
		return strings.Replace(string(good), old, by, 1)
	}
	for _, c := range []struct{ name, text, want string }{
		{"mass beyond all", replace(`"Mass": 250`, `"Mass": 1e308`), "1e308 is no number of a machine"},
		{"mass that is no number", replace(`"Mass": 250`, `"Mass": NaN`), "not a plant file"},
		{"mass beyond floating point", replace(`"Mass": 250`, `"Mass": 1e999`), "not a plant file"},
		{"mass so small that the oil rings at megahertz", replace(`"Mass": 250`, `"Mass": 1e-8`), "give a mode of"},
		{"mass as a text", replace(`"Mass": 250`, `"Mass": "250 kg"`), "not a plant file"},
		{"mass twice", replace(`"Mass": 250`, `"Mass": 250, "Mass": 900`), `"Mass" stands twice`},
		{"mass left out", replace(`"Mass": 250,`, ``), "mass is 0"},
		{"controller of no period", replace(`"ControllerPeriod": 0.001`, `"ControllerPeriod": 1e-15`), "controller period"},
		{"negative area", replace(`"Cap": 0.002`, `"Cap": -0.002`), "cap area is -0.002"},
		{"negative bore", replace(`"Bore": 0.05`, `"Bore": -0.05`), "cylinder.bore"},
		{"bore of a light year", replace(`"Bore": 0.05`, `"Bore": 1e16`), "cylinder.bore"},
		{"scale of another kind", replace(`"Scale": 0`, `"Scale": 99`), "controller.scale"},
		{"ratio of too many bits", replace(`"RatioBits": 0`, `"RatioBits": 64`), "controller.ratio_bits"},
		{"mass range of less than nothing", replace(`"MassRange": [
          0,
          0
        ]`, `"MassRange": [-3, 5]`), "load.mass_range"},
		{"places without loads", replace(`"position_mm": []`, `"position_mm": [null, null]`), "lists differ in length"},
		{"place of null", replace(`"position_mm": [
      0,`, `"position_mm": [
      null,`), "null stands for a number"},
		{"place that goes back", replace(`"position_mm": [
      0,`, `"position_mm": [
      900,`), "must increase"},
		{"no travel a turn", replace(`"value": 2.55`, `"value": 0`), "parameter stroke_per_turn_extend"},
		{"next to no travel a turn in the map", replace(`"extend_mm_per_rev": [
      2.513274,`, `"extend_mm_per_rev": [
      1e-300,`), "no travel per turn"},
		{"deep nesting", strings.Repeat(`{"format":`, 20000), "not a plant file"},
		{"deep lists", `{"format":"strokewise.plant/1","logs":` + strings.Repeat("[", 20000), "not a plant file"},
		{"list in place of a model", replace(`"si": {`, `"si": [], "x": {`), "not a plant file"},
	} {
		t.Run(c.name, func(t *testing.T) {
			_, err := DecodePlant([]byte(c.text), "p.json")
			if err == nil || !strings.Contains(err.Error(), c.want) || strings.Contains(err.Error(), "\n") {
				t.Errorf("got %v, want an error of one line with %q", err, c.want)
			}
		})
	}
}

// A response of a chamber that is neither is left out: its name would be a panic.
func TestDecodePlantLeavesOddResponsesOut(t *testing.T) {
	p := somePlant()
	p.Evidence.Responses = []plant.FrequencyResponse{{From: "motor_position", To: "cap_pressure", Chambers: true, Omega: []float64{1},
		Measured: []complex128{1}, Coherence: []float64{1}, RelError: []float64{0.1}}}
	data, err := EncodePlant(p)
	if err != nil {
		t.Fatal(err)
	}
	for _, odd := range []string{`"Chamber": 7`, `"Chamber": 0`} {
		got, err := DecodePlant([]byte(strings.Replace(string(data), `"Chamber": 0`, odd, 1)), "p.json")
		if err != nil {
			t.Fatal(err)
		}
		if want := map[bool]int{true: 0, false: 1}[odd == `"Chamber": 7`]; len(got.Evidence.Responses) != want {
			t.Errorf("%s: %d responses, want %d", odd, len(got.Evidence.Responses), want)
		}
	}
}
