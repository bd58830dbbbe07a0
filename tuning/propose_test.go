package tuning

import (
	"context"
	"math"
	"math/rand/v2"
	"testing"
	"time"

	"eha/strokewise/ident/plant"
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
	m.Drive = plant.Drive{NaturalFreq: between(100, 500), Damping: between(0.55, 1), DeadTime: between(5e-4, 2e-3), AccelLimit: between(2500, 20000), AccelMet: true, AccelPerPressure: between(3e-5, 3e-4)}
	p := &plant.Plant{Model: m, AreasKnown: true, MassKnown: true, PressuresSeen: true, Params: map[plant.Param]plant.Estimate{}}
	p.Machine.Motor.MaxSpeed = 314
	p.Seen.Resolution.Position = 2e-6
	about := func(param plant.Param, v, share float64) { p.Params[param] = param.Found(v, v*(1-share), v*(1+share), "a test") }
	force := func(dir plant.Direction) plant.Chamber { return m.Carrier(m.SteadyForce(dir.Sign()*0.02, 1)) }
	about(plant.StrokePerTurnExtend, m.StrokePerTurn(force(plant.Extend)), 0.002)
	about(plant.StrokePerTurnRetract, m.StrokePerTurn(force(plant.Retract)), 0.002)
	about(plant.Slip, m.Leakage/m.Displacement, 0.15)
	about(plant.CoulombFriction, fc, 0.15)
	about(plant.MovingMass, m.Mass, 0.1)
	about(plant.ComplianceCap, 1e-12, 0.1)
	about(plant.ComplianceRod, 1e-12, 0.1)
	about(plant.HydraulicFrequency, 100, 0.07)
	about(plant.DriveBandwidth, m.Drive.NaturalFreq, 0.05)
	about(plant.DeadTime, m.Drive.DeadTime, 0.2)
	about(plant.OuterDelay, m.OuterDelay, 0.2)
	return p
}

func TestLook(t *testing.T) {
	for seed := range uint64(12) {
		p := invented(seed)
		begin := time.Now()
		out, err := Propose(context.Background(), p, DefaultOptions())
		if err != nil {
			t.Fatal(err)
		}
		took := time.Since(begin)
		l := out.Loops.Position
		if l == nil {
			t.Log(seed, out.NotProposed)
			continue
		}
		w := out.Worst["position"]
		t.Logf("%d %v kp %.3g %.3g ki %.3g lp %.3g win %.3g lim %.3g Ms %.3f GM %.1f dB PM %.0f  %s", seed, took, l.Kp.Extend, l.Kp.Retract, l.Ki.Extend, l.Lowpass*inHz, l.Window*1e3, l.SpeedLimit*inRPM, w.Sensitivity, 20*math.Log10(w.GainMargin), w.PhaseMargin*57.3, w.Why)
		for _, s := range out.Predicted {
			t.Logf("   %s rise %.3f [%.3f %.3f] settle %.3f [%.3f %.3f] os %.2f%% [%.1f %.1f] off %.4f mm", s.Direction, s.Rise.Value, s.Rise.Low, s.Rise.High, s.Settling.Value, s.Settling.Low, s.Settling.High, 100*s.Overshoot.Value, 100*s.Overshoot.Low, 100*s.Overshoot.High, s.FinalError.Value*1e3)
		}
		for _, s := range out.Limits {
			t.Logf("   limit %s: %s -> %.2f", s.What, s.Remedy, s.Gain)
		}
		for _, s := range out.Warnings {
			t.Log("   warn ", s)
		}
	}
}

func BenchmarkPropose(b *testing.B) {
	p := invented(3)
	for b.Loop() {
		Propose(context.Background(), p, DefaultOptions())
	}
}

func BenchmarkJudge(b *testing.B) {
	p := invented(3)
	out, err := Propose(context.Background(), p, DefaultOptions())
	if err != nil {
		b.Fatal(err)
	}
	for b.Loop() {
		Judge(p, DefaultOptions(), *out.Loops.Position)
	}
}
