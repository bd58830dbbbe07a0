package tuning

import (
	"errors"

	"eha/strokewise/ident/plant"
	"eha/strokewise/tuning/law"
	"eha/strokewise/tuning/loop"
)

// errNoGain says that no gain keeps the targets, errTooCoarse that a setting which
// must not be zero cannot be typed as anything else.
var (
	errNoGain    = errors.New("no gain keeps the targets over the whole grid; log the drive and the resonance (multisine) to narrow the plant")
	errTooCoarse = errors.New("speed limit or turns per travel are less than one step of the resolution stated; correct speed_limit or turns_per_mm under controller.resolution in the machine file")
)

// positionLoop is a position loop with how it came about.
type positionLoop struct {
	set    law.Position
	base   law.Position // without gains
	found  search
	met    plant.PerDirection[fault] // what the simulation stepped back from
	damped float64                   // factor on kp that pressure damping brings or would bring
}

// designPosition works the position loop out: the fastest gains that keep the
// targets, stepped back until the simulation is content, window and integral.
func (d *design) designPosition() (positionLoop, error) {
	out := positionLoop{base: d.base(), damped: 1}
	set := out.base
	if !(set.SpeedLimit > 0 && set.Turns.Extend > 0 && set.Turns.Retract > 0) {
		return out, errTooCoarse
	}
	out.found = d.fastest(&d.model, set, loop.Coarse)
	if d.p.PressuresSeen {
		dampedSet, found, factor := d.damped(set, out.found)
		out.damped = factor
		if may, asked := d.mayDamp(); may && (factor > dampingPays || asked && factor > 1) {
			set, out.found = dampedSet, found
		}
	}
	out.found = d.tune(&set, d.quickest(set, out.found))
	if !(set.Kp.Extend > 0 && set.Kp.Retract > 0) {
		return out, errNoGain
	}
	if d.over() {
		return out, d.ended()
	}
	d.setWindow(&set)
	out.met = d.holdBack(&set)
	ratios := d.integralRatios(&set)
	set = d.polish(set, ratios)
	if set.Ki != (plant.PerDirection[float64]{}) && d.hunts(set) {
		set.Ki = plant.PerDirection[float64]{}
		d.warn("No integral is proposed: with the friction fitted it hunts in simulation; slip under load leaves up to %.2g mm.", d.droop(&set)*inMM)
	}
	if d.over() {
		return out, d.ended()
	}
	if !d.secure(&set) {
		return out, errNoGain
	}
	d.widenWindow(&set)
	d.boundJumps(&set)
	out.set = set
	d.tellRest(out)
	return out, nil
}

// holdBack keeps the drive's torque from being the limit that nobody intended: it
// lowers the gains until the trials pass, or first the speed limit to where braking
// stays within the torque, whichever leaves the quicker step.
func (d *design) holdBack(set *law.Position) plant.PerDirection[fault] {
	slower := *set
	met := d.stepBack(&d.model, set)
	limit := d.brakingSpeed(&slower)
	if met.Extend != overshoots && met.Retract != overshoots || limit >= slower.SpeedLimit {
		return met
	}
	slower.SpeedLimit = limit
	metSlower := d.stepBack(&d.model, &slower)
	if d.meanSettling(slower) < 0.9*d.meanSettling(*set) {
		*set, met = slower, metSlower
		d.warn("The speed limit is lowered to %.0f rpm: braking from more would ask for more torque than the drive was seen to give.", set.SpeedLimit*inRPM)
	}
	return met
}

// brakingSpeed returns the motor speed (rad/s) from which the larger kp brakes
// within nine tenths of the acceleration that torque and load leave.
func (d *design) brakingSpeed(set *law.Position) float64 {
	drive := d.model.Drive
	if drive.AccelLimit <= 0 || !drive.AccelMet {
		return set.SpeedLimit
	}
	load := 0.0
	for _, dir := range []plant.Direction{plant.Extend, plant.Retract} {
		for _, c := range d.corners(&d.model, dir, []float64{d.model.OuterDelay}) {
			load = max(load, drive.AccelPerPressure*(c.place.Pressure-d.model.LowPressure))
		}
	}
	left := max(drive.AccelLimit-load, 0.2*drive.AccelLimit)
	return d.typed.down("speed_limit", 0.9*left/max(set.Kp.Extend, set.Kp.Retract), inRPM)
}

// meanSettling returns the mean settling time (s) of the standard step at mid-stroke.
func (d *design) meanSettling(set law.Position) float64 {
	sum := 0.0
	for _, s := range d.predictSteps(set, nil) {
		sum += s.Settling.Value / 2
	}
	return sum
}

// secure lowers the gains until the margins, counted anew on the settings as they
// can be typed, hold at every point of the grid. It reports whether they do.
func (d *design) secure(set *law.Position) bool {
	for range 200 {
		margins, _ := d.positionMargins(set, loop.Fine)
		broken := plant.PerDirection[bool]{}
		for _, m := range margins {
			if tightness(m, d.opt.Targets) > 1 {
				broken.Set(m.Direction, true)
			}
		}
		if !broken.Extend && !broken.Retract {
			return set.Kp.Extend > 0 && set.Kp.Retract > 0
		}
		for _, dir := range []plant.Direction{plant.Extend, plant.Retract} {
			if broken.At(dir) {
				set.Kp.Set(dir, 0.985*set.Kp.At(dir))
				set.Ki.Set(dir, 0.97*set.Ki.At(dir))
			}
		}
		d.sameGains(set)
	}
	return false
}
