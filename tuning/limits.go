package tuning

import (
	"fmt"
	"math"

	"eha/strokewise/ident/plant"
	"eha/strokewise/tuning/loop"
)

// worthSaying is the factor on the gain from which a remedy is listed.
const worthSaying = 1.02

// remedy is a change to the machine whose effect on the gain is computed.
type remedy struct {
	text   string
	change func(*design)
}

// remedies returns the changes to try on this plant.
func (d *design) remedies() []remedy {
	list := []remedy{
		{"half the controller's period and outer delay", func(d *design) {
			d.model.ControllerPeriod /= 2
			halved := make([]float64, len(d.delays))
			for i := range halved {
				halved[i] = d.delays[i] / 2
			}
			d.delays = halved
		}},
		{"half the hose and dead volume", func(d *design) {
			for _, o := range []*plant.Oil{&d.model.Oil.Cap, &d.model.Oil.Rod} {
				o.Fixed, o.AirVolume = o.Fixed/2, o.AirVolume/2
			}
		}},
		{"a drive half as fast again", func(d *design) { d.model.Drive.NaturalFreq *= 1.5 }},
	}
	if least := d.delays[0]; least > 0 {
		less := min(1e-3, least)
		list = append(list, remedy{fmt.Sprintf("%.2g ms less delay in the outer loop", less*1e3), func(d *design) {
			shifted := make([]float64, len(d.delays))
			for i := range shifted {
				shifted[i] = d.delays[i] - less
			}
			d.delays = shifted
		}})
	}
	if air := max(d.model.Oil.Cap.Air, d.model.Oil.Rod.Air); air > 0.001 {
		list = append(list, remedy{"half the air in the oil", func(d *design) {
			d.model.Oil.Cap.Air, d.model.Oil.Rod.Air = d.model.Oil.Cap.Air/2, d.model.Oil.Rod.Air/2
		}})
	}
	return list
}

// limits returns what keeps the position loop from being faster, and what each
// remedy would bring as a factor on kp, both directions' mean, low-pass searched anew.
func (d *design) limits(l positionLoop) []Limit {
	what := d.limitedBy(l)
	plain := d.fastest(&d.model, l.base, loop.Coarse)
	var list []Limit
	for _, r := range d.remedies() {
		changed := *d
		r.change(&changed)
		base := l.base
		base.Period = changed.model.ControllerPeriod
		gain := math.Sqrt(changed.fastest(&changed.model, base, loop.Coarse).product() / plain.product())
		if gain > worthSaying {
			list = append(list, Limit{What: what, Remedy: r.text, Gain: gain})
		}
	}
	if l.damped > dampingPays && l.set.PressureDamping == 0 {
		list = append(list, Limit{What: what, Remedy: "pressure damping in the outer loop", Gain: l.damped})
	}
	if len(list) == 0 {
		list = append(list, Limit{What: what, Remedy: "none of the changes computed brings more than 2 %", Gain: 1})
	}
	return append(list, d.simulatedLimits(l)...)
}

// limitedBy names the tighter direction's limit of the margins.
func (d *design) limitedBy(l positionLoop) string {
	limit := l.found.limit.Extend
	if l.found.limit.Retract.kp < limit.kp {
		limit = l.found.limit.Retract
	}
	at := loopAt(&d.model, &l.set, limit.at)
	if text, near := d.resonance(&at, limit.at, limit.omega); near {
		return text
	}
	return d.lags(&at, &l.set)
}

// simulatedLimits returns what the simulation had to step back from.
func (d *design) simulatedLimits(l positionLoop) []Limit {
	var list []Limit
	for _, dir := range []plant.Direction{plant.Extend, plant.Retract} {
		most := d.opt.GainShare * l.found.limit.At(dir).kp
		if l.met.At(dir) == "" || !(most > l.set.Kp.At(dir)) {
			continue
		}
		stronger := d.model
		stronger.Drive.AccelLimit *= 1.5
		tried := l.set
		tried.Kp.Set(dir, d.typed.down("kp", most, 1))
		d.stepBackOne(&stronger, &tried, dir)
		gain := tried.Kp.At(dir) / l.set.Kp.At(dir)
		if gain <= worthSaying {
			continue
		}
		list = append(list, Limit{
			What:   fmt.Sprintf("the standard step %s in simulation when %sing at the gain that the margins allow", l.met.At(dir), dir),
			Remedy: "half as much motor torque again",
			Gain:   gain,
		})
	}
	return list
}
