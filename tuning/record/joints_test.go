package record

import (
	"bytes"
	"encoding/json"
	"strings"
	"testing"

	"eha/strokewise/ident/quality"
	"eha/strokewise/ident/quantity"
	"eha/strokewise/ident/trace"
)

// How two recordings were set on one clock stands in fields, and in the text.
func TestJointsAreFields(t *testing.T) {
	r := &quality.Report{Joints: []quality.Joint{
		{Log: "a.csv+b.csv", Joint: trace.Joint{On: [2]trace.Channel{trace.MotorPosition, trace.RodPosition}, Offset: 1.5, OffsetLow: 1.4975, OffsetHigh: 1.5025,
			Drift: 40e-6, DriftLow: 30e-6, DriftHigh: 51e-6, Middle: 12.5, Overlap: 30, Likeness: 0.999, Windows: 14}},
		{Log: "c.csv+d.csv", Joint: trace.Joint{On: [2]trace.Channel{trace.MotorPosition, trace.MotorPosition}, Offset: -2, OffsetLow: -2.001, OffsetHigh: -1.999}},
	}}
	data, err := EncodeCheck(r, "", false)
	if err != nil {
		t.Fatal(err)
	}
	var got struct {
		Joints []map[string]any `json:"joints"`
	}
	if err := json.Unmarshal(data, &got); err != nil || len(got.Joints) != 2 {
		t.Fatal(err, got)
	}
	want := map[string]any{"log": "a.csv+b.csv", "at_s": 12.5, "offset_s": 1.5, "offset_low_s": 1.4975, "offset_high_s": 1.5025,
		"drift_ppm": 40.0, "drift_low_ppm": 30.0, "drift_high_ppm": 51.0, "overlap_s": 30.0, "likeness": 0.999, "stretches": 14.0}
	for key, value := range want {
		if got.Joints[0][key] != value {
			t.Errorf("%s is %v, want %v", key, got.Joints[0][key], value)
		}
	}
	if on, _ := got.Joints[0]["aligned_on"].([]any); len(on) != 2 || on[0] != "motor_position" || on[1] != "rod_position" {
		t.Errorf("aligned on %v", got.Joints[0]["aligned_on"])
	}
	if drift, there := got.Joints[1]["drift_ppm"]; !there || drift != nil {
		t.Errorf("a drift that is not told is %v, want null", drift)
	}
	var text bytes.Buffer
	if err := WriteCheck(&text, r, nil, "", false, quantity.Metric); err != nil {
		t.Fatal(err)
	}
	for _, part := range []string{"1.5000 (1.4975 to 1.5025) s", "40 (30 to 51) ppm", "not told, overlap too short"} {
		if !strings.Contains(text.String(), part) {
			t.Errorf("the text lacks %q:\n%s", part, text.String())
		}
	}
}
