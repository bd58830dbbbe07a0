package tuning

import (
	"context"
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"eha/strokewise/ident/machine"
	"eha/strokewise/ident/plant"
	"eha/strokewise/tuning/law"
	"eha/strokewise/tuning/loop"
)

// invented returns a fitted plant of an invented machine, different for each seed.
func invented(seed uint64) *plant.Plant {
	rng := rand.New(rand.NewPCG(seed, 77))
	between := func(low, high float64) float64 { return low * math.Pow(high/low, rng.Float64()) }
	bore := between(0.04, 0.1)
	area := math.Pi / 4 * bore * bore
	m := plant.Model{
		Area: plant.PerChamber[float64]{Cap: area, Rod: area * (0.5 + 0.35*rng.Float64())}, Stroke: between(0.15, 0.6),
		Displacement: between(4e-6, 12e-6) / (2 * math.Pi), Leakage: between(5e-13, 8e-12), LowPressure: between(1e5, 4e5),
		LowResistance: between(1e7, 4e8), Mass: between(80, 1500), Viscous: between(1000, 12000),
		TransducerDelay: between(2e-4, 1.5e-3), PressureLag: 1e-3, OuterDelay: between(1e-3, 4e-3), ControllerPeriod: []float64{1e-3, 2e-3, 4e-3}[rng.IntN(3)],
	}
	fc := between(200, 2000)
	m.Coulomb = plant.PerDirection[float64]{Extend: fc, Retract: fc * between(0.8, 1.2)}
	m.Breakaway, m.StribeckSpeed = fc*between(1.25, 1.8), between(2e-3, 8e-3)
	m.AxialLoad = (rng.Float64()*2 - 1) * 3e6 * area
	if rng.IntN(2) == 0 {
		m.GravityShare = math.Copysign(min(m.Mass*9.81, math.Abs(m.AxialLoad)), m.AxialLoad)
	}
	oil := func() plant.Oil {
		dead := between(3e-5, 4e-4)
		return plant.Oil{Fixed: dead / 1.3e9, Modulus: 1.4e9, Air: between(1e-3, 1e-2), AirVolume: dead}
	}
	m.Oil = plant.PerChamber[plant.Oil]{Cap: oil(), Rod: oil()}
	m.Drive = plant.Drive{NaturalFreq: between(100, 500), Damping: between(0.55, 1), DeadTime: between(5e-4, 2e-3),
		AccelLimit: between(2500, 20000), AccelMet: true, AccelPerPressure: between(3e-5, 3e-4)}
	p := &plant.Plant{Model: m, AreasKnown: true, MassKnown: true, PressuresSeen: true, Params: map[plant.Param]plant.Estimate{}}
	p.Machine.Motor.MaxSpeed = 314
	p.Seen.Resolution.Position = 2e-6
	carrier := func(dir plant.Direction) plant.Chamber { return m.Carrier(m.SteadyForce(dir.Sign()*0.02, 1)) }
	know(p, plant.StrokePerTurnExtend, m.StrokePerTurn(carrier(plant.Extend)), 0.002)
	know(p, plant.StrokePerTurnRetract, m.StrokePerTurn(carrier(plant.Retract)), 0.002)
	know(p, plant.Slip, m.Leakage/m.Displacement, 0.15)
	know(p, plant.CoulombFriction, fc, 0.15)
	know(p, plant.MovingMass, m.Mass, 0.1)
	know(p, plant.ComplianceCap, 1e-12, 0.1)
	know(p, plant.ComplianceRod, 1e-12, 0.1)
	know(p, plant.HydraulicFrequency, 100, 0.07)
	know(p, plant.HydraulicDamping, 0.1, 0.3)
	know(p, plant.DriveBandwidth, m.Drive.NaturalFreq, 0.05)
	know(p, plant.DeadTime, m.Drive.DeadTime, 0.2)
	know(p, plant.OuterDelay, m.OuterDelay, 0.2)
	return p
}

// know states the parameter with a 95 % interval of plus and minus the share.
func know(p *plant.Plant, param plant.Param, v, share float64) {
	p.Params[param] = param.Found(v, v*(1-share), v*(1+share), "a test")
}

func propose(t *testing.T, p *plant.Plant, opt Options) *Proposal {
	t.Helper()
	out, err := Propose(context.Background(), p, opt)
	if err != nil {
		t.Fatal(err)
	}
	if out.Loops.Position == nil {
		t.Fatalf("no position loop: %v", out.NotProposed)
	}
	return out
}

