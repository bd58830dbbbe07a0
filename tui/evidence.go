package tui

import (
	"fmt"
	"math"
	"slices"

	"eha/strokewise/ident/plant"
	"eha/strokewise/ident/quantity"
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
	if height < 3 {
		return nil
	}
	e, ok := s.inView(a)
	if !ok {
		return []string{"", a.styles.faint.draw(cell("   Nothing was logged that a plot could show for this station.", width))}
	}
	title := a.styles.strong.draw(cell(e.title, width))
	if e.text != nil {
		lines := []string{title}
		for _, t := range e.text {
			lines = append(lines, hang("- ", a.units.say(t), width)...)
		}
		return window(lines, 0, height)
	}
	return append([]string{title}, splitLines(e.plot.Render(width, height-1, a.styles.paint))...)
}

// inView returns the evidence that is shown, numbered among the station's.
func (s *plantScreen) inView(a *App) (evidence, bool) {
	list := s.evidence(a)
	if len(list) == 0 {
		return evidence{}, false
	}
	i := turnRound(s.plot, 0, len(list))
	e := list[i]
	e.title = fmt.Sprintf("Plot %d of %d: %s", i+1, len(list), e.title)
	return e, true
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
