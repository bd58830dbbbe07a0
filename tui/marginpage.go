package tui

import (
	"fmt"
	"math"
	"sort"

	"eha/strokewise/ident/plant"
	"eha/strokewise/ident/quantity"
	"eha/strokewise/tui/chart"
	"eha/strokewise/tuning"
)

func decibelText(ratio float64) string {
	if math.IsInf(ratio, 1) {
		return "unlimited"
	}
	if !(ratio > 0) {
		return "none"
	}
	return fmt.Sprintf("%.1f", decibels(ratio))
}

// least returns the point with the least gain margin of a loop, an unstable one first.
func least(margins []tuning.Margin, loop string) (worst tuning.Margin, ok bool) {
	for _, m := range margins {
		if m.Loop != loop {
			continue
		}
		if !ok || worst.Stable && !m.Stable || worst.Stable == m.Stable && m.GainMargin < worst.GainMargin {
			worst, ok = m, true
		}
	}
	return worst, ok
}

// of returns the margins in one direction.
func of(margins []tuning.Margin, d plant.Direction) []tuning.Margin {
	var list []tuning.Margin
	for _, m := range margins {
		if m.Direction == d {
			list = append(list, m)
		}
	}
	return list
}

// marginPage lists the worst of each margin by direction and draws the gain
// margin along the stroke with the line that was asked for.
func marginPage(a *App, width, height int) []string {
	t := a.shown()
	if t.Loops.Position == nil {
		return wrap("No margins: no position loop is proposed.", width)
	}
	row := func(name, gain, phase, peak string) string {
		return cell(cell(name, 16)+flush(gain, 8)+flush(phase, 8)+flush(peak, 5), width)
	}
	lines := []string{a.styles.strong.draw(row("worst of all", "gain", "phase", "|S|"))}
	for _, loop := range []string{"position", "force"} {
		for _, d := range []plant.Direction{plant.Extend, plant.Retract} {
			m, ok := least(of(t.Margins, d), loop)
			if !ok {
				continue
			}
			if !m.Stable {
				lines = append(lines, a.styles.alarm.draw(cell(loop+" "+d.String()+": NOT STABLE at "+a.units.show(m.Position, quantity.Length), width)))
				continue
			}
			phase, peak := m.PhaseMargin, m.Sensitivity
			for _, o := range of(t.Margins, d) {
				if o.Loop == loop {
					phase, peak = math.Min(phase, o.PhaseMargin), math.Max(peak, o.Sensitivity)
				}
			}
			lines = append(lines, row(loop+" "+d.String(), decibelText(m.GainMargin)+" dB", degreeText(phase), digits(peak, 3)),
				a.styles.faint.draw(cell(" "+placeText(a.units, m), width)))
		}
	}
	lines = append(lines, row("asked", decibelText(t.Targets.GainMargin)+" dB", degreeText(t.Targets.PhaseMargin), digits(t.Targets.SensitivityPeak, 3)))
	if w, ok := t.Worst["position"]; ok && w.Why != "" && height > len(lines)+9 {
		lines = append(lines, wrap("Tightest: "+a.units.say(w.Why), width)...)
	}
	if room := height - len(lines); room >= 5 {
		p := marginPlot(a.units, t)
		lines = append(lines, splitLines(p.Render(width, room, a.styles.paint))...)
	}
	return lines
}

func degreeText(rad float64) string {
	if math.IsInf(rad, 0) {
		return "none"
	}
	return fmt.Sprintf("%.0f deg", degrees(rad))
}

// placeText says where on the grid a margin is and under which mass.
func placeText(u units, m tuning.Margin) string {
	text := u.show(m.Position, quantity.Length) + ", " + m.Chamber.String() + ", "
	if m.Mass > 0 {
		text += u.show(m.Mass, quantity.Mass)
	} else {
		text += digits(m.MassFactor, 3) + " x mass"
	}
	if !math.IsInf(m.DelayMargin, 0) && m.DelayMargin > 0 {
		text += ", " + digits(m.DelayMargin*1e3, 2) + " ms spare"
	}
	return text
}

// marginPlot is the least gain margin at each position, by direction.
func marginPlot(u units, t *tuning.Proposal) chart.Plot {
	p := chart.Plot{X: chart.Axis{Label: u.label("rod position", quantity.Length)}, Y: chart.Axis{Label: "gain margin (dB)"},
		Rules: []chart.Rule{{At: decibels(t.Targets.GainMargin), Label: "asked"}}}
	for i, d := range []plant.Direction{plant.Extend, plant.Retract} {
		least := map[float64]float64{}
		for _, m := range t.Margins {
			if m.Loop != "position" || m.Direction != d || math.IsInf(m.GainMargin, 0) {
				continue
			}
			if v, ok := least[m.Position]; !ok || m.GainMargin < v {
				least[m.Position] = m.GainMargin
			}
		}
		s := chart.Series{Name: d.String() + "ing", Shape: chart.Shape(i), Ink: chart.InkA + chart.Ink(i)}
		for x := range least {
			s.X = append(s.X, x)
		}
		sort.Float64s(s.X)
		for k, x := range s.X {
			s.Y = append(s.Y, decibels(least[x]))
			s.X[k] = u.from(x, quantity.Length)
		}
		p.Series = append(p.Series, s)
	}
	return p
}

// planePage draws the open loop at the worst point in the complex plane, with
// the circle about -1 that the asked sensitivity peak forbids.
func planePage(a *App, width, height int) []string {
	t := a.shown()
	worst, ok := t.Worst["position"]
	if a.services.Curve == nil || !ok {
		return wrap("No curve to draw: there is no position loop.", width)
	}
	_, open, err := a.services.Curve(a.work.Plant, t, worst)
	if err != nil {
		return wrap(advise(err)[0], width)
	}
	var x, y []float64
	for _, l := range open {
		x, y = append(x, real(l)), append(y, imag(l))
	}
	cx, cy := chart.Circle(-1, 0, 1/t.Targets.SensitivityPeak, 90)
	p := chart.Plot{X: chart.Axis{Label: "real part", Min: -2, Max: 0.6}, Y: chart.Axis{Label: "imaginary", Min: -1.2, Max: 0.9}, Equal: true,
		Series: []chart.Series{
			{Name: fmt.Sprintf("|S| = %.2g", t.Targets.SensitivityPeak), X: cx, Y: cy, Shape: chart.Dotted},
			{Name: "open loop", X: x, Y: y, Ink: chart.InkB},
			{Name: "-1", X: []float64{-1}, Y: []float64{0}, Shape: chart.Pluses, Ink: chart.InkCursor}}}
	lines := wrap("The curve must pass outside the dotted circle. Worst point: "+placeText(a.units, worst), width)
	return append(lines, splitLines(p.Render(width, height-len(lines), a.styles.paint))...)
}