// speedOf is the geometric mean of both directions' kp.
func speedOf(p *Proposal) float64 {
	return math.Sqrt(p.Loops.Position.Kp.Extend * p.Loops.Position.Kp.Retract)
}

// Whatever the machine and the options, no proposal breaks its targets at any
// point of its grid, counted anew from the settings alone.
func TestNoProposalBreaksItsTargets(t *testing.T) {
	rng := rand.New(rand.NewPCG(9, 9))
	count := uint64(12)
	if testing.Short() {
		count = 4
	}
	for seed := range count {
		p := invented(100 + seed)
		opt := DefaultOptions()
		opt.Targets.SensitivityPeak = 1.3 + 0.5*rng.Float64()
		opt.GainShare = 0.5 + 0.5*rng.Float64()
		p.Machine.Controller.PressureDamping = machine.Capability(rng.IntN(3))
		p.Machine.Controller.SpeedLowpass = machine.Capability(rng.IntN(3))
		p.Machine.Controller.OneGain = rng.IntN(3) == 0
		p.Machine.Controller.Scale = machine.Scale(rng.IntN(4))
		out := propose(t, p, opt)
		judged, err := Judge(p, opt, *out.Loops.Position)
		if err != nil {
			t.Fatal(err)
		}
		positions := 0
		for _, m := range out.Margins {
			if m.Loop == "position" {
				positions++
			}
		}
		if positions != len(judged.Margins) || positions < 2*3*2 {
			t.Errorf("seed %d: %d margins proposed, %d judged", seed, positions, len(judged.Margins))
		}
		for _, m := range judged.Margins {
			if !m.Stable || m.Sensitivity > opt.Targets.SensitivityPeak || m.GainMargin < opt.Targets.GainMargin || m.PhaseMargin < opt.Targets.PhaseMargin {
				t.Errorf("seed %d: targets %+v broken at %+v", seed, opt.Targets, m)
			}
		}
		if w := out.Worst["position"]; w.Why == "" {
			t.Errorf("seed %d: the worst point does not say why: %+v", seed, w)
		}
	}
}

func TestProposeIsRepeatableAndLeavesThePlantAlone(t *testing.T) {
	p, same := invented(3), invented(3)
	a, b := propose(t, p, DefaultOptions()), propose(t, p, DefaultOptions())
	if diff := cmp.Diff(a.Loops, b.Loops); diff != "" {
		t.Errorf("two proposals differ: %s", diff)
	}
	if diff := cmp.Diff(p, same); diff != "" {
		t.Errorf("the plant was changed: %s", diff)
	}
}

func TestPredictedSteps(t *testing.T) {
	p := invented(2)
	out := propose(t, p, DefaultOptions())
	size := min(10e-3, 0.03*p.Model.Stroke)
	mid := p.Model.Stroke / 2
	for i, want := range []Step{{Direction: plant.Extend, From: mid - size, To: mid}, {Direction: plant.Retract, From: mid, To: mid - size}} {
		s := out.Predicted[i]
		if s.Loop != "position" || s.Direction != want.Direction || math.Abs(s.From-want.From) > 1e-12 || math.Abs(s.To-want.To) > 1e-12 || s.History == "" {
			t.Errorf("%+v, want %s from %g to %g", s, want.Direction, want.From, want.To)
		}
		for what, r := range map[string]Range{"rise": s.Rise, "settling": s.Settling, "overshoot": s.Overshoot, "peak speed": s.PeakSpeed, "peak pressure": s.PeakPressure} {
			if r.Low > r.Value || r.Value > r.High || r.Low < 0 {
				t.Errorf("%s: %+v is no range about its value", what, r)
			}
		}
	}
}

func TestWeakerKnowledgeIsSlower(t *testing.T) {
	for _, seed := range []uint64{4, 7} { // limited by the resonance
		sure := propose(t, invented(seed), DefaultOptions())
		weak := invented(seed)
		know(weak, plant.HydraulicFrequency, 100, 0.5)
		unseen := invented(seed)
		unseen.Params[plant.HydraulicFrequency] = plant.MissingFrom("multisine")
		unseen.Params[plant.HydraulicDamping] = plant.MissingFrom("multisine")
		a, b, c := speedOf(sure), speedOf(propose(t, weak, DefaultOptions())), speedOf(propose(t, unseen, DefaultOptions()))
		if !(a > b && b >= c && c > 0) {
			t.Errorf("seed %d: kp %g with the resonance known, %g weakly known, %g never excited", seed, a, b, c)
		}
	}
}

