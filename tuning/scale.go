package tuning

import (
	"fmt"
	"math"
	"slices"

	"eha/strokewise/ident/machine"
	"eha/strokewise/ident/plant"
	"eha/strokewise/ident/trace"
)

// Ratio returns the fraction num/den nearest to the positive value with both
// parts at most limit, found by walking the Stern-Brocot tree along the continued
// fraction. G. H. Hardy and E. M. Wright, "An Introduction to the Theory of
// Numbers", chapter X (value from memory). It panics if value is not positive or
// finite or limit is below 1.
func Ratio(value float64, limit int64) (num, den int64) {
	if !(value > 0) || math.IsInf(value, 0) || limit < 1 {
		panic("tuning: ratio: value and limit must be positive")
	}
	// Invariant: p0/q0 and p1/q1 are the last two convergents.
	p0, q0, p1, q1 := int64(0), int64(1), int64(1), int64(0)
	for x := value; ; {
		a := math.Floor(x)
		room := float64(limit)
		if p1 > 0 {
			room = math.Min(room, float64((limit-p0)/p1))
		}
		if q1 > 0 {
			room = math.Min(room, float64((limit-q0)/q1))
		}
		if a > room { // the next convergent does not fit: its largest part that does, or the last one
			k := int64(room)
			p2, q2 := k*p1+p0, k*q1+q0
			return nearer(value, p1, q1, p2, q2)
		}
		p0, p1 = p1, int64(a)*p1+p0
		q0, q1 = q1, int64(a)*q1+q0
		frac := x - a
		if frac < 1e-15*x || float64(p1)/float64(q1) == value {
			return p1, q1
		}
		x = 1 / frac
	}
}

// nearer returns the fraction nearer to value; one with a zero part is no answer.
func nearer(value float64, p1, q1, p2, q2 int64) (int64, int64) {
	off := func(p, q int64) float64 {
		if p <= 0 || q <= 0 {
			return math.Inf(1)
		}
		return math.Abs(float64(p)/float64(q) - value)
	}
	if off(p2, q2) < off(p1, q1) {
		return p2, q2
	}
	return p1, q1
}

// scaleForms lists the ways to hold the turns-to-stroke relation, each with the
// numbers to enter, the error it leaves over the stroke and what is lost against
// one number per direction. It is empty where no stroke per turn is known.
func scaleForms(p *plant.Plant, model *plant.Model) []ScaleForm {
	s, ok := strokePerTurn(p)
	if !ok {
		return nil
	}
	travel := model.Stroke
	wave := worstDeparture(p, s)
	forms := []ScaleForm{
		singleForm(s, travel, wave),
		{Form: "direction", ErrorPPM: wave / travel * 1e6, Error: wave,
			Text: fmt.Sprintf("extend %s, retract %s", turnsText(s.Extend), turnsText(s.Retract)),
			Note: "Right for the load as logged; with a load that changes sign, direction alone is wrong by the area ratio"},
	}
	if cap, rod := p.Est(plant.StrokePerTurnCap), p.Est(plant.StrokePerTurnRod); cap.Known() && rod.Known() {
		forms = append(forms, ScaleForm{Form: "chamber", ErrorPPM: wave / travel * 1e6, Error: wave,
			Text: fmt.Sprintf("cap side holding %s, rod side holding %s", turnsText(cap.Value), turnsText(rod.Value)),
			Note: "Taken by the sign of A_cap p_cap - A_rod p_rod with hysteresis; right whichever way the load points"})
	}
	if t := tableForm(p, s); t != nil {
		forms = append(forms, *t)
	}
	forms = append(forms, ScaleForm{Form: "length per turn", ErrorPPM: wave / travel * 1e6, Error: wave,
		Text: fmt.Sprintf("extend %.6g mm/rev, retract %.6g mm/rev", s.Extend*perTurn, s.Retract*perTurn),
		Note: "The same two numbers as a feed constant"})
	return append(forms, countForms(p, s, travel, wave)...)
}

const perTurn = 2 * math.Pi * 1e3 // m/rad -> mm/rev

func turnsText(s float64) string {
	return fmt.Sprintf("%.6g rev/mm (%.6g mm/rev)", 1/(s*perTurn), s*perTurn)
}

