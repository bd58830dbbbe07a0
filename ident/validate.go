package ident

import (
	"fmt"
	"math"

	"eha/strokewise/ident/plant"
	"eha/strokewise/ident/trace"
)

// speedHalf (s) to both sides is what rod speeds are compared over: below it the
// transducer's noise is.
const speedHalf = 0.02

// mostOverlays bounds what is kept of the moves held out for plots, longestOverlay (s) each.
const (
	mostOverlays   = 4
	longestOverlay = 8.0
)

// tally gathers squared errors and the variation of what was measured.
type tally struct{ n, sum, squares, errors float64 }

func (t *tally) add(measured, modelled float64) {
	t.n++
	t.sum += measured
	t.squares += measured * measured
	t.errors += (measured - modelled) * (measured - modelled)
}

// since is what was added after the tally stood at before.
func (t tally) since(before tally) *tally {
	return &tally{t.n - before.n, t.sum - before.sum, t.squares - before.squares, t.errors - before.errors}
}

// triedMove is one move held out and how its rod speed came out.
type triedMove struct {
	speed    *tally
	log      string
	from, to float64 // s
}

// A move slower than this share of all moves' rms speed is a nudge, in which
// friction has its way with any model.
const nudge = 0.3

// nameWorst warns of the move that the model explains worst, if badly.
func (f *fitting) nameWorst(moves []triedMove, all *tally) {
	worst, left := triedMove{}, fairSpeed
	for _, m := range moves {
		slow := m.speed.squares/math.Max(m.speed.n, 1) < nudge*nudge*all.squares/math.Max(all.n, 1)
		if u := m.speed.unexplained(); u > left && !slow {
			worst, left = m, u
		}
	}
	if worst.speed != nil {
		f.warnings = append(f.warnings, fmt.Sprintf("%s: the model leaves %.0f %% of the rod speed from %.1f to %.1f s unexplained; look at that move", worst.log, 100*left, worst.from, worst.to))
	}
}

// tried is the range of positions (m) that moves held out pass, and their fastest
// rod speed (m/s).
type tried struct{ from, to, fastest float64 }

func (r *tried) add(x []float64, period float64) {
	w := max(1, int(math.Round(speedHalf/period)))
	for i := w; i+w < len(x); i++ {
		r.from, r.to = math.Min(r.from, x[i]), math.Max(r.to, x[i])
		r.fastest = math.Max(r.fastest, math.Abs(x[i+w]-x[i-w])/(2*float64(w)*period))
	}
}

// unexplained is the rms error over the rms variation about the mean.
func (t *tally) unexplained() float64 {
	variation := t.squares - t.sum*t.sum/math.Max(t.n, 1)
	if t.n == 0 || variation <= 0 {
		return 0
	}
	return math.Sqrt(t.errors / variation)
}

// validate tries the model on the moves held out.
func (f *fitting) validate(m *plant.Model) (plant.Validation, []plant.Overlay) {
	var v plant.Validation
	var speed, pCap, pRod, travel tally
	var overlays []plant.Overlay
	low := f.lowSides(m)
	var moves []triedMove
	reach := tried{math.Inf(1), math.Inf(-1), 0}
	for i, t := range f.full {
		theta, okAngle := t.Samples(trace.MotorPosition)
		x, okRod := t.Samples(trace.RodPosition)
		if !okAngle || !okRod || f.stroke == nil {
			continue
		}
		for _, s := range f.heldOut[i] {
			v.HeldOut += float64(s.Len()) * t.Period()
			got := f.modelled(m, low, t, s)
			before := speed
			reach.add(x[s.From:s.To], t.Period())
			shown := f.compare(&speed, &pCap, &pRod, t, s, got)
			moves = append(moves, triedMove{speed.since(before), t.Name(), t.TimeAt(s.From), t.TimeAt(s.To - 1)})
			if len(overlays) < 3*mostOverlays {
				overlays = append(overlays, shown...)
			}
			f.compareTravel(&travel, t, s, m, theta, x)
		}
	}
	f.nameWorst(moves, &speed)
	v.RodSpeed, v.CapPressure, v.RodPressure = speed.unexplained(), pCap.unexplained(), pRod.unexplained()
	if travel.n > 0 {
		v.StrokeFromTurns = math.Sqrt(travel.errors / travel.n)
	}
	v.Verdict = f.verdict(v, reach)
	return v, overlays
}