// Without pressures there are no masses in kg and no forces, yet margins over mass factors.
func TestWithoutPressures(t *testing.T) {
	p := invented(4)
	p.PressuresSeen, p.MassKnown, p.AreasKnown = false, false, false
	out := propose(t, p, DefaultOptions())
	factors := map[float64]bool{}
	for _, m := range out.Margins {
		if m.Mass != 0 {
			t.Errorf("a mass of %g kg where none is known", m.Mass)
		}
		factors[m.MassFactor] = true
	}
	if len(factors) != 3 || !factors[0.6] || !factors[1] || !factors[1.6] {
		t.Errorf("mass factors %v, want 0.6, 1 and 1.6", factors)
	}
	if out.Loops.Position.PressureDamping != 0 {
		t.Error("pressure damping without pressures")
	}
}

func TestGainShare(t *testing.T) {
	p := invented(9)
	opt := DefaultOptions()
	full := propose(t, p, opt)
	opt.GainShare = 0.5
	half := propose(t, p, opt)
	if ratio := speedOf(half) / speedOf(full); ratio < 0.4 || ratio > 0.6 {
		t.Errorf("half the gain share gives %g of kp", ratio)
	}
}

func TestSettingsAreWhatCanBeTyped(t *testing.T) {
	p := invented(9)
	p.Machine.Controller.Resolution = map[string]float64{"kp": 2, "turns_per_mm": 0.01, "speed_lowpass": 5, "window": 0.05, "speed_limit": 100}
	p.Machine.Controller.Scale, p.Machine.Controller.OneGain = machine.ScaleSingle, true
	l := propose(t, p, DefaultOptions()).Loops.Position
	for what, v := range map[string]float64{"kp": l.Kp.Extend / 2, "turns": l.Turns.Extend * revPerMM / 0.01, "low-pass": l.Lowpass * inHz / 5, "window": l.Window * inMM / 0.05, "speed limit": l.SpeedLimit * inRPM / 100} {
		if math.Abs(v-math.Round(v)) > 1e-6 {
			t.Errorf("%s is %g steps of its resolution", what, v)
		}
	}
	if l.Kp.Extend != l.Kp.Retract || l.Turns.Extend != l.Turns.Retract {
		t.Errorf("gains %v and scales %v, want one of each", l.Kp, l.Turns)
	}
	most := max(p.Est(plant.StrokePerTurnExtend).Value, p.Est(plant.StrokePerTurnRetract).Value)
	if most*l.Turns.Extend > 1 {
		t.Errorf("a single scale of %g rad/m moves the rod further than asked in one direction", l.Turns.Extend)
	}
}

// A what-if changes the plant as stated, and margins of given settings with it.
func TestWhatIf(t *testing.T) {
	p := invented(4)
	set := *propose(t, p, DefaultOptions()).Loops.Position
	judge := func(w WhatIf) Margin {
		opt := DefaultOptions()
		opt.WhatIf = w
		j, err := Judge(p, opt, set)
		if err != nil {
			t.Fatal(err)
		}
		return j.Worst
	}
	plain := judge(WhatIf{})
	delay, mass, volume := p.Model.OuterDelay+5e-3, 2*p.Model.Mass, 5e-4
	if w := judge(WhatIf{OuterDelay: &delay}); !(w.PhaseMargin < plain.PhaseMargin) {
		t.Errorf("5 ms more delay: phase margin %g after %g", w.PhaseMargin, plain.PhaseMargin)
	}
	for what, w := range map[string]WhatIf{"mass doubled": {Mass: &mass}, "line volume added": {LineVolume: &volume}} {
		if m := judge(w); !(m.Sensitivity > plain.Sensitivity) {
			t.Errorf("%s: sensitivity peak %g after %g", what, m.Sensitivity, plain.Sensitivity)
		}
	}
}

func TestWhatIfMassMovesGravity(t *testing.T) {
	m := plant.Model{Mass: 100, AxialLoad: -1500, GravityShare: -1000}
	mass, load := 300.0, 200.0
	got := WhatIf{Mass: &mass, Load: &load}.Apply(m, true)
	if got.Mass != 300 || got.AxialLoad != -1500-2000+200 || got.GravityShare != -3000 {
		t.Errorf("mass %g, load %g, gravity %g; want 300, -3300, -3000", got.Mass, got.AxialLoad, got.GravityShare)
	}
	if kept := (WhatIf{Mass: &mass}).Apply(m, false); kept != m {
		t.Errorf("an unknown mass was changed: %+v", kept)
	}
}

