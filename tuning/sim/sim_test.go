package sim

import (
	"math"
	"math/rand/v2"
	"testing"

	"eha/strokewise/ident/plant"
	"eha/strokewise/tuning/law"
	"eha/strokewise/tuning/loop"
)

// press is an invented actuator with a load that pushes the rod in.
func press() plant.Model {
	m := plant.Model{
		Area: plant.PerChamber[float64]{Cap: 3.1e-3, Rod: 2.1e-3}, Stroke: 0.3, Displacement: 8e-7,
		Leakage: 1e-12, LowPressure: 2e5, LowResistance: 2e8, Mass: 400,
		Coulomb: plant.PerDirection[float64]{Extend: 900, Retract: 900}, Viscous: 4000,
		Breakaway: 1300, StribeckSpeed: 0.005, AxialLoad: -6000, GravityShare: -3900,
		TransducerDelay: 0.7e-3, PressureLag: 1e-3, OuterDelay: 1.5e-3, ControllerPeriod: 1e-3,
	}
	m.Oil = plant.PerChamber[plant.Oil]{
		Cap: plant.Oil{Fixed: 1.5e-13, Modulus: 1.4e9, Air: 0.005, AirVolume: 1e-4},
		Rod: plant.Oil{Fixed: 1.5e-13, Modulus: 1.4e9, Air: 0.005, AirVolume: 1e-4},
	}
	m.Drive = plant.Drive{NaturalFreq: 280, Damping: 0.75, DeadTime: 1e-3, AccelLimit: 8000, AccelMet: true, AccelPerPressure: 2e-4}
	return m
}

func settings(m *plant.Model, kp float64) law.Loops {
	turns := m.Area.Cap / m.Displacement
	return law.Loops{Position: &law.Position{
		Period: m.ControllerPeriod, Kp: plant.PerDirection[float64]{Extend: kp, Retract: kp}, Feedforward: 1,
		Turns: plant.PerDirection[float64]{Extend: turns, Retract: turns}, SpeedLimit: 300,
	}}
}

func TestStepArrives(t *testing.T) {
	m := press()
	r := Do(Experiment{Model: &m, MassFactor: 1, Loops: settings(&m, 10), Start: 0.14, Duration: 3, Demand: StepAt(Rest, 0.14, 0.15), All: true})
	f := StepFigures(r.From(Rest), r.Period, 0.14, 0.15, 0.02)
	if f.Overshoot > 0.02 || f.Rise < 0.15 || f.Rise > 0.3 { // ln 9 / kp = 0.22 s
		t.Errorf("%+v", f)
	}
	if want := m.PressureFor(plant.Cap, m.SteadyForce(0.05, 1)); r.PeakPressure < want || r.PeakPressure > 2*want {
		t.Errorf("peak pressure %g Pa, steady travel asks for %g", r.PeakPressure, want)
	}
}

// With proportional action alone the rod stops off its reference by at most
// C (|load| + Fc)/(A² kp), and not under C (|load| - Fc)/(A² kp): slip has to be made up.
func TestDroop(t *testing.T) {
	m := press()
	m.Leakage *= 5
	r := Do(Experiment{Model: &m, MassFactor: 1, Loops: settings(&m, 5), Start: 0.14, Duration: 12, Demand: StepAt(Rest, 0.14, 0.15)})
	off := 0.15 - r.Position[len(r.Position)-1]
	unit := m.Leakage / (m.Area.Cap * m.Area.Cap * 5)
	shift := m.LowPressure * (m.Area.Cap - m.Area.Rod) // the low side holds this much of the load
	low, high := unit*(6000-900-shift), unit*(6000+900)
	if off < low || off > high {
		t.Errorf("stops off by %g m, want %g to %g", off, low, high)
	}
}

