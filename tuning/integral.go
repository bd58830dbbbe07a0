package tuning

import (
	"fmt"
	"math"

	"eha/strokewise/ident/machine"
	"eha/strokewise/ident/plant"
	"eha/strokewise/tuning/law"
	"eha/strokewise/tuning/sim"
)

// Bounds for window and integral, found on simulated machines.
const (
	windowShare = 0.012  // of the standard step, the largest acceptable window
	droopShare  = 0.01   // of the standard step, above which proportional action alone is not enough
	largestJump = 0.3e-3 // m, stick-slip jump above which an integral hunts
)

// Without pressures nobody knows slip, load and stick-slip: the integral that served
// most simulated machines, over a window of half the largest acceptable one.
const (
	blindIntegral = 0.008
	blindWindow   = windowShare / 2
)

// integralShares are the ki over kp² tried: what the integral gathers during a step
// comes back as a tail of ki/kp² of it, which should stay inside the 2 % band.
var integralShares = []float64{0, 0.004, 0.008, 0.015, 0.03, 0.06}

// droop returns the largest distance (m) from the reference at which the rod can
// come to rest under proportional action alone: slip under load and friction,
// C (|load| + Fc)/(A² kp), over the grid.
func (d *design) droop(set *law.Position) float64 {
	worst := 0.0
	for _, dir := range []plant.Direction{plant.Extend, plant.Retract} {
		for _, c := range d.corners(&d.model, dir, []float64{d.model.OuterDelay}) {
			area := d.model.Area.At(c.place.Chamber)
			force := math.Abs(c.load) + d.model.Coulomb.At(dir)
			worst = max(worst, d.model.Leakage*force/(area*area*set.Kp.At(dir))/scaleGain(&d.model, set, c))
		}
	}
	return worst
}

// scaleGain returns what the scale makes of a speed demand: 1 where turns fit the chamber that carries.
func scaleGain(m *plant.Model, set *law.Position, c corner) float64 {
	return turnsAt(m, set, c.place) * m.StrokePerTurn(c.place.Chamber)
}

// jump returns the largest stick-slip jump (m) over the grid, 2 (Fs - Fc)/K with
// K the stiffness of the chamber that carries.
func (d *design) jump() float64 {
	worst := 0.0
	for _, dir := range []plant.Direction{plant.Extend, plant.Retract} {
		for _, c := range d.corners(&d.model, dir, []float64{d.model.OuterDelay}) {
			area := d.model.Area.At(c.place.Chamber)
			compliance := d.model.Compliance(c.place.Chamber, c.place.Position, c.place.Pressure)
			excess := max(d.model.Breakaway-d.model.Coulomb.At(dir), 0)
			worst = max(worst, 2*excess*compliance/(area*area))
		}
	}
	return worst
}

// setWindow fills in the in-position window: half a stick-slip jump, not under
// twice the transducer's resolution or noise and not over 1.2 % of the standard step.
func (d *design) setWindow(set *law.Position) {
	sensor := 2 * max(d.p.Seen.Resolution.Position, d.p.Seen.Noise.Position)
	most := windowShare * stepSize(&d.model)
	window := max(min(d.jump()/2, most), sensor)
	set.Window = d.typed.up("window", window, inMM)
	if sensor > most {
		d.warn("The transducer's noise and resolution ask for a window of %.2g mm, more than 1.2 %% of the standard step.", set.Window*inMM)
	}
}

// windowRoom is the room that the window leaves over the largest error simulated
// on the model and on drawn ones, for what the model itself leaves out.
const windowRoom = 1.25

// widenWindow makes the in-position window wide enough to be reached: one that the
// loop cannot reach would never report arrival.
func (d *design) widenWindow(set *law.Position) {
	reached := windowRoom * d.leftAtRest(set)
	if reached <= set.Window {
		return
	}
	set.Window = d.typed.up("window", reached, inMM)
	if reached > windowShare*stepSize(&d.model) {
		d.warn("The window is %.2g mm, for slip under load leaves as much %d s after a standard step: more gain, less slip or a lighter load would narrow it.", set.Window*inMM, restTime)
	}
}

// integralRatios returns the ki over kp² to choose from: none where slip under
// load leaves less than 1 % of the standard step, or where an integral is not to be had, and
// then it says why. Where the rod jumps far but slip leaves much more than a jump,
// the window is widened to a whole jump, at which no integral hunted in trials.
func (d *design) integralRatios(set *law.Position) []float64 {
	if !d.p.PressuresSeen && d.opt.Integral != machine.No && d.p.Machine.Controller.Integral.Or(true) {
		set.Window = max(set.Window, d.typed.up("window", blindWindow*stepSize(&d.model), inMM))
		d.warn("Without pressures neither slip under load nor stick-slip is known: a small integral and a wide window of %.2g mm are proposed; take the integral out if the rod hunts.", set.Window*inMM)
		return []float64{blindIntegral}
	}
	droop, jump := d.droop(set), d.jump()
	needed := droop > droopShare*stepSize(&d.model)
	if d.opt.Integral == machine.No || !needed && d.opt.Integral != machine.Yes {
		return []float64{0}
	}
	leaves := fmt.Sprintf("slip under load leaves up to %.2g mm", droop*inMM)
	jumps := jump > largestJump || jump > 2*windowShare*stepSize(&d.model)
	switch {
	case !d.p.Machine.Controller.Integral.Or(true):
		d.warn("The controller holds no integral: %s.", leaves)
		return []float64{0}
	case jumps && droop < 2*jump:
		d.warn("No integral is proposed: the rod sticks and jumps by up to %.2g mm, so an integral would hunt; %s.", jump*inMM, leaves)
		return []float64{0}
	case jumps:
		set.Window = d.typed.up("window", max(jump, set.Window), inMM)
		d.warn("The window is as wide as the rod jumps when it sticks, %.2g mm: with less the integral would hunt, and without it %s.", set.Window*inMM, leaves)
	}
	return integralShares
}

// hunts reports whether the rod keeps jumping seconds after a step, with
// friction as bristles, at mid-stroke in either direction.
func (d *design) hunts(set law.Position) bool {
	if d.model.Breakaway <= max(d.model.Coulomb.Extend, d.model.Coulomb.Retract) {
		return false
	}
	var found [2]bool
	sim.Each(2, func(i int) {
		from, to := stepEnds(&d.model, plant.Direction(i), d.model.Stroke/2)
		free := clearOf(d.model)
		run := sim.Do(sim.Experiment{Model: &free, MassFactor: 1, Loops: law.Loops{Position: &set}, Start: from, Duration: 8,
			Demand: sim.StepAt(sim.Rest, from, to), Bristle: true})
		found[i] = swings(run.From(4), max(d.jump()/2, set.Window)) > 1
	})
	return found[0] || found[1]
}
