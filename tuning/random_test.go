package tuning

import (
	"context"
	"math"
	"math/rand/v2"
	"testing"

	"eha/strokewise/ident/machine"
	"eha/strokewise/ident/plant"
)

// anyOptions draws options and what the machine file says, sensible or hard to meet.
func anyOptions(rng *rand.Rand, p *plant.Plant) Options {
	opt := DefaultOptions()
	maybe := func(low, high float64) *float64 {
		if rng.IntN(3) > 0 {
			return nil
		}
		v := low + (high-low)*rng.Float64()
		return &v
	}
	opt.Targets.SensitivityPeak = 1.1 + 1.2*rng.Float64()
	opt.Targets.GainMargin = fromDecibel(4 + 12*rng.Float64())
	opt.Targets.PhaseMargin = (20 + 50*rng.Float64()) * math.Pi / 180
	opt.GainShare = 0.1 + 0.9*rng.Float64()
	opt.Integral, opt.PressureDamping = machine.Capability(rng.IntN(3)), machine.Capability(rng.IntN(3))
	opt.Scale = machine.Scale(rng.IntN(5))
	opt.WhatIf = WhatIf{Mass: maybe(20, 5000), Load: maybe(-2e4, 2e4), OuterDelay: maybe(0, 0.03), ControllerPeriod: maybe(2.5e-4, 0.02), LineVolume: maybe(0, 2e-3)}
	c := &p.Machine.Controller
	c.OneGain, c.SpeedLowpass, c.Feedforward = rng.IntN(2) == 0, machine.Capability(rng.IntN(3)), machine.Capability(rng.IntN(3))
	if rng.IntN(3) == 0 {
		c.Resolution = map[string]float64{"kp": 1, "ki": 0.5, "speed_lowpass": 3, "window": 0.1, "turns_per_mm": 0.001}
	}
	if rng.IntN(3) == 0 {
		p.Machine.Load.ForceRange = [2]float64{-1e4 * rng.Float64(), 1e4 * rng.Float64()}
	}
	if rng.IntN(4) == 0 {
		p.PressuresSeen, p.MassKnown, p.AreasKnown = false, false, false
	}
	if rng.IntN(3) == 0 {
		p.Params[plant.HydraulicFrequency], p.Params[plant.HydraulicDamping] = plant.MissingFrom("multisine"), plant.MissingFrom("multisine")
	}
	p.Machine.Limits.StrokeMargin = 0.2 * rng.Float64() * p.Model.Stroke
	return opt
}

// Whatever is asked for a machine: a proposal whose margins, counted anew on the
// settings alone, meet the targets at every point, or the reason why there is none. Nothing
// panics and no figure is undefined.
func TestAnyOptionsGiveStableLoopsOrAReason(t *testing.T) {
	count := uint64(30)
	if testing.Short() {
		count = 6
	}
	proposed := 0
	for seed := range count {
		p := invented(700 + seed)
		opt := anyOptions(rand.New(rand.NewPCG(seed, 11)), p)
		out, err := Propose(context.Background(), p, opt)
		if err != nil {
			t.Logf("seed %d: %v", seed, err)
			continue
		}
		set := out.Loops.Position
		if set == nil {
			if out.NotProposed["position"] == "" {
				t.Errorf("seed %d: no loop and no reason", seed)
			}
			continue
		}
		proposed++
		judged, err := Judge(p, opt, *set)
		if err != nil {
			t.Fatalf("seed %d: %v", seed, err)
		}
		for _, m := range judged.Margins {
			if !m.Stable || tightness(m, opt.Targets) > 1 {
				t.Errorf("seed %d: targets %+v broken at %+v", seed, opt.Targets, m)
			}
		}
		for what, v := range map[string]float64{"kp": set.Kp.Extend * set.Kp.Retract, "speed limit": set.SpeedLimit, "mismatch": out.Guards.Mismatch} {
			if !(v > 0) || math.IsInf(v, 0) {
				t.Errorf("seed %d: %s is %g", seed, what, v)
			}
		}
		for what, v := range map[string]float64{"ki": set.Ki.Extend * set.Ki.Retract, "window": set.Window, "low-pass": set.Lowpass, "damping": set.PressureDamping} {
			if !(v >= 0) || math.IsInf(v, 0) {
				t.Errorf("seed %d: %s is %g", seed, what, v)
			}
		}
	}
	if proposed < int(count)/2 {
		t.Errorf("%d loops of %d asked for", proposed, count)
	}
}

// A drive of little torque cannot brake a long bare step from full speed; the
// bring-up keeps commands from jumping further than it can.
func TestLongJumpsAreBounded(t *testing.T) {
	bounded := 0
	for seed := range uint64(6) {
		p := invented(600 + seed)
		p.Model.Drive.AccelLimit /= 4
		d, err := newDesign(p, DefaultOptions())
		if err != nil {
			t.Fatal(err)
		}
		l, err := d.designPosition()
		if err != nil || d.longestJump == 0 {
			continue
		}
		bounded++
		long := longShare * d.model.Stroke
		if near, far := d.longOvershoot(&l.set, d.longestJump), d.longOvershoot(&l.set, long); near > usualOvershoot || far <= usualOvershoot {
			t.Errorf("seed %d: steps of %.3g mm overshoot by %.3g, of %.3g mm by %.3g", seed, d.longestJump*inMM, near, long*inMM, far)
		}
	}
	if bounded == 0 {
		t.Error("no machine's jumps were bounded")
	}
}
