package record

import (
	"encoding/json"
	"maps"
	"math"
	"slices"
	"strings"
	"testing"

	"eha/strokewise/ident/plant"
	"eha/strokewise/ident/quantity"
	"eha/strokewise/tuning"
	"eha/strokewise/tuning/law"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"
)

func someProposal() *tuning.Proposal {
	return &tuning.Proposal{
		Loops: law.Loops{
			Position: &law.Position{Period: 0.001, Kp: plant.PerDirection[float64]{Extend: 9, Retract: 8}, Feedforward: 1,
				Turns:      plant.PerDirection[float64]{Extend: 0.392 * 2 * math.Pi * 1e3, Retract: 0.269 * 2 * math.Pi * 1e3},
				SpeedLimit: 2700 * 2 * math.Pi / 60, Window: 2e-5, WindowTime: 0.1, Lowpass: 2 * math.Pi * 12},
			Force: &law.Force{Presses: plant.Retract, Period: 0.001, Kp: 0.8 * 2 * math.Pi / 1e3, Ki: 4 * 2 * math.Pi / 1e3,
				SpeedLimit: 300 * 2 * math.Pi / 60, ApproachSpeed: 0.012, TravelLimit: 0.003},
		},
		Targets: law.Targets{SensitivityPeak: 1.5, GainMargin: math.Pow(10, 9.0/20), PhaseMargin: math.Pi / 4},
		Margins: []tuning.Margin{{Loop: "position", Direction: plant.Extend, Position: 0.15, Mass: 250, MassFactor: 1, Stable: true,
			GainMargin: math.Inf(1), PhaseMargin: 62 * math.Pi / 180, Sensitivity: 1.5, DelayMargin: 0.006}},
		Predicted: []tuning.Step{{Loop: "position", From: 0.14, To: 0.15, Settling: tuning.Range{Value: math.Inf(1), Low: 0.3, High: math.Inf(1)}}},
		Events: []tuning.PressEvent{{Scenario: tuning.Scenario{ID: "press", Title: "Approach"}, Direction: plant.Retract, To: -6e3,
			PeakForce: tuning.Range{Value: 6.6e3, Low: 6.2e3, High: 7e3}, RodSpeed: tuning.Range{Value: 0.012}, Bounces: tuning.Range{High: 1}}},
	}
}

// What belongs beside the gains stands above them, once, and first among the JSON's warnings.
func TestForemostStandsAboveTheGains(t *testing.T) {
	p := someProposal()
	p.Foremost = []string{"These gains hold nothing."}
	p.Warnings = []string{p.Foremost[0], "A lesser one."}
	var out strings.Builder
	if err := WriteTune(&out, p, &plant.Plant{}, quantity.Metric); err != nil {
		t.Fatal(err)
	}
	said, gains, lesser := strings.Index(out.String(), p.Foremost[0]), strings.Index(out.String(), "  kp "), strings.Index(out.String(), "A lesser one.")
	if said < 0 || said > gains || gains > lesser || strings.Count(out.String(), p.Foremost[0]) != 1 {
		t.Errorf("said at %d, gains at %d, the lesser at %d:\n%s", said, gains, lesser, out.String())
	}
	data, err := EncodeProposal(p, &plant.Plant{})
	if err != nil || !strings.Contains(string(data), p.Foremost[0]) || strings.Index(string(data), p.Foremost[0]) > strings.Index(string(data), "A lesser one.") {
		t.Errorf("JSON %s, %v", data, err)
	}
}

