package ident_test

import (
	"context"
	"math"
	"strings"
	"testing"

	"eha/strokewise/ident"
	"eha/strokewise/ident/outputerror"
	"eha/strokewise/ident/plant"
	"eha/strokewise/ident/trace"
	"eha/strokewise/samples/twin"
)

// TestUnexplainedMove: a move in which something else pushed the rod is named,
// a clean log names none, and what is found does not leave the clean log's
// intervals.
func TestUnexplainedMove(t *testing.T) {
	if testing.Short() {
		t.Skip("fits surveys")
	}
	const phrase = "look at that move"
	m := makeMachine(t, twin.Resisting, 402)
	clean, err := ident.Fit(context.Background(), m.logs[:1], m.machine, ident.Options{})
	if err != nil {
		t.Fatal(err)
	}
	if all := strings.Join(clean.Warnings, "\n"); strings.Contains(all, phrase) {
		t.Errorf("a clean log's move is named: %s", all)
	}
	if clean.Validation.Refinement == "" {
		t.Error("nothing says how the refinement ended")
	}
	log := m.logs[0]
	omega := clean.Params[plant.HydraulicFrequency].Value
	samples := map[trace.Channel][]float64{}
	for _, c := range trace.Channels() {
		if y, ok := log.Samples(c); ok {
			samples[c] = append([]float64(nil), y...)
		}
	}
	// Push in one of the liveliest stretches, at up to a fifth of its speed.
	s := outputerror.Pick(log, omega, 20)[2]
	from, n := int(math.Round((s.Start-log.TimeAt(0))/s.Period)), len(s.Angle)
	speed := math.Abs(s.Position[n-1]-s.Position[0]) / s.Duration()
	for i := range n {
		samples[trace.RodPosition][from+i] += 0.2 * speed * s.Duration() / (2 * math.Pi) * math.Pow(math.Sin(2*math.Pi*float64(i)/float64(n-1)), 2)
	}
	pushed, err := trace.New(log.Name(), log.Period(), log.TimeAt(0), samples, nil)
	if err != nil {
		t.Fatal(err)
	}
	got, err := ident.Fit(context.Background(), []*trace.Trace{pushed}, m.machine, ident.Options{})
	if err != nil {
		t.Fatal(err)
	}
	if all := strings.Join(got.Warnings, "\n"); !strings.Contains(all, phrase) {
		t.Errorf("the push at %.1f s is not named: %s; %s", s.Start, all, got.Validation.Refinement)
	}
	for _, p := range []plant.Param{plant.MovingMass, plant.HydraulicFrequency, plant.HydraulicDamping, plant.CoulombFriction} {
		if a, b := clean.Params[p], got.Params[p]; b.Value < a.Low || b.Value > a.High {
			t.Errorf("%s moved from %.4g (%.4g to %.4g) to %.4g", p, a.Value, a.Low, a.High, b.Value)
		}
	}
}

// TestRefineBlind: without pressures frequency and damping come from output
// error, near the truth.
func TestRefineBlind(t *testing.T) {
	if testing.Short() {
		t.Skip("fits a survey")
	}
	m := makeMachine(t, twin.NoPressures, 20011)
	truth := twin.TruthOf(m.twin)
	got, err := ident.Fit(context.Background(), m.logs[:1], m.machine, ident.Options{})
	if err != nil {
		t.Fatal(err)
	}
	for p, within := range map[plant.Param]float64{plant.HydraulicFrequency: 0.04, plant.HydraulicDamping: 0.3} {
		e, want := got.Params[p], truth.Params[p.String()].Value/p.Info().Factor
		if e.Status != plant.Identified || !strings.Contains(e.From, "output error") || math.Abs(e.Value-want) > within*want {
			t.Errorf("%s %.4g, %v from %q; want %.4g within %.0f %%, identified by output error", p, e.Value, e.Status, e.From, want, 100*within)
		}
	}
}
