package tuning

import (
	"math"
	"testing"

	"eha/strokewise/ident/machine"
	"eha/strokewise/ident/plant"
	"eha/strokewise/samples/twin"
)

// Proposals with pressure damping keep what they state on simulated heavy machines,
// whose resonance is low enough for the drive to damp, with the margins read at both
// places where the loop can be broken, and their steps arrive as predicted.
func TestPressureDampingHoldsOnSimulatedMachines(t *testing.T) {
	if testing.Short() {
		t.Skip("linearises simulated machines")
	}
	var used int
	var stable, margins, settling tally
	for seed := range uint64(5) {
		m := twin.Random(twin.Heavy, 960+seed)
		p := fittedTo(m, 960+seed)
		p.Seen.Noise.Pressure = m.Sensors.PressureNoise
		plain := propose(t, p, DefaultOptions())
		opt := DefaultOptions()
		opt.PressureDamping = machine.Yes
		out := propose(t, p, opt)
		set := out.Loops.Position
		t.Logf("heavy-%d: damping %.3g rev/s/bar, kp %.3g and %.3g without", 960+seed, set.PressureDamping*revPerSBar, speedOf(out), speedOf(plain))
		if set.PressureDamping == 0 {
			continue
		}
		used++
		if set.Highpass == 0 {
			t.Errorf("heavy-%d: damping without a high-pass would carry the load's pressure", 960+seed)
		}
		loops := asTyped(set)
		for _, stated := range out.Margins {
			got := twin.PositionMargins(m.WithMass(stated.MassFactor), loops.Position, stated.Position, stated.Direction.Sign())
			if got.Steady && stated.Loop == "position" {
				margins.add(got.Stable && got.GainMargin > stated.GainMargin/fromDecibel(1.5) && got.PhaseMargin > stated.PhaseMargin-7*math.Pi/180)
			}
		}
		for _, s := range out.Predicted[:2] {
			for _, factor := range []float64{0.6, 1, 1.6} {
				got := twin.StandardStep(m.WithMass(factor), loops, s.Direction.Sign())
				stable.add(got.Stable)
				if factor == 1 {
					settling.add(got.Settling == s.Settling.Value || math.Abs(got.Settling/s.Settling.Value-1) < 0.2)
				}
			}
		}
	}
	t.Logf("%d with damping; stable %v, margins %v, settling %v", used, stable, margins, settling)
	if used < 2 || stable.share() < 1 || margins.share() < 0.95 || settling.share() < 0.7 {
		t.Errorf("%d machines with damping: stable %v, margins %v, settling %v", used, stable, margins, settling)
	}
}

// Damping through a drive that turns it, through a long delay or out of noise is
// none, whatever is asked.
func TestPressureDampingIsRefused(t *testing.T) {
	m := twin.Random(twin.Heavy, 961)
	for what, change := range map[string]func(p *plant.Plant){
		"slow drive": func(p *plant.Plant) { p.Model.Drive.NaturalFreq /= 8 },
		"long delay": func(p *plant.Plant) { p.Model.OuterDelay += 30e-3; know(p, plant.OuterDelay, p.Model.OuterDelay, 0.1) },
		"noise": func(p *plant.Plant) { // no low-pass hides it
			p.Seen.Noise.Pressure, p.Machine.Controller.SpeedLowpass = 20e5, machine.No
		},
	} {
		p := fittedTo(m, 961)
		change(p)
		opt := DefaultOptions()
		opt.PressureDamping = machine.Yes
		if set := propose(t, p, opt).Loops.Position; set.PressureDamping != 0 {
			t.Errorf("%s: damping of %.3g rev/s/bar", what, set.PressureDamping*revPerSBar)
		}
	}
}

// Where drive and delays are quick against a resonance that hardly anything damps,
// and no low-pass is to be had, damping pays and is taken without being asked for.
func TestPressureDampingPays(t *testing.T) {
	paid := 0
	for seed := range uint64(5) {
		p := invented(800 + seed)
		p.Model.Drive.NaturalFreq, p.Model.Drive.DeadTime = 700, 5e-4
		p.Model.OuterDelay, p.Model.ControllerPeriod, p.Model.PressureLag = 1e-3, 1e-3, 3e-4
		p.Model.Mass, p.Model.Viscous = 4*p.Model.Mass, p.Model.Viscous/4
		know(p, plant.OuterDelay, 1e-3, 0.1)
		p.Machine.Controller.SpeedLowpass, p.Machine.Controller.PressureDamping = machine.No, machine.Yes
		with := propose(t, p, DefaultOptions())
		p.Machine.Controller.PressureDamping = machine.No
		without := propose(t, p, DefaultOptions())
		damped, factor := with.Loops.Position.PressureDamping > 0, speedOf(with)/speedOf(without)
		t.Logf("seed %d: damping %t, kp times %.3g", 800+seed, damped, factor)
		if damped {
			paid++
		}
		if damped && factor < 1 {
			t.Errorf("seed %d: damping that slows, kp times %.3g", 800+seed, factor)
		}
	}
	if paid < 2 {
		t.Errorf("damping paid on %d machines", paid)
	}
}