// A loop of gain K and delay theta: overshoot, rise and settling in closed form by
// the method of steps, computed (+-0.5 %, and +-0.05 points of overshoot).
func TestDelayLoop(t *testing.T) {
	for _, tc := range []struct{ k, overshoot, rise, settling float64 }{
		{0.36788, 0, 3.318, 6.532}, {0.5, 4.052, 1.905, 6.057}, {0.7, 20.60, 1.179, 7.439}, {math.Pi / 4, 28.74, 1.028, 8.961},
	} {
		m := plant.Model{Area: plant.PerChamber[float64]{Cap: 1e-3, Rod: 1e-3}, Stroke: 4, Displacement: 1e-6, LowPressure: -1e9, Mass: 10, Viscous: 12000}
		m.Oil.Cap = plant.Oil{Fixed: 5e-14, Modulus: 1e30}
		m.Oil.Rod = m.Oil.Cap
		m.Drive = plant.Drive{NaturalFreq: 1000, Damping: 1}
		m.ControllerPeriod = 2e-3
		lag := 2/1000. + 12000*5e-14/1e-6 // drive 2 zeta/w and b C/A²
		m.OuterDelay = 1 - lag - m.ControllerPeriod/2
		loops := settings(&m, tc.k)
		loops.Position.SpeedLimit = 1e9
		r := Do(Experiment{Model: &m, MassFactor: 1, Loops: loops, Start: 1, Duration: 31, Demand: StepAt(Rest, 1, 2)})
		f := StepFigures(r.From(Rest), r.Period, 1, 2, 0.02)
		if math.Abs(100*f.Overshoot-tc.overshoot) > 0.05 || math.Abs(f.Rise/tc.rise-1) > 0.005 || math.Abs(f.Settling/tc.settling-1) > 0.005 {
			t.Errorf("K %g: %+v, want %+v", tc.k, f, tc)
		}
	}
}

// The time simulation without friction and limits falls off just below the gain
// margin that the frequency response gives, and builds up just above it.
func TestSimulationMeetsTheGainMargin(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 4))
	for range 20 {
		m := press()
		m.Coulomb, m.Drive.AccelLimit, m.Oil.Cap.Air = plant.PerDirection[float64]{}, 0, 0
		m.Mass *= 0.5 + rng.Float64()
		m.Leakage *= 5 * rng.Float64()
		m.OuterDelay = 4e-3 * rng.Float64()
		loops := settings(&m, 1)
		loops.Position.Lowpass = 300 * rng.Float64()
		loops.Position.SpeedLimit = 1e9
		p := loop.NewPosition(&m, loop.Place{Chamber: plant.Cap, Position: 0.15, Pressure: m.PressureFor(plant.Cap, 6000), MassFactor: 1}, m.OuterDelay)
		p.Kp, p.Turns, p.Lowpass = 1, loops.Position.Turns.Extend, loops.Position.Lowpass
		limit := p.Margins(loop.Fine).Gain
		grows := func(k float64) bool {
			loops.Position.Kp = plant.PerDirection[float64]{Extend: k, Retract: k}
			r := Do(Experiment{Model: &m, MassFactor: 1, Loops: loops, Start: 0.15, Duration: 5, Demand: StepAt(0.5, 0.15, 0.15)})
			n := len(r.Position)
			return swing(r.Position[n*9/10:]) > 0.95*swing(r.Position[n*4/10:n/2]) // a lasting cycle counts
		}
		if grows(0.98*limit) || !grows(1.03*limit) {
			t.Errorf("mass %g kg, low-pass %g rad/s: grows at 0.98 x limit %t, at 1.03 x %t", m.Mass, loops.Position.Lowpass, grows(0.98*limit), grows(1.03*limit))
		}
	}
}

func swing(x []float64) float64 {
	low, high := x[0], x[0]
	for _, v := range x {
		low, high = min(low, v), max(high, v)
	}
	return high - low
}

// A machine mirrored (chambers, load and contact exchanged) mirrors its motion.
func TestMirror(t *testing.T) {
	m := press()
	m.LowResistance, m.Coulomb.Retract = 3e8, 700
	o := m
	o.Area, o.Oil = plant.PerChamber[float64]{Cap: m.Area.Rod, Rod: m.Area.Cap}, plant.PerChamber[plant.Oil]{Cap: m.Oil.Rod, Rod: m.Oil.Cap}
	o.AxialLoad, o.GravityShare, o.Coulomb = -m.AxialLoad, -m.GravityShare, plant.PerDirection[float64]{Extend: m.Coulomb.Retract, Retract: m.Coulomb.Extend}
	loops := settings(&m, 12)
	a := Do(Experiment{Model: &m, MassFactor: 1.3, Loops: loops, Start: 0.1, Duration: 2.5, Demand: StepAt(Rest, 0.1, 0.13)})
	b := Do(Experiment{Model: &o, MassFactor: 1.3, Loops: loops, Start: 0.2, Duration: 2.5, Demand: StepAt(Rest, 0.2, 0.17)})
	for i := range a.Position {
		if math.Abs(a.Position[i]+b.Position[i]-0.3) > 1e-12 {
			t.Fatalf("at %d: %g and %g", i, a.Position[i], b.Position[i])
		}
	}
}