// strokePerTurn returns the travel per motor angle by direction (m/rad) and
// whether both are known.
func strokePerTurn(p *plant.Plant) (plant.PerDirection[float64], bool) {
	e, r := p.Est(plant.StrokePerTurnExtend), p.Est(plant.StrokePerTurnRetract)
	ok := e.Known() && r.Known() && e.Value > 0 && r.Value > 0
	return plant.PerDirection[float64]{Extend: e.Value, Retract: r.Value}, ok
}

// scaleKnown reports whether travel per turn is fitted or follows from the
// nameplate; without either the plant's model holds a typical one.
func scaleKnown(p *plant.Plant) bool {
	for _, param := range []plant.Param{plant.StrokePerTurnExtend, plant.StrokePerTurnRetract, plant.StrokePerTurnCap, plant.StrokePerTurnRod} {
		if p.Est(param).Known() {
			return true
		}
	}
	return p.AreasKnown && p.Machine.Pump.Displacement > 0
}

// singleForm is the one number that is safe where a turn moves the rod
// furthest: the fewest turns per travel, so that the loop gain is never above what was asked.
func singleForm(s plant.PerDirection[float64], travel, wave float64) ScaleForm {
	far, near, slow := s.Extend, s.Retract, plant.Retract
	if s.Retract > s.Extend {
		far, near, slow = s.Retract, s.Extend, plant.Extend
	}
	lost := 1 - near/far
	note := "Both directions take the same turns per travel: nothing is lost"
	if lost > 0.005 {
		note = fmt.Sprintf("To %s, a turn moves the rod %.0f %% less than this number says: that direction follows with %.0f %% less gain and feed-forward",
			slow, 100*lost, 100*lost)
	}
	return ScaleForm{Form: "single", Text: turnsText(far), ErrorPPM: (lost + wave/travel) * 1e6, Error: lost*travel + wave, Note: note}
}

// worstDeparture returns how far (m) travel departs from a straight line in
// turns over the stroke logged, at worst, by the stroke map.
func worstDeparture(p *plant.Plant, s plant.PerDirection[float64]) float64 {
	return departure(p.StrokeMap, s, nil)
}

// departure integrates the relative difference between the stroke map and the
// form's travel per turn along the stroke; held is the form's own value at each
// map position, nil for the constants s.
func departure(m plant.StrokeMap, s plant.PerDirection[float64], held *plant.PerDirection[[]float64]) float64 {
	worst := 0.0
	for _, d := range []plant.Direction{plant.Extend, plant.Retract} {
		local := m.PerTurn.At(d)
		if len(local) != len(m.Position) {
			continue
		}
		sum := 0.0
		for i := 1; i < len(local); i++ {
			value := s.At(d)
			if held != nil {
				value = (held.At(d)[i] + held.At(d)[i-1]) / 2
			}
			sum += ((local[i]+local[i-1])/2/value - 1) * (m.Position[i] - m.Position[i-1])
			worst = math.Max(worst, math.Abs(sum))
		}
	}
	return worst
}

// mostCounts is more than an encoder has on a turn: beyond it the resolution seen is no encoder's.
const mostCounts = 1e12

// countForms gives the relation between transducer counts and motor counts:
// as two integers within the controller's bits, and as counts per mm with polarity.
func countForms(p *plant.Plant, s plant.PerDirection[float64], travel, wave float64) []ScaleForm {
	perRev := p.Machine.Channels[trace.MotorPosition].CountsPerRev
	if perRev == 0 && p.Seen.Resolution.MotorAngle > 0 {
		perRev = math.Round(2 * math.Pi / p.Seen.Resolution.MotorAngle)
	}
	if !(perRev > 0 && perRev <= mostCounts) {
		return nil
	}
	forms := []ScaleForm{{Form: "counts per mm", ErrorPPM: wave / travel * 1e6, Error: wave, Note: "The two numbers per direction again",
		Text: fmt.Sprintf("extend %.6g, retract %.6g motor counts per mm at %g counts per turn; polarity: extending counts up",
			perRev/(s.Extend*perTurn), perRev/(s.Retract*perTurn), perRev)}}
	step := p.Seen.Resolution.Position
	bits := p.Machine.Controller.RatioBits
	if !(step > 0) || bits < 2 || bits > 62 {
		return forms
	}
	for _, d := range []plant.Direction{plant.Extend, plant.Retract} {
		ratio := perRev / (s.At(d) * 2 * math.Pi) * step // motor counts per transducer count
		num, den := Ratio(ratio, int64(1)<<bits-1)
		left := math.Abs(float64(num)/float64(den)/ratio - 1)
		forms = append(forms, ScaleForm{Form: "integers", ErrorPPM: left * 1e6, Error: left * travel, Note: "What is left is rounding alone; departures along the stroke come on top",
			Text: fmt.Sprintf("%s: %d motor counts to %d transducer counts (%g motor counts per turn, %.4g um per transducer count, %d bits)",
				d, num, den, perRev, step*1e6, bits)})
	}
	return forms
}