// An event stands behind the steps, with the names of a step that it has figures for.
func TestEncodeProposalHoldsEvents(t *testing.T) {
	data, err := EncodeProposal(someProposal(), &plant.Plant{PressuresSeen: true})
	if err != nil {
		t.Fatal(err)
	}
	var got struct {
		Predicted []map[string]any `json:"predicted"`
	}
	if err := json.Unmarshal(data, &got); err != nil || len(got.Predicted) != 2 {
		t.Fatalf("%v: %v", err, got.Predicted)
	}
	want := map[string]any{"loop": "force", "event": "press", "direction": "retract", "from": 0.0, "to": -6.0, "unit": "kN",
		"peak_force_kN": 6.6, "rod_speed_mm_per_s": 12.0, "settling_s": nil}
	for name, v := range want {
		if got.Predicted[1][name] != v {
			t.Errorf("%s = %v, want %v", name, got.Predicted[1][name], v)
		}
	}
	band := got.Predicted[1]["band"].(map[string]any)
	if diff := cmp.Diff([]any{6.2, 7.0}, band["peak_force_kN"]); diff != "" {
		t.Error(diff)
	}
}

// The numbers are made up; their units stand in the names of the fields.
func TestEncodeProposalKeepsContractUnits(t *testing.T) {
	data, err := EncodeProposal(someProposal(), &plant.Plant{PressuresSeen: true})
	if err != nil {
		t.Fatal(err)
	}
	var got struct {
		Format   string
		Position map[string]any   `json:"position_loop"`
		Force    map[string]any   `json:"force_loop"`
		Targets  map[string]any   `json:"targets"`
		Margins  []map[string]any `json:"margins"`
		Steps    []map[string]any `json:"predicted"`
	}
	if err := json.Unmarshal(data, &got); err != nil {
		t.Fatal(err)
	}
	for name, want := range map[string]float64{"kp_extend_per_s": 9, "turns_per_mm_extend": 0.392, "turns_per_mm_retract": 0.269,
		"speed_limit_rpm": 2700, "window_mm": 0.02, "speed_lowpass_hz": 12} {
		if v, ok := got.Position[name].(float64); !ok || math.Abs(v-want) > 1e-6*want {
			t.Errorf("position_loop.%s = %v, want %g", name, got.Position[name], want)
		}
	}
	for name, want := range map[string]float64{"kp_rev_per_s_per_kN": 0.8, "ki_rev_per_s2_per_kN": 4, "speed_limit_rpm": 300, "approach_speed_mm_per_s": 12} {
		if v, ok := got.Force[name].(float64); !ok || math.Abs(v-want) > 1e-6*want {
			t.Errorf("force_loop.%s = %v, want %g", name, got.Force[name], want)
		}
	}
	if v := got.Targets["gain_margin_db"].(float64); math.Abs(v-9) > 1e-6 {
		t.Errorf("gain_margin_db = %g, want 9", v)
	}
	if v, there := got.Margins[0]["gain_margin_db"]; !there || v != nil {
		t.Errorf("no gain margin limit: %v, want null", v)
	}
	if v, there := got.Steps[0]["settling_s"]; !there || v != nil {
		t.Errorf("never settles: %v, want null", v)
	}
	if v, there := got.Position["table"]; !there || v != nil {
		t.Errorf("table: %v, want null", v)
	}
}

func TestDecodeLoopsUndoesEncode(t *testing.T) {
	want := someProposal()
	data, err := EncodeProposal(want, &plant.Plant{})
	if err != nil {
		t.Fatal(err)
	}
	got, err := DecodeLoops(data, "x.json")
	if err != nil {
		t.Fatal(err)
	}
	// Seven digits are kept in the file.
	if diff := cmp.Diff(&want.Loops, got, cmpopts.EquateApprox(1e-6, 1e-12)); diff != "" {
		t.Error(diff)
	}
}

// positionLoop is a settings document with a sound position loop, to which more is added
// (a key given twice is an error of its own, so the base leaves out what the case states).
func positionLoop(more string) string {
	base := map[string]string{"period_s": "0.001", "kp_extend_per_s": "1", "kp_retract_per_s": "1", "speed_limit_rpm": "100", "turns_per_mm_extend": "0.4", "turns_per_mm_retract": "0.4"}
	fields := more
	for _, key := range slices.Sorted(maps.Keys(base)) {
		if !strings.Contains(more, `"`+key+`":`) || strings.Contains(more, "again") {
			fields += `,"` + key + `":` + base[key]
		}
	}
	return `{"format":"strokewise.loops/1","position_loop":{` + fields + `}}`
}

