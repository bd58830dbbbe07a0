package record

import (
	"fmt"
	"math"
	"math/cmplx"

	"eha/strokewise/ident/plant"
	"eha/strokewise/ident/quantity"
	"eha/strokewise/tuning"
	"eha/strokewise/tuning/compare"
)

// plantFigures returns the plots that show why the parameters are what they are.
func (p *page) plantFigures(s *plant.Plant) []*figure {
	var list []*figure
	add := func(f *figure) {
		if f != nil && f.usable() {
			list = append(list, f)
		}
	}
	add(p.strokeFigure(s))
	add(p.cloud("Friction against rod speed", "friction force in steady travel, both directions", s.Evidence.Friction, quantity.Speed, quantity.Force, "rod speed", "friction"))
	add(p.cloud("Slip against pressure", "motor speed lost against pressure across the pump; a straight line through zero is plain leakage", s.Evidence.Slip, quantity.Pressure, quantity.AngularSpeed, "pressure across the pump", "motor speed lost"))
	add(p.resonanceFigure(s))
	add(p.cloud("Lost motion along the stroke", "motor turns lost at a reversal, by rod position", s.Evidence.LostMotion, quantity.Length, quantity.Angle, "rod position", "lost motion"))
	add(p.cloud("Pressing", "force against rod position while pressing; the slope is the contact's stiffness", s.Evidence.Pressing, quantity.Length, quantity.Force, "rod position", "force"))
	for _, r := range telling(s.Evidence.Responses) {
		add(responseFigure(r, p))
	}
	for _, o := range longest(s.Evidence.HoldOut) {
		add(p.holdOutFigure(o))
	}
	return list
}

// leastPoints is the number of trustworthy frequencies below which a response shows nothing.
const leastPoints = 15

// telling picks, of each pair of channels, the responses nearest to both ends of
// the stroke that have enough trustworthy points: what lies between looks alike.
func telling(all []plant.FrequencyResponse) []plant.FrequencyResponse {
	type pair struct{ from, to string }
	ends := map[pair][2]int{} // indices of the lowest and the highest position
	var order []pair
	for i, r := range all {
		sure := 0
		for _, c := range r.Coherence {
			if c > 0.5 {
				sure++
			}
		}
		if sure < leastPoints {
			continue
		}
		k := pair{r.From, r.To}
		e, seen := ends[k]
		if !seen {
			order = append(order, k)
			e = [2]int{i, i}
		}
		if r.Position < all[e[0]].Position {
			e[0] = i
		}
		if r.Position > all[e[1]].Position {
			e[1] = i
		}
		ends[k] = e
	}
	var list []plant.FrequencyResponse
	for _, k := range order {
		e := ends[k]
		list = append(list, all[e[0]])
		if e[1] != e[0] {
			list = append(list, all[e[1]])
		}
	}
	return list
}

// longest picks the longest stretch held out of each channel.
func longest(all []plant.Overlay) []plant.Overlay {
	best := map[string]int{}
	var order []string
	for i, o := range all {
		k, seen := best[o.Channel]
		if !seen {
			order = append(order, o.Channel)
		}
		if !seen || len(o.Measured) > len(all[k].Measured) {
			best[o.Channel] = i
		}
	}
	var list []plant.Overlay
	for _, channel := range order {
		list = append(list, all[best[channel]])
	}
	return list
}

// axisOf labels an axis with the unit that it is drawn in.
func (p *page) axisOf(name string, d quantity.Dimension) axis {
	return axis{label: name + " (" + quantity.Display(d, p.system).Symbol + ")"}
}

// in converts SI values to the unit of display.
func (p *page) in(values []float64, d quantity.Dimension) []float64 {
	u := quantity.Display(d, p.system)
	out := make([]float64, len(values))
	for i, v := range values {
		out[i] = u.From(v)
	}
	return out
}

func (p *page) cloud(title, about string, points []plant.Point, dx, dy quantity.Dimension, nameX, nameY string) *figure {
	var x, y []float64
	for _, v := range points {
		x, y = append(x, v.X), append(y, v.Y)
	}
	return &figure{title: title, about: about, x: p.axisOf(nameX, dx), y: p.axisOf(nameY, dy),
		series: []series{{look: dots, x: p.in(x, dx), y: p.in(y, dy)}}}
}

func (p *page) strokeFigure(s *plant.Plant) *figure {
	m := s.StrokeMap
	f := &figure{title: "Rod travel per motor turn along the stroke", about: "travel per turn by position, extending and retracting",
		x: p.axisOf("rod position", quantity.Length), y: p.axisOf("travel per turn", quantity.TravelPerTurn)}
	x := p.in(m.Position, quantity.Length)
	for _, d := range []plant.Direction{plant.Extend, plant.Retract} {
		if per := m.PerTurn.At(d); len(per) == len(x) {
			f.series = append(f.series, series{name: d.String(), look: [...]look{solid, dashed}[d], x: x, y: p.in(per, quantity.TravelPerTurn)})
		}
	}
	return f
}

func (p *page) resonanceFigure(s *plant.Plant) *figure {
	var x, y []float64
	for _, v := range s.Evidence.Resonance {
		x, y = append(x, v.X), append(y, v.Y*toHz)
	}
	return &figure{title: "Hydraulic resonance along the stroke", about: "undamped natural frequency of the load on the oil of the softest chamber, by rod position",
		x: p.axisOf("rod position", quantity.Length), y: axis{label: "hydraulic frequency (Hz)"}, series: []series{{look: solid, x: p.in(x, quantity.Length), y: y}}}
}

