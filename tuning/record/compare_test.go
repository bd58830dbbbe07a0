package record

import (
	"encoding/json"
	"math"
	"strings"
	"testing"

	"eha/strokewise/ident/plant"
	"eha/strokewise/ident/quantity"
	"eha/strokewise/tuning/compare"
)

// someComparison is an example with what its units hide: a loud demo,
// a figure that one side never reaches and a load that changes sign.
func someComparison() *Comparison {
	before, after := somePlant(), somePlant()
	before.Demo = true
	inf, nan := math.Inf(1), math.NaN()
	slip := func(v float64) plant.Estimate { return plant.Slip.Found(v, 0.9*v, 1.1*v, "strokes") }
	const si = 2 * math.Pi * 1e-5 // rev/s/bar to rad/(s·Pa)
	return &Comparison{Before: before, After: after, Report: &compare.Report{
		Moves: []compare.Move{{From: 0.1, To: 0.15, Kind: compare.Step, Window: 1, Before: 6, After: 5,
			Figures: []compare.Difference{
				{Figure: compare.Settling, Before: 0.41, After: 0.30, Difference: -0.11, Low: -0.14, High: -0.08, Useful: 0.04, Verdict: compare.Better},
				{Figure: compare.Rise, Before: 0.2, After: nan, Difference: nan, Low: nan, High: nan, Verdict: compare.TooFew, Why: "never reached"},
				{Figure: compare.PeakPressure, Before: 60e5, After: 61e5, Difference: 1e5, Low: -inf, High: inf, Useful: 3e5, Verdict: compare.TooFew, Why: "one repeat"},
				{Figure: compare.Overshoot, Before: 0.02, After: 0.021, Difference: 0.001, Low: -0.001, High: 0.003, Useful: 0.02, Verdict: compare.NoDifference},
			},
			HuntingPeriod: [2]float64{0, 0.25},
			Overlay:       compare.Overlay{Time: []float64{0, 1}, Before: []float64{0.1, 0.15}, After: []float64{0.1, 0.15}}}},
		Plant: []compare.Change{
			{Param: plant.Slip, Before: slip(0.011 * si), After: slip(0.022 * si), Ratio: 2, RatioLow: 1.7, RatioHigh: 2.3, Useful: 0.1, Changed: true, OftenMeans: "a worn pump", CouldAlsoBe: "hot oil"},
			{Param: plant.AxialLoad, Before: plant.AxialLoad.Found(-4000, -4100, -3900, ""), After: plant.AxialLoad.Found(1000, 900, 1100, ""),
				Ratio: nan, RatioLow: nan, RatioHigh: nan, Difference: 5000, DiffLow: 4900, DiffHigh: 5100, Changed: true, OftenMeans: "more force", CouldAlsoBe: "an offset"},
		},
		Notes: []string{"Oil temperature was not logged."},
	}}
}

// The fields that other programs read, by name, in their units.
func TestComparisonDocument(t *testing.T) {
	data, err := EncodeComparison(someComparison())
	if err != nil {
		t.Fatal(err)
	}
	type figure struct {
		Before, After, Difference, Low, High *float64
		Verdict                              string
	}
	var d struct {
		Format string
		Demo   bool
		Moves  []struct {
			From, To      float64
			Unit          string
			Before, After int
			Figures       map[string]figure
		}
		Plant map[string]struct {
			Before, After    float64
			Ratio, Low, High *float64
			Changed          bool
			OftenMeans       string `json:"often_means"`
			Difference       float64
		}
	}
	if err := json.Unmarshal(data, &d); err != nil {
		t.Fatal(err)
	}
	if d.Format != "strokewise.compare/1" || !d.Demo || len(d.Moves) != 1 {
		t.Fatalf("%s", data)
	}
	m := d.Moves[0]
	if m.From != 100 || m.To != 150 || m.Unit != "mm" || m.Before != 6 || m.After != 5 {
		t.Errorf("move %+v", m)
	}
	s := m.Figures["settling_s"]
	if *s.Before != 0.41 || *s.After != 0.3 || *s.Difference != -0.11 || *s.Low != -0.14 || *s.High != -0.08 || s.Verdict != "better" {
		t.Errorf("settling %+v", s)
	}
	if p := m.Figures["peak_pressure_bar"]; *p.Before != 60 || p.Low != nil || p.High != nil || p.Verdict != "too few" {
		t.Errorf("peak pressure %+v", p)
	}
	if r := m.Figures["rise_s"]; r.After != nil || r.Difference != nil {
		t.Errorf("rise %+v", r)
	}
	if o := m.Figures["overshoot_pct"]; *o.Before != 2 || o.Verdict != "no difference" {
		t.Errorf("overshoot %+v", o)
	}
	slip := d.Plant["slip"]
	if slip.Before != 0.011 || slip.After != 0.022 || *slip.Ratio != 2 || *slip.Low != 1.7 || *slip.High != 2.3 || !slip.Changed || slip.OftenMeans != "a worn pump" {
		t.Errorf("slip %+v", slip)
	}
	if load := d.Plant["axial_load"]; load.Ratio != nil || load.Difference != 5 {
		t.Errorf("axial load %+v", load)
	}
}

// The text says the same: the mark, the verdicts, what a change often means, the
// notes, and how far the words may be trusted.
func TestComparisonText(t *testing.T) {
	for _, c := range []struct {
		system quantity.System
		want   []string
	}{
		{quantity.Metric, []string{DemoMark, "step, 100 mm to 150 mm: 6 before, 5 after", "settling time", "-0.11 s", "better", "too few: one repeat",
			"slip up, x 2", "Often means: a worn pump. Could also be: hot oil.", "5 kN more", "hunting after with a period of 0.25 s",
			"Oil temperature was not logged", "at most 5 %"}},
		{quantity.Inch, []string{"step, 3.937 in to 5.906 in", "psi"}},
	} {
		var b strings.Builder
		if err := WriteComparison(&b, someComparison(), c.system); err != nil {
			t.Fatal(err)
		}
		text := strings.Join(strings.Fields(b.String()), " ")
		for _, want := range c.want {
			if !strings.Contains(text, strings.Join(strings.Fields(want), " ")) {
				t.Errorf("%v: no %q in\n%s", c.system, want, b.String())
			}
		}
		if strings.Contains(text, "NaN") || strings.Contains(text, "Inf") {
			t.Errorf("not a number in\n%s", b.String())
		}
	}
}
