package tuning

import (
	"fmt"
	"math"

	"eha/strokewise/ident/plant"
	"eha/strokewise/ident/quantity"
	"eha/strokewise/tuning/law"
	"eha/strokewise/tuning/loop"
	"eha/strokewise/tuning/sim"
)

// positionMargins returns the margins of the settings at every point of the
// grid, each the worst over process loads and outer delays, and the worst point of all.
func (d *design) positionMargins(set *law.Position, f loop.Fineness) (margins []Margin, worst Margin) {
	var all []corner
	for _, dir := range []plant.Direction{plant.Extend, plant.Retract} {
		all = append(all, d.corners(&d.model, dir, d.delays)...)
	}
	found := make([]loop.Margins, len(all))
	sim.Each(len(all), func(i int) {
		l := loopAt(&d.model, set, all[i])
		found[i] = l.Margins(f)
	})
	tightest := math.Inf(-1)
	for i, c := range all {
		m := d.margin(c, found[i])
		margins = addMargin(margins, m)
		if t := tightness(m, d.opt.Targets); t > tightest {
			tightest, worst = t, m
			worst.Why = d.why(set, c, found[i])
		}
	}
	return margins, worst
}

func (d *design) margin(c corner, m loop.Margins) Margin {
	out := Margin{
		Loop: "position", Direction: c.place.Direction, Chamber: c.place.Chamber, Position: c.place.Position, MassFactor: c.place.MassFactor,
		Stable: m.Stable, GainMargin: m.Gain, PhaseMargin: m.Phase, Sensitivity: m.Sensitivity, DelayMargin: m.Delay, PeakFreq: m.PeakFreq,
	}
	if d.p.MassKnown {
		out.Mass = d.model.Mass * c.place.MassFactor
	}
	return out
}

// addMargin appends m, or takes the worse of each figure where its point is there already.
func addMargin(list []Margin, m Margin) []Margin {
	for i := range list {
		o := &list[i]
		if o.Direction != m.Direction || o.Chamber != m.Chamber || o.Position != m.Position || o.MassFactor != m.MassFactor {
			continue
		}
		o.Stable = o.Stable && m.Stable
		o.GainMargin, o.PhaseMargin = min(o.GainMargin, m.GainMargin), min(o.PhaseMargin, m.PhaseMargin)
		o.DelayMargin = min(o.DelayMargin, m.DelayMargin)
		if m.Sensitivity > o.Sensitivity {
			o.Sensitivity, o.PeakFreq = m.Sensitivity, m.PeakFreq
		}
		return list
	}
	return append(list, m)
}

// tightness says how near a margin is to the nearest target: 1 just meets it, more breaks it.
func tightness(m Margin, t law.Targets) float64 {
	if !m.Stable {
		return math.Inf(1)
	}
	return max((m.Sensitivity-1)/(t.SensitivityPeak-1), (t.GainMargin-1)/(m.GainMargin-1), t.PhaseMargin/m.PhaseMargin)
}

// why names what limits the loop at a corner: the resonance where the loop comes
// closest to -1 near it, the lags of drive and delays elsewhere.
func (d *design) why(set *law.Position, c corner, m loop.Margins) string {
	omega := m.PeakFreq
	if !m.Stable {
		omega = m.GainFreq
	}
	l := loopAt(&d.model, set, c)
	if cause, near := d.resonance(&l, c, omega); near {
		return cause
	}
	return d.lags(&l, set)
}

// resonance describes the mode at a corner and whether omega (rad/s) is near it.
func (d *design) resonance(l *loop.Position, c corner, omega float64) (text string, near bool) {
	mode := l.Axis.Natural()
	load := fmt.Sprintf("%.3g times the mass", c.place.MassFactor)
	if d.p.MassKnown {
		load = quantity.Digits(l.Axis.Mass, 3) + " kg"
	}
	return fmt.Sprintf("hydraulic resonance at %.3g Hz, %s side, %.0f mm, %s", mode*inHz, c.place.Chamber, c.place.Position*inMM, load),
		omega > 0.55*mode && omega < 1.5*mode
}

// lags describes what delays the loop most. A low-pass is there because of the
// softest resonance, so that one is named.
func (d *design) lags(l *loop.Position, set *law.Position) string {
	drive := 2 * l.Axis.Zeta / l.Axis.Omega
	delay := l.Hold.Delay + l.Hold.Period/2
	rest := fmt.Sprintf("drive lag of %.1f ms, dead times and sampling of %.1f ms", drive*1e3, delay*1e3)
	if set.Lowpass == 0 || 1/set.Lowpass < max(drive, delay) {
		return rest
	}
	c := d.softest()
	soft := loopAt(&d.model, set, c)
	text, _ := d.resonance(&soft, c, 0)
	return fmt.Sprintf("%s, which asks for the low-pass at %.3g Hz; beside it %s", text, set.Lowpass*inHz, rest)
}

// softest returns the corner with the lowest hydraulic frequency.
func (d *design) softest() corner {
	lowest, at := math.Inf(1), corner{}
	both := d.bothCorners()
	for _, dir := range []plant.Direction{plant.Extend, plant.Retract} {
		for _, c := range both.At(dir) {
			axis := loop.NewAxis(&d.model, c.place)
			if omega := c.mode.frequency * axis.Natural(); omega < lowest {
				lowest, at = omega, c
			}
		}
	}
	return at
}