// A quarter of a millisecond is short enough: figures as with a tenth of it.
func TestStepLengthIsShortEnough(t *testing.T) {
	m := press()
	e := Experiment{Model: &m, MassFactor: 1, Loops: settings(&m, 15), Start: 0.14, Duration: 3, Demand: StepAt(Rest, 0.14, 0.15)}
	coarse := StepFigures(Do(e).From(Rest), 1e-3, 0.14, 0.15, 0.02)
	fineRun := do(e, 40)
	fine := StepFigures(fineRun.From(Rest), 1e-3, 0.14, 0.15, 0.02)
	if math.Abs(coarse.Overshoot-fine.Overshoot) > 0.01 || math.Abs(coarse.Rise/fine.Rise-1) > 0.02 {
		t.Errorf("at the usual step %+v, at a fine one %+v", coarse, fine)
	}
}

// Breakaway well above Coulomb friction on soft oil with an integral and no
// window hunts; the same with Coulomb friction alone comes to rest.
func TestBristlesHuntAndCoulombDoesNot(t *testing.T) {
	m := press()
	m.Oil.Cap.Fixed, m.Breakaway, m.AxialLoad = 3e-12, 2700, -2500
	loops := settings(&m, 6)
	loops.Position.Ki = plant.PerDirection[float64]{Extend: 12, Retract: 12}
	e := Experiment{Model: &m, MassFactor: 1, Loops: loops, Start: 0.14, Duration: 30, Demand: StepAt(Rest, 0.14, 0.15)}
	last := func() float64 { x := Do(e).Position; return swing(x[len(x)-5000:]) }
	coulomb := last()
	e.Bristle = true
	bristle := last()
	jump := 2 * (2700 - 900.) * (3e-12 + 0.145*3.1e-3/1.4e9) / (3.1e-3 * 3.1e-3)
	if bristle < jump/2 || coulomb > jump/5 {
		t.Errorf("swing in the last 5 s: bristles %g m, Coulomb %g m; a jump is %g m", bristle, coulomb, jump)
	}
}

func BenchmarkThousandDraws(b *testing.B) {
	m := press()
	e := Experiment{Model: &m, MassFactor: 1, Loops: settings(&m, 12), Start: 0.14, Duration: 2, Demand: StepAt(Rest, 0.14, 0.15)}
	for b.Loop() {
		Each(1000, func(int) { Do(e) })
	}
}

func BenchmarkStep(b *testing.B) {
	m := press()
	e := Experiment{Model: &m, MassFactor: 1, Loops: settings(&m, 12), Start: 0.14, Duration: 2, Demand: StepAt(Rest, 0.14, 0.15)}
	for b.Loop() {
		Do(e)
	}
}

// A work piece that gives way leaves the rod free until it meets the next one; the
// force on either is stiffness times depth, worked by hand from the position.
func TestNextContact(t *testing.T) {
	m := press()
	m.Contact = &plant.Contact{Position: 0.145, Stiffness: 2e6}
	const lost, gap = 2.0, 2e-3
	r := Do(Experiment{Model: &m, MassFactor: 1, Loops: settings(&m, 10), Start: 0.144, Duration: 6, All: true,
		Demand: StepAt(0.5, 0.144, 0.149), ContactUntil: lost, NextContact: gap})
	met := false
	for i, x := range r.Position {
		at := m.Contact.Position
		if float64(i)*r.Period > lost+1e-9 {
			at += gap
		}
		if want := m.Contact.Stiffness * max(x-at, 0); math.Abs(r.Contact[i]-want) > 1e-6 {
			t.Fatalf("at %.3f s and %.4f mm: %.3f N, want %.3f N", float64(i)*r.Period, 1e3*x, r.Contact[i], want)
		}
		met = met || at > m.Contact.Position && r.Contact[i] > 0
	}
	if !met {
		t.Error("the next work piece was never met")
	}
}
