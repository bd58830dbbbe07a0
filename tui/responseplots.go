package tui

import (
	"cmp"
	"fmt"
	"math/cmplx"
	"slices"

	"eha/strokewise/ident/plant"
	"eha/strokewise/ident/quantity"
	"eha/strokewise/ident/trace"
	"eha/strokewise/tui/chart"
)

// few is the number of plots of one kind that are worth stepping through.
const few = 3

// spread returns a few responses spread over the stroke: those of the motor, or
// those of the rod with, for each chamber's pressure, the one that shows most.
func spread(all []plant.FrequencyResponse, motor bool) []plant.FrequencyResponse {
	var list []plant.FrequencyResponse
	pressures := map[string]plant.FrequencyResponse{}
	for _, r := range all {
		switch r.To {
		case trace.MotorSpeed.String(), trace.MotorPosition.String():
			if motor {
				list = append(list, r)
			}
		case trace.CapPressure.String(), trace.RodPressure.String():
			if !motor && len(r.Omega) > len(pressures[r.To].Omega) {
				pressures[r.To] = r
			}
		default:
			if !motor {
				list = append(list, r)
			}
		}
	}
	slices.SortStableFunc(list, func(a, b plant.FrequencyResponse) int { return cmp.Compare(a.Position, b.Position) })
	list = thinned(list)
	for _, c := range []trace.Channel{trace.CapPressure, trace.RodPressure} {
		if r, ok := pressures[c.String()]; ok {
			list = append(list, r)
		}
	}
	return list
}

// thinned keeps the first, the last and those evenly between.
func thinned[T any](list []T) []T {
	if len(list) <= few {
		return list
	}
	var kept []T
	for i := range few {
		kept = append(kept, list[i*(len(list)-1)/(few-1)])
	}
	return kept
}

// heldOut returns a few stretches of what a station answers for.
func heldOut(all []plant.Overlay, station string) []plant.Overlay {
	var list []plant.Overlay
	for _, h := range all {
		pressure := h.Channel == trace.CapPressure.String() || h.Channel == trace.RodPressure.String()
		if pressure && station == "OIL" || !pressure && (station == "ROD" || station == "PUMP") {
			list = append(list, h)
		}
	}
	return thinned(list)
}

// responsePlots are magnitude, phase and coherence of one measured response.
func responsePlots(u units, r plant.FrequencyResponse, params ...plant.Param) []evidence {
	n := min(len(r.Omega), len(r.Measured))
	freqHz, size, turn := make([]float64, n), make([]float64, n), make([]float64, n)
	var fit, fitTurn []float64
	label, scale := u.ratioOf(r.From, r.To)
	for i := range n {
		freqHz[i], size[i], turn[i] = r.Omega[i]*hertz, scale*cmplx.Abs(r.Measured[i]), degrees(cmplx.Phase(r.Measured[i]))
		if i < len(r.Fitted) {
			fit, fitTurn = append(fit, scale*cmplx.Abs(r.Fitted[i])), append(fitTurn, degrees(cmplx.Phase(r.Fitted[i])))
		}
	}
	name := fmt.Sprintf("%s to %s at %s", words(r.From), words(r.To), u.show(r.Position, quantity.Length)) + r.Quadrant()
	x := chart.Axis{Label: "frequency (Hz)", Log: true}
	both := func(measured, fitted []float64) []chart.Series {
		sure, doubtful := byCoherence(r, freqHz, measured)
		list := []chart.Series{sure}
		if len(doubtful.X) > 0 {
			list = append(list, doubtful)
		}
		if len(fitted) > 0 {
			list = append(list, chart.Series{Name: "fitted", X: freqHz[:len(fitted)], Y: fitted, Ink: chart.InkB})
		}
		return list
	}
	list := []evidence{
		{title: "Magnitude, " + name, params: params, plot: chart.Plot{X: x, Y: chart.Axis{Label: label, Log: true}, Series: both(size, fit)}},
		{title: "Phase, " + name, plot: chart.Plot{X: x, Y: chart.Axis{Label: "phase (deg)"}, Series: both(turn, fitTurn)}},
	}
	if len(r.Coherence) > 0 {
		list = append(list, evidence{title: "Coherence, " + name, plot: chart.Plot{X: x, Y: chart.Axis{Label: "coherence", Min: 0, Max: 1.05}, Series: both(r.Coherence, nil)}})
	}
	return list
}

// ratioOf names the magnitude of a response from one channel to another in the units
// of display, with the factor to it from SI.
func (u units) ratioOf(from, to string) (label string, scale float64) {
	a, known := trace.ParseChannel(from)
	b, knownToo := trace.ParseChannel(to)
	if !known || !knownToo {
		return "magnitude (SI)", 1
	}
	in, out := quantity.Display(a.Dimension(), u.system), quantity.Display(b.Dimension(), u.system)
	if in.Symbol == out.Symbol {
		return "magnitude", 1
	}
	return "magnitude (" + out.Symbol + " per " + in.Symbol + ")", in.Factor / out.Factor
}

// enough is the coherence from which a point of a response is drawn as measured
// rather than doubtful (common practice, no source).
const enough = 0.8

// byCoherence splits a measured curve into what can be relied on and what not.
func byCoherence(r plant.FrequencyResponse, x, y []float64) (sure, doubtful chart.Series) {
	sure = chart.Series{Name: "measured", Shape: chart.Crosses, Ink: chart.InkA}
	doubtful = chart.Series{Name: "little coherence", Shape: chart.Points, Ink: chart.InkAxis}
	for i := range min(len(x), len(y)) {
		s := &sure
		if i < len(r.Coherence) && r.Coherence[i] < enough {
			s = &doubtful
		}
		s.X, s.Y = append(s.X, x[i]), append(s.Y, y[i])
	}
	return sure, doubtful
}

// trust says in words how far the plant may be relied upon.
func trust(u units, p *plant.Plant) evidence {
	e := evidence{title: "How far to trust this plant", text: p.Warnings}
	v := p.Validation
	if v.HeldOut <= 0 {
		return e
	}
	text := ""
	for _, part := range []struct {
		name string
		rms  float64
	}{{"rod speed", v.RodSpeed}, {"cap pressure", v.CapPressure}, {"rod pressure", v.RodPressure}} {
		// Zero means that it was not there to compare with.
		if part.rms > 0 {
			text += fmt.Sprintf("%s %.1f %%, ", part.name, 100*part.rms)
		}
	}
	text = fmt.Sprintf("On %s that the fit did not see it leaves unexplained: %s(rms error over rms variation).", u.show(v.HeldOut, quantity.Time), text)
	if v.StrokeFromTurns > 0 {
		text += fmt.Sprintf(" Travel computed from turns is off by %s.", u.show(v.StrokeFromTurns, quantity.Length))
	}
	e.text = append([]string{text}, e.text...)
	return e
}

// holdOutPlot shows a stretch that the fit did not see.
func holdOutPlot(u units, h plant.Overlay) evidence {
	d := quantity.Speed
	if c, ok := trace.ParseChannel(h.Channel); ok {
		d = c.Dimension()
	}
	return evidence{title: "Not seen by the fit: " + words(h.Channel), params: nil,
		plot: chart.Plot{X: chart.Axis{Label: "time (s)"}, Y: chart.Axis{Label: u.label(words(h.Channel), d)},
			Series: []chart.Series{
				{Name: "measured", Y: u.all(h.Measured, d), Start: h.Start, Step: h.Period, Ink: chart.InkA},
				{Name: "model", Y: u.all(h.Modeled, d), Start: h.Start, Step: h.Period, Shape: chart.Dashed, Ink: chart.InkB}}}}
}
