package tuning

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"eha/strokewise/ident/machine"
	"eha/strokewise/ident/plant"
	"eha/strokewise/tuning/law"
	"eha/strokewise/tuning/loop"
	"eha/strokewise/tuning/sim"
)

// restTime is how long after a step (s) the rod is judged to have come to rest.
const restTime = 4

// farOff is the error at rest, as share of the standard step, that has to be said beside
// the gains themselves: with more nobody should take the loop for one that positions.
const farOff = 0.05

// wayPays is the gain in kp from which a way out is named.
const wayPays = 1.2

// leftAtRest returns the largest distance (m) from the reference restTime after a standard
// step either way, by simulation on the model and on drawn ones: what a slow integral
// leaves of slip under load.
func (d *design) leftAtRest(set *law.Position) float64 {
	models := []*plant.Model{&d.model}
	for i := range min(polishDraws, len(d.draws)) {
		models = append(models, &d.draws[i])
	}
	left := make([]float64, 2*len(models))
	sim.Each(len(left), func(i int) {
		run, _, to := d.stepRun(models[i/2], *set, plant.Direction(i%2), d.clearPlace(), 1, restTime)
		left[i] = math.Abs(to - run.Position[len(run.Position)-1])
	})
	return slices.Max(left)
}

// tellRest warns beside the gains of a loop that leaves the rod far from where it is
// told to be, with the window as proposed: inside it the integral rests too.
func (d *design) tellRest(l positionLoop) {
	left, step := d.leftAtRest(&l.set), stepSize(&d.model)
	if left < farOff*step {
		return
	}
	text := fmt.Sprintf("These gains are too low to hold the load against slip: the rod rests up to %.2g mm off, %d s after a standard step of %.2g mm. ", left*inMM, restTime, step*inMM)
	if left > step/2 {
		text += "The predicted figures of so small a step mean little then. "
	}
	text += "Do not position with them where that matters."
	if ways := d.waysOut(l); len(ways) > 0 {
		text += " Ways out: " + strings.Join(ways, "; ") + "."
	} else {
		text += " Less slip or a lighter load would help, and what stands under limits."
	}
	d.foremost = append(d.foremost, text)
}

// waysOut names what the user can state or choose for more gain, computed as the
// margins allow it.
func (d *design) waysOut(l positionLoop) []string {
	var ways []string
	plain := d.fastest(&d.model, l.base, loop.Coarse).product()
	try := func(text string, changed design, base law.Position) {
		gain := math.Sqrt(changed.fastest(&changed.model, base, loop.Coarse).product() / plain)
		if gain > wayPays {
			ways = append(ways, fmt.Sprintf("loop gain x %.3g %s", gain, text))
		}
	}
	if limits, _, _ := d.massRange(); limits[1] == 0 {
		fixed := *d
		fixed.factors = []float64{1}
		try(fmt.Sprintf("if the mass never changes and load.mass_range in the machine file says so, for %.2g to %.2g times the mass is assumed",
			d.factors[0], d.factors[len(d.factors)-1]), fixed, l.base)
	}
	if !l.set.ByChamber {
		chamber := *d
		chamber.opt.Scale = machine.ScaleChamber
		try("if the controller takes the scale by chamber", chamber, chamber.base())
	}
	if l.set.PressureDamping == 0 && l.damped > wayPays {
		ways = append(ways, fmt.Sprintf("loop gain x %.3g with pressure damping in the outer loop", l.damped))
	}
	return ways
}

// tellTooHeavy warns of masses of the range whose load the pressure limit cannot hold.
func (d *design) tellTooHeavy() {
	limits := d.p.Machine.Limits
	most, what := limits.WorkingPressure, "working pressure"
	if most == 0 {
		most, what = limits.Relief, "relief setting"
	}
	if most == 0 || !d.p.AreasKnown {
		return
	}
	for _, factor := range d.factors {
		carrier := d.model.Carrier(-d.model.LoadAt(factor))
		asked := d.model.PressureFor(carrier, -d.model.LoadAt(factor))
		if factor != 1 && asked > most {
			d.warn("With %.2g times the mass the load alone asks for %.3g bar on the %s side, more than the %s of %.3g bar: no gain holds it. State the masses that really occur as load.mass_range in the machine file.",
				factor, asked*1e-5, carrier, what, most*1e-5)
		}
	}
}