// responseFigure shows the measured gain with its random error and the fitted plant's.
func responseFigure(r plant.FrequencyResponse, p *page) *figure {
	var f, gain, low, high, fit []float64
	for i, w := range r.Omega {
		if !(r.Coherence[i] > 0.5) {
			continue
		}
		g := cmplx.Abs(r.Measured[i])
		f, gain = append(f, w*toHz), append(gain, 20*math.Log10(g))
		low, high = append(low, 20*math.Log10(g*math.Max(1-2*r.RelError[i], 0.05))), append(high, 20*math.Log10(g*(1+2*r.RelError[i])))
		if r.Fitted != nil {
			fit = append(fit, 20*math.Log10(cmplx.Abs(r.Fitted[i])))
		}
	}
	place := p.show(r.Position, quantity.Length) + r.Quadrant()
	figure := &figure{title: fmt.Sprintf("Frequency response, %s to %s at %s", words(r.From), words(r.To), place),
		about: "gain over frequency where coherence is above one half, with twice its random error; the fitted plant beside it",
		x:     axis{label: "frequency (Hz)", log: true}, y: axis{label: "gain (dB)"},
		series: []series{{name: "twice the random error", look: shade, x: f, y: high, low: low}, {name: "measured", look: dots, x: f, y: gain}}}
	if fit != nil {
		figure.series = append(figure.series, series{name: "fitted plant", look: solid, x: f, y: fit})
	}
	return figure
}

// holdOutFigure lays the model over a stretch that the fit did not see.
func (p *page) holdOutFigure(o plant.Overlay) *figure {
	d, name := quantity.Pressure, words(o.Channel)
	switch o.Channel {
	case "rod_speed":
		d = quantity.Speed
	case "rod_position":
		d = quantity.Length
	}
	t := make([]float64, len(o.Measured))
	for i := range t {
		t[i] = o.Start + float64(i)*o.Period
	}
	return &figure{title: "Held out: " + name, about: "measured and modelled " + name + " on moves that the fit did not see",
		x: axis{label: "log time (s)"}, y: p.axisOf(name, d),
		series: []series{{name: "measured", look: solid, x: t, y: p.in(o.Measured, d)}, {name: "model", look: dashed, x: t[:len(o.Modeled)], y: p.in(o.Modeled, d)}}}
}

// responseOf draws a simulated scenario with its band.
func (p *page) responseOf(r *tuning.Response) *figure {
	d, name := quantity.Length, "rod position"
	if r.Scenario.Force {
		d, name = quantity.Force, "hydraulic force"
	}
	t := make([]float64, len(r.Reference))
	for i := range t {
		t[i] = float64(i) * r.Period
	}
	f := &figure{title: "Simulated: " + r.Scenario.Title, about: name + " over time under the proposed settings with the band of parameter draws; as found where given",
		x: axis{label: "time (s)"}, y: p.axisOf(name, d),
		series: []series{
			{name: "band", look: shade, x: t, y: p.in(r.Proposed.High, d), low: p.in(r.Proposed.Low, d)},
			{name: "reference", look: dotted, x: t, y: p.in(r.Reference, d)},
			{name: "proposed", look: solid, x: t, y: p.in(r.Proposed.Output, d)},
		}}
	if r.AsFound != nil {
		n := min(len(t), len(r.AsFound.Output))
		f.series = append(f.series, series{name: "as found", look: dashed, x: t[:n], y: p.in(r.AsFound.Output[:n], d)})
	}
	return f
}

// nyquistFigure draws the open loop at the worst point with the disc that the sensitivity peak forbids.
func nyquistFigure(m tuning.Margin, t *tuning.Proposal, open []complex128) *figure {
	var re, im []float64
	for _, v := range open {
		if cmplx.Abs(v) < 4 {
			re, im = append(re, real(v)), append(im, imag(v))
		} else {
			re, im = append(re, math.NaN()), append(im, math.NaN())
		}
	}
	var cx, cy []float64
	for k := range 61 {
		sin, cos := math.Sincos(2 * math.Pi * float64(k) / 60)
		cx, cy = append(cx, -1+cos/t.Targets.SensitivityPeak), append(cy, sin/t.Targets.SensitivityPeak)
	}
	return &figure{title: fmt.Sprintf("Open loop at the worst point of the %s loop", m.Loop),
		about: "Nyquist plane; the curve must stay outside the circle round -1 that the sensitivity peak allowed draws",
		x:     axis{label: "real part", low: -2.5, high: 1}, y: axis{label: "imaginary part", equal: true, low: -1.5, high: 1},
		series: []series{{name: "open loop", look: solid, x: re, y: im}, {name: "forbidden disc", look: dashed, x: cx, y: cy}, {name: "-1", look: crosses, x: []float64{-1}, y: []float64{0}}}}
}

// overlayFigure lays a common move before and after over each other.
func (p *page) overlayFigure(m compare.Move) *figure {
	o := m.Overlay
	f := &figure{title: fmt.Sprintf("Before and after: %s to %s", p.show(m.From, quantity.Length), p.show(m.To, quantity.Length)),
		about: "mean rod position over the repeats of the same move, before and after; the position command where it was logged",
		x:     axis{label: "time from the start of the move (s)"}, y: p.axisOf("rod position", quantity.Length)}
	for _, line := range []struct {
		name string
		look look
		y    []float64
	}{{"command", dotted, o.Command}, {"before", dashed, o.Before}, {"after", solid, o.After}} {
		if len(line.y) == len(o.Time) {
			f.series = append(f.series, series{name: line.name, look: line.look, x: o.Time, y: p.in(line.y, quantity.Length)})
		}
	}
	if !f.usable() {
		return nil
	}
	return f
}
