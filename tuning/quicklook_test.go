package tuning

import (
	"context"
	"math"
	"testing"

	"github.com/google/go-cmp/cmp"

	"eha/strokewise/ident/machine"
	"eha/strokewise/ident/plant"
)

// proposed returns a plant whose proposal has neither integral nor pressure
// damping, so that its loops are proportional to their gain.
func proposed(t testing.TB) (*plant.Plant, *Proposal, Options) {
	t.Helper()
	p, opt := invented(1), DefaultOptions()
	opt.Integral, opt.PressureDamping = machine.No, machine.No
	out, err := Propose(context.Background(), p, opt)
	if err != nil || out.Loops.Position == nil {
		t.Fatalf("no proposal: %v", err)
	}
	return p, out, opt
}

// With nothing turned it shows the proposal's own settings and margins.
func TestQuickLookAtTheProposalItself(t *testing.T) {
	p, out, opt := proposed(t)
	look, r, err := QuickLook(p, out, opt, opt, "")
	if err != nil {
		t.Fatal(err)
	}
	if d := cmp.Diff(out.Loops, look.Loops); d != "" {
		t.Errorf("other settings\n%s", d)
	}
	if d := cmp.Diff(out.Margins, look.Margins); d != "" {
		t.Errorf("other margins\n%s", d)
	}
	whole, err := Respond(context.Background(), p, out, nil, r.Scenario.ID)
	if err != nil {
		t.Fatal(err)
	}
	if d := cmp.Diff(whole.Proposed.Output, r.Proposed.Output); d != "" || !r.Quick || r.Proposed.Low != nil {
		t.Errorf("another course, or a band where none was computed\n%s", d)
	}
}

// Half the gain of a proportional loop has 6.02 dB more gain margin at every
// point (textbook: the open loop scales with its gain).
func TestQuickLookAtHalfTheGain(t *testing.T) {
	p, out, opt := proposed(t)
	half := opt
	half.GainShare = opt.GainShare / 2
	look, _, err := QuickLook(p, out, opt, half, "step_retract")
	if err != nil {
		t.Fatal(err)
	}
	ratio := out.Loops.Position.Kp.Extend / look.Loops.Position.Kp.Extend
	if math.Abs(ratio-2) > 0.02 { // rounded down as it can be typed
		t.Errorf("kp %g of %g", look.Loops.Position.Kp.Extend, out.Loops.Position.Kp.Extend)
	}
	for i, m := range look.Margins {
		was := out.Margins[i]
		if m.Loop != "position" || m.Direction != plant.Extend {
			continue
		}
		// A thousandth: both margins are read off a grid of frequencies.
		if got := m.GainMargin / was.GainMargin; math.Abs(got/ratio-1) > 1e-3 {
			t.Errorf("gain margin at %g m grew by %g, the gain fell by %g", m.Position, got, ratio)
		}
	}
}

// Every other change is judged as Judge does, on the options' own plant.
func TestQuickLookAgreesWithJudge(t *testing.T) {
	p, out, opt := proposed(t)
	mass, hose := 2*p.Model.Mass, 1e-4
	for name, change := range map[string]func(*Options){
		"mass":   func(o *Options) { o.WhatIf.Mass = &mass },
		"hose":   func(o *Options) { o.WhatIf.LineVolume = &hose },
		"scale":  func(o *Options) { o.Scale = machine.ScaleChamber },
		"margin": func(o *Options) { o.Targets.GainMargin *= 1.5 },
		"range":  func(o *Options) { o.MassRange = [2]float64{p.Model.Mass / 3, 3 * p.Model.Mass} },
	} {
		now := opt
		change(&now)
		look, _, err := QuickLook(p, out, opt, now, "move")
		if err != nil {
			t.Errorf("%s: %v", name, err)
			continue
		}
		judged, err := Judge(p, now, *look.Loops.Position)
		if err != nil {
			t.Fatal(err)
		}
		if d := cmp.Diff(judged.Worst, look.Worst["position"]); d != "" {
			t.Errorf("%s: another worst point\n%s", name, d)
		}
		if look.Loops.Position.ByChamber != (name == "scale") {
			t.Errorf("%s: scale by chamber %v", name, look.Loops.Position.ByChamber)
		}
		if look.BringUp != nil || look.Guards.Why != nil || look.Predicted != nil {
			t.Errorf("%s: holds what only a proposal may", name)
		}
	}
}

func TestQuickLookNeedsSettings(t *testing.T) {
	p := invented(1)
	if _, _, err := QuickLook(p, &Proposal{}, DefaultOptions(), DefaultOptions(), ""); err == nil {
		t.Error("no error without a position loop")
	}
	_, out, opt := proposed(t)
	bad := opt
	bad.GainShare = 2
	if _, _, err := QuickLook(p, out, opt, bad, ""); err == nil {
		t.Error("no error for a gain share of 2")
	}
}

func BenchmarkQuickLook(b *testing.B) {
	p, out, opt := proposed(b)
	now := opt
	now.GainShare = 0.8
	for b.Loop() {
		if _, _, err := QuickLook(p, out, opt, now, ""); err != nil {
			b.Fatal(err)
		}
	}
}
