package tui

import (
	"cmp"
	"fmt"
	"math"
	"math/cmplx"
	"slices"

	"eha/strokewise/ident/plant"
	"eha/strokewise/ident/quantity"
	"eha/strokewise/ident/trace"
	"eha/strokewise/tui/chart"
)

// evidence is a plot that shows why parameters are believed.
type evidence struct {
	title  string
	params []plant.Param
	plot   chart.Plot
	text   []string // in place of a plot
}

func (e evidence) of(p plant.Param) bool { return slices.Contains(e.params, p) }

// intervalBar draws a parameter's interval so that the tick marks are where it
// becomes weak: a bar within them is as good as it needs to be.
func intervalBar(p plant.Param, e plant.Estimate, width int) string {
	if !e.Known() || e.Value == 0 {
		return cell("", width)
	}
	v := math.Abs(e.Value)
	limit := p.Info().WeakAbove * v
	return chart.Interval(e.Value, e.Low, e.High, e.Value-1.6*limit, e.Value+1.6*limit, [2]float64{e.Value - limit, e.Value + limit}, width)
}

// plotLines draws the evidence in view under a line that names it.
func (s *plantScreen) plotLines(a *App, width, height int) []string {
	list := s.evidence(a)
	if height < 3 {
		return nil
	}
	if len(list) == 0 {
		return []string{"", a.styles.faint.draw(cell("   Nothing was logged that a plot could show for this station.", width))}
	}
	i := ((s.plot % len(list)) + len(list)) % len(list)
	e := list[i]
	title := a.styles.strong.draw(cell(fmt.Sprintf("Plot %d of %d: %s", i+1, len(list), e.title), width))
	if e.text != nil {
		lines := []string{title}
		for _, t := range e.text {
			lines = append(lines, hang("- ", t, width)...)
		}
		return window(lines, 0, height)
	}
	return append([]string{title}, splitLines(e.plot.Render(width, height-1, a.styles.paint))...)
}

// evidence lists the plots of the station in view.
func (s *plantScreen) evidence(a *App) []evidence {
	p, u := a.work.Plant, a.units
	if p == nil {
		return nil
	}
	ev := &p.Evidence
	var list []evidence
	add := func(e evidence, ok bool) {
		if ok {
			list = append(list, e)
		}
	}
	switch stages[s.stage].name {
	case "DRIVE":
		for _, r := range spread(ev.Responses, true) {
			list = append(list, responsePlots(u, r, plant.DriveBandwidth, plant.DriveDamping, plant.DeadTime)...)
		}
	case "PUMP":
		add(strokeMapPlot(u, p), len(p.StrokeMap.Position) > 0)
		add(cloud(u, "What slips: motor speed lost against pressure across the pump", ev.Slip, quantity.Pressure, quantity.AngularSpeed, "pressure", "speed lost", plant.Slip), len(ev.Slip) > 0)
		add(cloud(u, "Turns lost at each reversal along the stroke", ev.LostMotion, quantity.Length, quantity.Angle, "rod position", "lost motion", plant.LostMotion), len(ev.LostMotion) > 0)
	case "OIL":
		add(cloud(u, "Hydraulic frequency along the stroke, softer chamber", ev.Resonance, quantity.Length, quantity.Frequency, "rod position", "frequency", plant.HydraulicFrequency), len(ev.Resonance) > 0)
		for _, r := range spread(ev.Responses, false) {
			list = append(list, responsePlots(u, r, plant.HydraulicDamping, plant.BulkModulus)...)
		}
	case "ROD":
		add(frictionPlot(u, p), len(ev.Friction) > 0)
		add(loadPlot(u, p), len(p.LoadMap.Position) > 0)
	case "WORK":
		add(cloud(u, "Force while pressing against rod position", ev.Pressing, quantity.Length, quantity.Force, "rod position", "force", plant.ContactStiffness, plant.PressingStiffness), len(ev.Pressing) > 0)
	}
	for _, h := range heldOut(ev.HoldOut, stages[s.stage].name) {
		list = append(list, holdOutPlot(u, h))
	}
	add(trust(u, p), p.Validation.HeldOut > 0 || len(p.Warnings) > 0)
	return list
}