// A remedy's promise: with the drive half as fast again the margins allow about
// as much more as the limits say.
func TestRemedyIsComputed(t *testing.T) {
	p := invented(9)
	d, err := newDesign(p, DefaultOptions())
	if err != nil {
		t.Fatal(err)
	}
	l, err := d.designPosition()
	if err != nil {
		t.Fatal(err)
	}
	for _, limit := range d.limits(l) {
		if limit.Remedy != "a drive half as fast again" {
			continue
		}
		faster := invented(9)
		faster.Model.Drive.NaturalFreq *= 1.5
		know(faster, plant.DriveBandwidth, faster.Model.Drive.NaturalFreq, 0.05)
		after, err := newDesign(faster, DefaultOptions())
		if err != nil {
			t.Fatal(err)
		}
		found, err := after.designPosition()
		if err != nil {
			t.Fatal(err)
		}
		most := func(d *design, l positionLoop) float64 { return d.fastest(&d.model, l.base, loop.Coarse).product() }
		if got := math.Sqrt(most(after, found) / most(d, l)); math.Abs(got/limit.Gain-1) > 0.1 {
			t.Errorf("promised %.3g, brings %.3g", limit.Gain, got)
		}
		return
	}
	t.Error("a faster drive is not among the remedies")
}

func TestOptionsThatMakeNoSense(t *testing.T) {
	for what, change := range map[string]func(*Options){
		"sensitivity peak": func(o *Options) { o.Targets.SensitivityPeak = 1 },
		"gain margin":      func(o *Options) { o.Targets.GainMargin = 1 },
		"phase margin":     func(o *Options) { o.Targets.PhaseMargin = math.NaN() },
		"gain share":       func(o *Options) { o.GainShare = 0 },
		"mass range":       func(o *Options) { o.MassRange = [2]float64{5, 2} },
	} {
		opt := DefaultOptions()
		change(&opt)
		if _, err := Propose(context.Background(), invented(1), opt); err == nil || !strings.Contains(err.Error(), what) {
			t.Errorf("%s: got %v", what, err)
		}
	}
}

func TestAPlantThatCannotBe(t *testing.T) {
	p := invented(1)
	p.Model.Mass = math.NaN()
	if out, err := Propose(context.Background(), p, DefaultOptions()); err != nil || out.Loops.Position != nil || out.NotProposed["position"] == "" {
		t.Errorf("got %v and %+v, want no loop and why", err, out)
	}
	if _, err := Judge(p, DefaultOptions(), law.Position{}); err == nil || !strings.Contains(err.Error(), "mass") {
		t.Errorf("got %v, want an error that names the mass", err)
	}
}

func TestProposeStopsWithItsContext(t *testing.T) {
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	if _, err := Propose(ctx, invented(1), DefaultOptions()); err == nil {
		t.Error("no error from an ended context")
	}
}

func TestSwings(t *testing.T) {
	for _, tc := range []struct {
		y    []float64
		want int
	}{
		{[]float64{0, 1, 2, 3}, 0}, {[]float64{3, 2, 1}, 0}, {[]float64{0, 2, 0.5}, 1},
		{[]float64{2, 0, 1.5, 0, 1.5}, 3}, {[]float64{0, 0.5, 0.2, 0.5, 0.2}, 0},
	} {
		if got := swings(tc.y, 1); got != tc.want {
			t.Errorf("%v: %d swings, want %d", tc.y, got, tc.want)
		}
	}
}

func TestDroopIsNoOvershoot(t *testing.T) {
	if over := beyondRest([]float64{0, 0.5, 1.05, 1.04}, 0, 1); math.Abs(over-0.01) > 1e-12 {
		t.Errorf("a rest at 1.04 after a peak of 1.05 counts as %g", over)
	}
}

func BenchmarkPropose(b *testing.B) {
	p := invented(3)
	for b.Loop() {
		if _, err := Propose(context.Background(), p, DefaultOptions()); err != nil {
			b.Fatal(err)
		}
	}
}

// BenchmarkJudge is one turn of a knob: margins over the whole grid and both steps.
func BenchmarkJudge(b *testing.B) {
	p := invented(3)
	out, err := Propose(context.Background(), p, DefaultOptions())
	if err != nil {
		b.Fatal(err)
	}
	set := *out.Loops.Position
	for b.Loop() {
		if _, err := Judge(p, DefaultOptions(), set); err != nil {
			b.Fatal(err)
		}
	}
}
