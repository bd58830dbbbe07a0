package tuning

import (
	"fmt"
	"math"

	"eha/strokewise/ident/plant"
	"eha/strokewise/tuning/law"
)

// bringUp returns the steps from timid to proposed. Step 0 keeps what is in the
// drive; each later one says what to see before the next, when to stop and how to go back.
func (d *design) bringUp(l law.Loops) []BringUpStep {
	if l.Position == nil {
		return nil
	}
	steps := []BringUpStep{d.keepStep(), limitsStep()}
	for _, stage := range []struct {
		share float64
		title string
	}{{0.25, "A quarter of the gain"}, {0.5, "Half the gain"}, {1, "The whole gain, no integral yet"}} {
		set := *l.Position
		set.Ki = plant.PerDirection[float64]{}
		set.Kp.Extend, set.Kp.Retract = stage.share*set.Kp.Extend, stage.share*set.Kp.Retract
		set.SpeedLimit = min(set.SpeedLimit, max(stage.share, 0.25)*set.SpeedLimit)
		d.sameGains(&set)
		steps = append(steps, d.gainStep(stage.title, set))
	}
	if l.Position.Ki.Extend > 0 || l.Position.Ki.Retract > 0 {
		steps = append(steps, d.gainStep("The integral as proposed", *l.Position))
	}
	full := []string{"Raise the speed limit in three steps to the proposed one, with the usual production move.", "Repeat with the lightest and the heaviest load.", "Set the guards as listed and check that none trips."}
	if d.longestJump > 0 {
		full = append([]string{fmt.Sprintf("First see to it that no position command jumps by more than %.0f mm: give longer moves a smooth reference.", d.longestJump*inMM)}, full...)
	}
	steps = append(steps, BringUpStep{
		Title:    "Full speed and full load",
		Settings: &law.Loops{Position: l.Position},
		Do:       full,
		Expect:   []string{"no hum at standstill, no growing swing, pressures below their limit"},
		StopIf:   stopSigns(),
		Back:     "Enter the settings of the step before.",
	})
	if l.Force != nil {
		steps = append(steps, d.forceSteps(l)...)
	}
	return append(steps, BringUpStep{
		Title: "Log again", Do: []string{"Log the same moves as before and compare them with the prediction and with the first log.", "Write down who set what and when."},
		Expect: []string{"figures inside the predicted bands"}, Back: "Enter the settings kept in step 0.",
	})
}

func (d *design) keepStep() BringUpStep {
	return BringUpStep{
		Title: "Keep what is in the drive", Settings: d.opt.AsFound,
		Do:     []string{"Save the drive's and the controller's settings to a file and print them.", "Write down the limits in force: speed, torque, pressure, travel, following error."},
		Expect: []string{"a file and a sheet with every setting that the next steps change"},
		Back:   "This file is the way back for every later step: load it, cycle the enable, jog.",
	}
}

func limitsStep() BringUpStep {
	return BringUpStep{
		Title: "Limits low, signs right",
		Do: []string{"People clear, hand on the stop device, load supported.", "Set speed to a tenth, torque and pressure to what slow travel needs plus a quarter, soft limits and following error as in the guards.",
			"Loops open: jog both ways by hand at the lowest speed."},
		Expect: []string{"extending counts encoder and transducer up, and the pressure of the side that pushes rises", "the stop device stops it"},
		StopIf: []string{"any count or pressure goes the wrong way", "motion without command"},
		Back:   "Restore the settings of step 0 and put the wiring or sign right first.",
	}
}

func stopSigns() []string {
	return []string{"hum or a swing that grows", "overshoot above twice what is expected", "pressure or torque at its limit", "a jump at reversal or at a change of the load's side"}
}

// gainStep enters the settings and says what the standard step should look like with them.
func (d *design) gainStep(title string, set law.Position) BringUpStep {
	step := BringUpStep{
		Title: title, Settings: &law.Loops{Position: &set}, StopIf: stopSigns(),
		Do:   []string{fmt.Sprintf("Enter the settings; step %.3g mm out and back at mid-stroke, after a second at rest.", stepSize(&d.model)*inMM)},
		Back: "Enter the settings of the step before.",
	}
	for _, dir := range []plant.Direction{plant.Extend, plant.Retract} {
		run, from, to := d.stepRun(&d.likely, set, dir, d.clearPlace(), 1, stepTime(&set))
		o := figuresOf(run, from, to)
		settle := "does not settle to 2 %"
		if !math.IsInf(o.Settling, 1) {
			settle = fmt.Sprintf("settled to 2 %% in %.2g s", o.Settling)
		}
		rise := "no rise to 90 %"
		if !math.IsInf(o.Rise, 1) {
			rise = fmt.Sprintf("rise %.2g s", o.Rise)
		}
		step.Expect = append(step.Expect, fmt.Sprintf("%sing: %s, overshoot %.1f %%, %s, %s off at rest", dir, rise, 100*o.Overshoot, settle, offText(o.off)))
	}
	return step
}

// offText words a distance left (m) in mm, no finer than a thousandth.
func offText(off float64) string {
	if off < 1e-6 {
		return "less than 0.001 mm"
	}
	return fmt.Sprintf("at most %.2g mm", off*inMM)
}