// Settings in use are typed by hand. What a controller cannot hold gets one line that
// names it; none of this may reach a simulation, where a period of a nanosecond
// would never end and a window of null would be endless.
func TestDecodeLoopsNamesWhatIsWrong(t *testing.T) {
	const force = `{"format":"strokewise.loops/1","force_loop":{"period_s":0.001,"speed_limit_rpm":100,`
	for _, c := range []struct{ name, text, want string }{
		{"not JSON", "hello", "x.json: not a settings file"},
		{"other format", `{"format":"strokewise.plant/1"}`, `expected "strokewise.loops/1"`},
		{"nothing in it", `{"format":"strokewise.loops/1"}`, "neither position_loop nor force_loop"},
		{"list in place of a loop", `{"format":"strokewise.loops/1","position_loop":[]}`, "not a settings file"},
		{"deep nesting", strings.Repeat("[", 20000), "not a settings file"},
		{"deep nesting inside", `{"format":"strokewise.loops/1","position_loop":` + strings.Repeat(`{"a":`, 20000), "not a settings file"},
		{"no scale", positionLoop(`"turns_per_mm_extend":0`), "turns_per_mm_extend must be a number"},
		{"negative gain", positionLoop(`"kp_extend_per_s":-1`), "kp_extend_per_s must be a number from"},
		{"no gain, as of a misspelt key", positionLoop(`"kp_extend_per_s":0`), "kp_extend_per_s must be a number from"},
		{"gain of null", positionLoop(`"kp_retract_per_s":null`), "kp_retract_per_s must be a number from"},
		{"gain that is no number", positionLoop(`"kp_retract_per_s":NaN`), "not a settings file"},
		{"gain as a text", positionLoop(`"kp_retract_per_s":"8"`), "not a settings file"},
		{"gain out of all bounds", positionLoop(`"kp_retract_per_s":1e308`), "1e308 is no number of a machine"},
		{"gain beyond floating point", positionLoop(`"kp_retract_per_s":1e999`), "not a settings file"},
		{"gain twice", positionLoop(`"again":1,"kp_extend_per_s":9`), `"kp_extend_per_s" stands twice`},
		{"period of a picosecond", positionLoop(`"period_s":1e-12`), "period_s must be a number from"},
		{"period of a year", positionLoop(`"period_s":3e7`), "period_s must be a number from"},
		{"window of null", positionLoop(`"window_mm":null`), "window_mm must be a number from"},
		{"short table", positionLoop(`"table":{"position_mm":[1]}`), "at least two positions"},
		{"table that goes back", positionLoop(`"table":{"position_mm":[0,9,5],"turns_per_mm_extend":[1,1,1],"turns_per_mm_retract":[1,1,1]}`), "position_mm must increase"},
		{"table with a hole", positionLoop(`"table":{"position_mm":[0,9],"turns_per_mm_extend":[1,null],"turns_per_mm_retract":[1,1]}`), "table: turns_per_mm_extend must be a number from"},
		{"odd direction", force + `"presses":"up"}}`, `expected "extend" or "retract"`},
		{"force filter of minus one", force + `"force_lowpass_hz":-1}}`, "force_lowpass_hz must be a number from"},
	} {
		t.Run(c.name, func(t *testing.T) {
			_, err := DecodeLoops([]byte(c.text), "x.json")
			if err == nil || !strings.Contains(err.Error(), c.want) || strings.Contains(err.Error(), "\n") {
				t.Errorf("got %v, want an error of one line with %q", err, c.want)
			}
		})
	}
	if _, err := DecodeLoops([]byte(positionLoop(`"window_mm":0.02`)), "x.json"); err != nil {
		t.Errorf("the sound loop that the cases spoil: %v", err)
	}
}