// tableForm holds the relation at a few positions, as many as bring the error
// below a tenth of the straight line's or nine at most. It returns nil where the map has no shape to hold.
func tableForm(p *plant.Plant, s plant.PerDirection[float64]) *ScaleForm {
	table := scaleTable(p.StrokeMap)
	if table == nil {
		return nil
	}
	held := plant.PerDirection[[]float64]{}
	for _, d := range []plant.Direction{plant.Extend, plant.Retract} {
		values := make([]float64, len(p.StrokeMap.Position))
		for i, x := range p.StrokeMap.Position {
			values[i] = interpolate(table.Position, table.PerTurn.At(d), x)
		}
		held.Set(d, values)
	}
	left := departure(p.StrokeMap, s, &held)
	travel := p.StrokeMap.Position[len(p.StrokeMap.Position)-1] - p.StrokeMap.Position[0]
	text := ""
	for i, x := range table.Position {
		if i > 0 {
			text += "; "
		}
		text += fmt.Sprintf("%.4g mm: %.6g / %.6g", x*1e3, 1/(table.PerTurn.Extend[i]*perTurn), 1/(table.PerTurn.Retract[i]*perTurn))
	}
	return &ScaleForm{Form: "table", Text: text + " rev/mm (extend / retract)", ErrorPPM: left / travel * 1e6, Error: left,
		Note: "Local departures belong to the transducer as much as to the machine"}
}

// scaleTable thins the stroke map to at most nine positions; nil where there is none of both
// directions: one that no log showed stands at zero.
func scaleTable(m plant.StrokeMap) *plant.StrokeMap {
	n := len(m.Position)
	if n < 2 || len(m.PerTurn.Extend) != n || len(m.PerTurn.Retract) != n {
		return nil
	}
	if !(slices.Min(m.PerTurn.Extend) > 0 && slices.Min(m.PerTurn.Retract) > 0) {
		return nil
	}
	const most = 9
	points := min(n, most)
	out := &plant.StrokeMap{}
	for k := range points {
		x := m.Position[0] + (m.Position[n-1]-m.Position[0])*float64(k)/float64(points-1)
		out.Position = append(out.Position, x)
		out.PerTurn.Extend = append(out.PerTurn.Extend, interpolate(m.Position, m.PerTurn.Extend, x))
		out.PerTurn.Retract = append(out.PerTurn.Retract, interpolate(m.Position, m.PerTurn.Retract, x))
	}
	return out
}

// interpolate returns y at x between increasing xs, the end value outside.
func interpolate(xs, ys []float64, x float64) float64 {
	for i := 1; i < len(xs); i++ {
		if x <= xs[i] {
			t := math.Max((x-xs[i-1])/(xs[i]-xs[i-1]), 0)
			return ys[i-1] + t*(ys[i]-ys[i-1])
		}
	}
	return ys[len(ys)-1]
}

// scaleInUse returns the form that the controller can hold, one per direction
// where neither the options nor the machine file say.
func scaleInUse(p *plant.Plant, opt Options) machine.Scale {
	if opt.Scale != machine.ScaleUnknown {
		return opt.Scale
	}
	if s := p.Machine.Controller.Scale; s != machine.ScaleUnknown {
		return s
	}
	return machine.ScaleDirection
}