// modelled replays a move; without pressures or areas the rod simply follows the turns.
func (f *fitting) modelled(m *plant.Model, low plant.PerChamber[lowSide], t *trace.Trace, s trace.Span) replayed {
	theta, _ := t.Samples(trace.MotorPosition)
	x, _ := t.Samples(trace.RodPosition)
	if a, b, ok := pressures(t); ok && f.stroke.AreasKnown {
		start := state{x: x[s.From], pCap: a[s.From], pRod: b[s.From]}
		return replay(m, low, theta[s.From:s.To], t.Period(), start)
	}
	got := replayed{x: make([]float64, s.Len())}
	got.x[0] = x[s.From]
	for k := 1; k < s.Len(); k++ {
		got.x[k] = got.x[k-1] + f.travelBlind(theta[s.From+k]-theta[s.From+k-1], t.Period())
	}
	return got
}

func pressures(t *trace.Trace) (capSide, rodSide []float64, ok bool) {
	capSide, okCap := t.Samples(trace.CapPressure)
	rodSide, okRod := t.Samples(trace.RodPressure)
	return capSide, rodSide, okCap && okRod
}

// compare sets the modelled signals, delayed as the sensors delay them, beside
// the measured ones and returns both for plotting.
func (f *fitting) compare(speed, pCap, pRod *tally, t *trace.Trace, s trace.Span, got replayed) []plant.Overlay {
	x, _ := t.Samples(trace.RodPosition)
	w := max(1, int(math.Round(speedHalf/t.Period())))
	shown := min(s.Len(), int(longestOverlay/t.Period()))
	delayed := delay(got.x, math.Max(f.params[plant.TransducerDelay].Value, 0)/t.Period())
	over := func(channel string) *plant.Overlay {
		return &plant.Overlay{Channel: channel, Period: t.Period(), Start: t.TimeAt(s.From + w)}
	}
	rod := over("rod_speed")
	for k := w; k+w < s.Len(); k++ {
		measured := (x[s.From+k+w] - x[s.From+k-w]) / (2 * float64(w) * t.Period())
		model := (delayed[k+w] - delayed[k-w]) / (2 * float64(w) * t.Period())
		speed.add(measured, model)
		if k < shown {
			rod.Measured, rod.Modeled = append(rod.Measured, measured), append(rod.Modeled, model)
		}
	}
	out := []plant.Overlay{*rod}
	a, b, ok := pressures(t)
	if !ok || got.pCap == nil {
		return out
	}
	lag := math.Max(f.params[plant.PressureLag].Value, 0) / t.Period()
	for _, side := range []struct {
		channel         trace.Channel
		measured, model []float64
		into            *tally
	}{{trace.CapPressure, a, delay(got.pCap, lag), pCap}, {trace.RodPressure, b, delay(got.pRod, lag), pRod}} {
		o := over(side.channel.String())
		for k := w; k+w < s.Len(); k++ {
			side.into.add(side.measured[s.From+k], side.model[k])
			if k < shown {
				o.Measured, o.Modeled = append(o.Measured, side.measured[s.From+k]), append(o.Modeled, side.model[k])
			}
		}
		out = append(out, *o)
	}
	return out
}

// delay returns y later by a number of samples, not necessarily whole.
func delay(y []float64, samples float64) []float64 {
	out := make([]float64, len(y))
	for i := range out {
		at := math.Max(float64(i)-samples, 0)
		k := int(at)
		share := at - float64(k)
		out[i] = y[k] + share*(y[min(k+1, len(y)-1)]-y[k])
	}
	return out
}

func mean(x []float64) float64 {
	sum := 0.0
	for _, v := range x {
		sum += v
	}
	return sum / float64(max(len(x), 1))
}