// few is the number of plots of one kind that are worth stepping through.
const few = 3

// spread returns a few responses spread over the stroke: those of the motor, or
// those of everything behind it.
func spread(all []plant.FrequencyResponse, motor bool) []plant.FrequencyResponse {
	var list []plant.FrequencyResponse
	for _, r := range all {
		if motor == (r.To == trace.MotorSpeed.String() || r.To == trace.MotorPosition.String()) {
			list = append(list, r)
		}
	}
	slices.SortStableFunc(list, func(a, b plant.FrequencyResponse) int { return cmp.Compare(a.Position, b.Position) })
	return thinned(list)
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

// scatter splits points into the axes' units.
func scatter(u units, points []plant.Point, dx, dy Quantity) (x, y []float64) {
	x, y = make([]float64, len(points)), make([]float64, len(points))
	for i, p := range points {
		x[i], y[i] = u.from(p.X, dx), u.from(p.Y, dy)
	}
	return x, y
}

// marks returns single signs for few points and dots for many.
func marks(n int) chart.Shape {
	if n > 150 {
		return chart.Points
	}
	return chart.Crosses
}

// cloud is the plot of one kind of point. Frequencies come in as rad/s.
func cloud(u units, title string, points []plant.Point, dx, dy Quantity, xName, yName string, params ...plant.Param) evidence {
	if dy == quantity.Frequency {
		points = append([]plant.Point(nil), points...)
		for i := range points {
			points[i].Y *= hertz
		}
	}
	x, y := scatter(u, points, dx, dy)
	return evidence{title: title, params: params, plot: chart.Plot{
		X: chart.Axis{Label: u.label(xName, dx)}, Y: chart.Axis{Label: u.label(yName, dy)},
		Series: []chart.Series{{Name: "measured", X: x, Y: y, Shape: marks(len(x)), Ink: chart.InkA}}}}
}

func strokeMapPlot(u units, p *plant.Plant) evidence {
	m := &p.StrokeMap
	x := u.all(m.Position, quantity.Length)
	return evidence{title: fmt.Sprintf("Travel per turn along the stroke; travel departs from this map by at most %s", u.show(m.ResidualWorst, quantity.Length)),
		params: []plant.Param{plant.StrokePerTurnExtend, plant.StrokePerTurnRetract, plant.StrokePerTurnCap, plant.StrokePerTurnRod},
		plot: chart.Plot{X: chart.Axis{Label: u.label("rod position", quantity.Length)}, Y: chart.Axis{Label: u.label("travel per turn", quantity.TravelPerTurn)},
			Series: []chart.Series{
				{Name: "extending", X: x, Y: u.all(m.PerTurn.Extend, quantity.TravelPerTurn), Ink: chart.InkA},
				{Name: "retracting", X: x, Y: u.all(m.PerTurn.Retract, quantity.TravelPerTurn), Shape: chart.Dashed, Ink: chart.InkB}}}}
}

// frictionPlot shows the points measured with the model's straight lines through them.
func frictionPlot(u units, p *plant.Plant) evidence {
	x, y := scatter(u, p.Evidence.Friction, quantity.Speed, quantity.Force)
	e := evidence{title: "Friction against rod speed, both ways", params: []plant.Param{plant.CoulombFriction, plant.ViscousFriction, plant.BreakawayForce, plant.StribeckSpeed},
		plot: chart.Plot{X: chart.Axis{Label: u.label("rod speed", quantity.Speed)}, Y: chart.Axis{Label: u.label("friction", quantity.Force)},
			Series: []chart.Series{{Name: "measured", X: x, Y: y, Shape: marks(len(x)), Ink: chart.InkA}}}}
	if p.Est(plant.CoulombFriction).Known() {
		var fx, fy []float64
		for _, v := range []float64{p.Seen.RodSpeed[0], 0, math.NaN(), 0, p.Seen.RodSpeed[1]} {
			d := plant.Extend
			if len(fx) < 3 {
				d = plant.Retract
			}
			fx = append(fx, u.from(v, quantity.Speed))
			fy = append(fy, u.from(d.Sign()*p.Model.Coulomb.At(d)+p.Model.Viscous*v, quantity.Force))
		}
		e.plot.Series = append(e.plot.Series, chart.Series{Name: "fitted", X: fx, Y: fy, Shape: chart.Dashed, Ink: chart.InkB})
	}
	return e
}

func loadPlot(u units, p *plant.Plant) evidence {
	m := &p.LoadMap
	x := u.all(m.Position, quantity.Length)
	return evidence{title: "Load and friction along the stroke", params: []plant.Param{plant.AxialLoad, plant.MovingMass},
		plot: chart.Plot{X: chart.Axis{Label: u.label("rod position", quantity.Length)}, Y: chart.Axis{Label: u.label("force", quantity.Force)},
			Series: []chart.Series{
				{Name: "axial load", X: x, Y: u.all(m.AxialLoad, quantity.Force), Ink: chart.InkA},
				{Name: "friction extending", X: x, Y: u.all(m.Friction.Extend, quantity.Force), Shape: chart.Dashed, Ink: chart.InkB},
				{Name: "retracting", X: x, Y: u.all(m.Friction.Retract, quantity.Force), Shape: chart.Dotted, Ink: chart.InkC}}}}
}

// responsePlots are magnitude, phase and coherence of one measured response.
func responsePlots(u units, r plant.FrequencyResponse, params ...plant.Param) []evidence {
	n := min(len(r.Omega), len(r.Measured))
	freqHz, size, turn := make([]float64, n), make([]float64, n), make([]float64, n)
	var fit, fitTurn []float64
	for i := range n {
		freqHz[i], size[i], turn[i] = r.Omega[i]*hertz, cmplx.Abs(r.Measured[i]), degrees(cmplx.Phase(r.Measured[i]))
		if i < len(r.Fitted) {
			fit, fitTurn = append(fit, cmplx.Abs(r.Fitted[i])), append(fitTurn, degrees(cmplx.Phase(r.Fitted[i])))
		}
	}
	name := fmt.Sprintf("%s to %s at %s", words(r.From), words(r.To), u.show(r.Position, quantity.Length))
	if r.Chambers {
		name += ", " + r.Chamber.String() + " side carries"
	}
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
		{title: "Magnitude, " + name, params: params, plot: chart.Plot{X: x, Y: chart.Axis{Label: "magnitude (SI)", Log: true}, Series: both(size, fit)}},
		{title: "Phase, " + name, plot: chart.Plot{X: x, Y: chart.Axis{Label: "phase (deg)"}, Series: both(turn, fitTurn)}},
	}
	if len(r.Coherence) > 0 {
		list = append(list, evidence{title: "Coherence, " + name, plot: chart.Plot{X: x, Y: chart.Axis{Label: "coherence", Min: 0, Max: 1.05}, Series: both(r.Coherence, nil)}})
	}
	return list
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
	if v := p.Validation; v.HeldOut > 0 {
		e.text = append([]string{fmt.Sprintf("On %s that the fit did not see it leaves unexplained: rod speed %.1f %%, cap pressure %.1f %%, rod pressure %.1f %% (rms error over rms variation); travel from turns is off by %s.",
			u.show(v.HeldOut, quantity.Time), 100*v.RodSpeed, 100*v.CapPressure, 100*v.RodPressure, u.show(v.StrokeFromTurns, quantity.Length))}, e.text...)
	}
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
