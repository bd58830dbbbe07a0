package record

import (
	"encoding/json"
	"math"
	"strings"
	"testing"

	"eha/strokewise/ident/machine"
	"eha/strokewise/ident/plant"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"
)

func somePlant() *plant.Plant {
	oil := plant.Oil{Fixed: 1e-13, Modulus: 1.4e9, Air: 0.01, AirVolume: 5e-5}
	return &plant.Plant{
		Machine: machine.Machine{Name: "bench", Cylinder: machine.Cylinder{Bore: 0.05, Rod: 0.028, Stroke: 0.3}},
		Logs:    []plant.Log{{File: "a.csv", SHA256: "00", Rows: 10, Duration: 0.01, Period: 0.001}},
		Params: map[plant.Param]plant.Estimate{
			plant.StrokePerTurnExtend: plant.StrokePerTurnExtend.Found(2.55e-3/(2*math.Pi), 2.54e-3/(2*math.Pi), 2.56e-3/(2*math.Pi), "4 slow strokes"),
			plant.Slip:                plant.MissingFrom("press_hold"),
		},
		AreasKnown: true, MassKnown: true, PressuresSeen: true,
		Model: plant.Model{Area: plant.PerChamber[float64]{Cap: 2e-3, Rod: 1.3e-3}, Stroke: 0.3, Displacement: 8e-7, Leakage: 1e-13,
			Oil: plant.PerChamber[plant.Oil]{Cap: oil, Rod: oil}, Mass: 250, Coulomb: plant.PerDirection[float64]{Extend: 500, Retract: 480},
			Drive: plant.Drive{NaturalFreq: 300, Damping: 0.7, DeadTime: 0.001}, ControllerPeriod: 0.001,
			Contact: &plant.Contact{Presses: plant.Extend, Position: 0.2, Stiffness: 2e7}},
		StrokeMap: plant.StrokeMap{Position: []float64{0, 0.3}, PerTurn: plant.PerDirection[[]float64]{Extend: []float64{4e-4, 4e-4}, Retract: []float64{6e-4, 6e-4}}},
		Evidence: plant.Evidence{Slip: []plant.Point{{X: 1e6, Y: 2}}, Responses: []plant.FrequencyResponse{{From: "speed_command", To: "motor_speed",
			Omega: []float64{10}, Measured: []complex128{1 - 2i}, Coherence: []float64{1}, RelError: []float64{0.1}, Fitted: []complex128{1 - 1i}}}},
		SlipThinning: plant.SlipThinning{Temperature: 320, PerKelvin: plant.Estimate{Value: 0.04, Low: 0.03, High: 0.05, Status: plant.Identified}},
		Validation:   plant.Validation{HeldOut: 60, RodSpeed: 0.08, CapPressure: 0.12, RodPressure: 0.15, StrokeFromTurns: 2e-4, Verdict: "good"},
	}
}

func TestDecodePlantUndoesEncode(t *testing.T) {
	want := somePlant()
	data, err := EncodePlant(want)
	if err != nil {
		t.Fatal(err)
	}
	got, err := DecodePlant(data, "p.json")
	if err != nil {
		t.Fatal(err)
	}
	for _, p := range plant.Params() { // the file lists every parameter
		if _, ok := want.Params[p]; !ok {
			want.Params[p] = plant.Estimate{}
		}
	}
	if diff := cmp.Diff(want, got, cmpopts.EquateApprox(1e-6, 1e-18), cmpopts.EquateEmpty()); diff != "" {
		t.Error(diff)
	}
}

func TestEncodePlantKeepsContract(t *testing.T) {
	data, err := EncodePlant(somePlant())
	if err != nil {
		t.Fatal(err)
	}
	var got struct {
		Format     string
		Parameters map[string]map[string]any
		Validation map[string]any
	}
	if err := json.Unmarshal(data, &got); err != nil {
		t.Fatal(err)
	}
	if got.Format != "strokewise.plant/1" {
		t.Errorf("format %q", got.Format)
	}
	e := got.Parameters["stroke_per_turn_extend"]
	if v, _ := e["value"].(float64); math.Abs(v-2.55) > 1e-6 || e["unit"] != "mm/rev" || e["status"] != "identified" {
		t.Errorf("stroke_per_turn_extend = %v, want 2.55 mm/rev identified", e)
	}
	missing := got.Parameters["slip"]
	if missing["value"] != nil || missing["status"] != "missing" || missing["from"] != "press_hold" {
		t.Errorf("slip = %v, want null, missing, press_hold", missing)
	}
	if v := got.Validation["rod_speed_unexplained_pct"]; v != 8.0 {
		t.Errorf("rod_speed_unexplained_pct = %v, want 8", v)
	}
}

func TestDecodePlantNamesWhatIsWrong(t *testing.T) {
	good, err := EncodePlant(somePlant())
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct{ name, text, want string }{
		{"not JSON", "{", "p.json: not a plant file"},
		{"other format", `{"format":"x"}`, `expected "strokewise.plant/1"`},
		{"no model", `{"format":"strokewise.plant/1"}`, "found no plant"},
		{"no mass", strings.Replace(string(good), `"Mass": 250`, `"Mass": 0`, 1), "mass is 0"},
		{"interval upside down", strings.Replace(string(good), `"low": 2.54`, `"low": 3`, 1), "low not above high"},
	} {
		t.Run(c.name, func(t *testing.T) {
			_, err := DecodePlant([]byte(c.text), "p.json")
			if err == nil || !strings.Contains(err.Error(), c.want) {
				t.Errorf("got %v, want an error with %q", err, c.want)
			}
		})
	}
}

func FuzzDecodePlant(f *testing.F) {
	good, err := EncodePlant(somePlant())
	if err != nil {
		f.Fatal(err)
	}
	f.Add(good)
	f.Add([]byte(`{"format":"strokewise.plant/1","model":{}}`))
	f.Fuzz(func(t *testing.T, data []byte) {
		p, err := DecodePlant(data, "p.json")
		if err != nil {
			return
		}
		if err := p.Model.Check(); err != nil {
			t.Errorf("accepted a model that fails its own check: %v", err)
		}
		if _, err := EncodePlant(p); err != nil {
			t.Errorf("what was read cannot be written: %v", err)
		}
	})
}
