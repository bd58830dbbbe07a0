package main

import (
	"bytes"
	"math"
	"testing"

	"eha/strokewise/ident/plant"
	"eha/strokewise/samples/twin"
)

// TestEnsemble fits one survey of a machine of each kind and holds the errors
// against bounds of two to three times what the project aims at over many
// machines, or what it reaches where that is far less: eleven are few, and one odd machine must not fail the test. Seeds
// 9000 on are kept for this test.
func TestEnsemble(t *testing.T) {
	if testing.Short() {
		t.Skip("fits a log of each kind")
	}
	var machines []func() *twin.Machine
	for i, k := range twin.Kinds() {
		machines = append(machines, func() *twin.Machine { return twin.Random(k, 9000+uint64(i)) })
	}
	var all []outcome
	var strokes []float64
	for _, r := range runAll(machines, options{logs: "survey"}.one) {
		if r.err != nil {
			t.Errorf("%s-%d: %v", r.machine.Kind, r.machine.Seed, r.err)
		}
		all = append(all, r.outcomes...)
		if !math.IsNaN(r.stroke) {
			strokes = append(strokes, r.stroke)
		}
	}
	if off := pair(strokes); !(off[0] <= 0.002) || off[1] > 0.006 {
		t.Errorf("travel over an unseen stroke off by %s %% of it, want at most 0.2 / 0.6 %%", percents(off))
	}
	bounds := map[plant.Param]struct{ median, identified float64 }{
		plant.StrokePerTurnCap:   {0.002, 0.9},
		plant.StrokePerTurnRod:   {0.002, 0.9},
		plant.DriveBandwidth:     {0.01, 0.85},
		plant.Slip:               {0.08, 0.6},
		plant.CoulombFriction:    {0.01, 0.7},
		plant.ViscousFriction:    {0.03, 0.5},
		plant.MovingMass:         {0.08, 0.6},
		plant.HydraulicFrequency: {0.05, 0.6},
		plant.LostMotion:         {0.16, 0.6},
	}
	covered, known := 0, 0
	var table bytes.Buffer
	sums := summarise(all)
	printTable(&table, sums)
	for _, s := range sums {
		covered, known = covered+s.covered, known+s.known
		b, ok := bounds[s.param]
		if !ok {
			continue
		}
		if share := float64(s.identified) / float64(s.asked); share < b.identified {
			t.Errorf("%s: identified on %.0f %%, want at least %.0f %%", s.param, 100*share, 100*b.identified)
		}
		if !(s.strict[0] <= b.median) || math.IsNaN(s.strict[0]) {
			t.Errorf("%s: median error %.2g, want at most %.2g", s.param, s.strict[0], b.median)
		}
	}
	if share := float64(covered) / float64(known); share < 0.88 {
		t.Errorf("intervals cover %.0f %% of %d values, want 88 %% at the least", 100*share, known)
	}
	if t.Failed() {
		t.Log("\n" + table.String())
	}
}

func TestFlags(t *testing.T) {
	for _, args := range [][]string{{"-kind", "upside"}, {"-logs", "none"}, {"-n", "0"}, {"-exact"}, {"-nonsense"}} {
		var out, errs bytes.Buffer
		if code := run(args, &out, &errs); code != 2 || errs.Len() == 0 || out.Len() != 0 {
			t.Errorf("%v: exit %d, %q, %q; want 2 and a message", args, code, out.String(), errs.String())
		}
	}
}

func TestWriteFolder(t *testing.T) {
	var out, errs bytes.Buffer
	if code := run([]string{"-write", t.TempDir(), "-kind", "tiny", "-seed", "3"}, &out, &errs); code != 0 {
		t.Fatalf("exit %d: %s", code, errs.String())
	}
}
