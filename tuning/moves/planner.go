package moves

import (
	"fmt"
	"math"

	"eha/strokewise/ident/machine"
	"eha/strokewise/ident/motion"
	"eha/strokewise/ident/plant"
	"eha/strokewise/ident/quantity"
	"eha/strokewise/ident/trace"
)

// planner puts the moves of a plan together.
type planner struct {
	b       *Bounds
	plan    *Plan
	machine *machine.Machine
	plant   *plant.Plant
	excited map[float64]excitation // by period (s): the same both ways
}

// largest returns the largest x in [0, 1] for which the profile fits, to a
// hundredth, or ok false where none fits at low. The profile must grow with x.
func (w *planner) largest(low float64, make func(x float64) []float64) (x float64, ok bool) {
	fits := func(x float64) bool { _, ok := w.b.place(make(x)); return ok }
	switch {
	case fits(1):
		return 1, true
	case !fits(low):
		return 0, false
	}
	high := 1.0
	for high-low > 0.01 {
		mid := (low + high) / 2
		if fits(mid) {
			low = mid
		} else {
			high = mid
		}
	}
	return low, true
}

// add puts the move into the plan at all sizes, from the one place where all of them fit.
func (w *planner) add(kind motion.MoveKind, part string, speed []float64, notes ...string) {
	start, ok := w.b.place(speed)
	if !ok {
		panic("moves: add: profile does not fit")
	}
	if top, _ := peaks(speed, w.b.period); top < w.machine.Pump.MinSpeed && top > 0 {
		notes = append(notes, "slower than the pump may run for long under pressure ("+show(w.machine.Pump.MinSpeed, quantity.AngularSpeed)+"): do not repeat it without a pause")
	}
	for _, size := range Sizes {
		if kind == motion.Hold && size < 1 {
			continue // nothing moves: one size is all
		}
		s := scaled(speed, size)
		reach, _ := w.b.envelope(speed, size, w.b.period)
		m := Move{Kind: kind, Part: part, Size: size, Column: trace.SpeedCommand, Table: s, Period: w.b.period,
			Start: start, Tolerance: w.b.tolerance, Notes: notes}
		m.Speed, m.Accel = peaks(s, w.b.period)
		aside := w.b.tolerance + w.b.give
		m.Reach = [2]float64{start + reach[0] - aside, start + reach[1] + aside}
		m.RodSpeed = m.Speed*w.b.fastest() + max(w.b.Drift[1], -w.b.Drift[0])
		if w.b.closed {
			m.Column, m.Table = trace.PositionCommand, w.travel(s, start)
		} else {
			twice := 2 * m.Duration()
			m.Drift = [2]float64{twice * w.b.Drift[0], twice * w.b.Drift[1]}
		}
		w.plan.Moves = append(w.plan.Moves, m)
	}
}

// travel integrates the speeds to positions (m) from start.
func (w *planner) travel(speed []float64, start float64) []float64 {
	x := make([]float64, len(speed))
	at := start
	for i, n := range speed {
		at += n * w.b.PerTurn.Extend[0] * w.b.period
		x[i] = at
	}
	return x
}

// leave notes a move that cannot be planned.
func (w *planner) leave(kind motion.MoveKind, part, format string, args ...any) {
	w.plan.LeftOut = append(w.plan.LeftOut, LeftOut{kind, part, fmt.Sprintf(format, args...)})
}

// tooLong is the reason for leaving a move out that drifts out of the stroke.
func (w *planner) tooLong(kind motion.MoveKind, part string) {
	b := w.b
	if b.closed {
		w.leave(kind, part, "it does not fit into the %s of stroke between the margins", show(b.High-b.Low, quantity.Length))
		return
	}
	w.leave(kind, part, "in the worst case slip carries the rod %s a second inwards and %s outwards, and the move does not fit into the %s between the margins; state the load (load.mass with load.angle, or load.force_range), play it with --command position, or jog slow strokes by hand, log them and plan again from their fit",
		show(-b.Drift[0], quantity.Length), show(b.Drift[1], quantity.Length), show(b.High-b.Low, quantity.Length))
}

// hold stands still, for up to 10 s.
func (w *planner) hold() {
	const longest, least = 10.0, 2.0
	still := func(x float64) []float64 {
		p := w.profile()
		p.hold(longest * x)
		return p.speed
	}
	x, ok := w.largest(least/longest, still)
	if !ok {
		w.tooLong(motion.Hold, "")
		return
	}
	w.add(motion.Hold, "", still(x), "at other places too where the load changes along the stroke: jog there, then log a rest of the same length")
}

// slowStrokes travels one way at steady low speed, and part of the way back twice
// as fast, so that both directions and two speeds are seen.
func (w *planner) slowStrokes(d plant.Direction) {
	const longest = 40.0
	s := w.b.PerTurn
	back := 0.6 * min(s.Extend[0], s.Retract[0]) / w.b.fastest() // share of the turns that can be taken back in any case
	var best []float64
	most := 0.0
	for _, share := range []float64{0.05, 0.08, 0.12, 0.17, 0.24, 0.34, 0.45} {
		speed := d.Sign() * share * w.b.MaxSpeed
		stroke := func(x float64) []float64 {
			p := w.profile()
			p.hold(restTime)
			p.ramp(speed)
			p.hold(longest * x)
			p.ramp(0)
			p.hold(restTime)
			p.ramp(-2 * speed)
			p.hold(longest * x * back / 2)
			return p.stop()
		}
		x, ok := w.largest(2/longest, stroke)
		if !ok {
			continue
		}
		// Certain travel counts; from 4 s on it is long enough to average over.
		travel := math.Abs(speed) * s.At(d)[0] * longest * x
		if x*longest < 4 {
			travel *= 0.3
		}
		if travel > 1.1*most {
			most, best = travel, stroke(x)
		}
	}
	if best == nil {
		w.tooLong(motion.SlowStrokes, d.String())
		return
	}
	w.add(motion.SlowStrokes, d.String(), best)
}

// stairs are the shares of the top speed in speed steps, and how long (s) each is held.
var stairs = [...]struct{ share, seconds float64 }{{0.07, 1}, {0.14, 0.9}, {0.28, 0.7}, {0.55, 0.6}, {1, 0.5}}

// speedSteps climbs a staircase of speeds one way.
func (w *planner) speedSteps(d plant.Direction) {
	climb := func(x float64) []float64 {
		p := w.profile()
		p.hold(restTime)
		for _, s := range stairs {
			p.ramp(d.Sign() * x * s.share * w.b.MaxSpeed)
			p.hold(s.seconds)
		}
		return p.stop()
	}
	x, ok := w.largest(0.1, climb)
	if !ok {
		w.tooLong(motion.SpeedSteps, d.String())
		return
	}
	w.add(motion.SpeedSteps, d.String(), climb(x))
}

// reversals goes slowly to and fro, so often as fits.
func (w *planner) reversals() {
	const share, seconds = 0.06, 0.6
	for _, cycles := range []int{6, 5, 4, 3, 2} {
		p := w.profile()
		p.hold(restTime)
		for range cycles {
			p.ramp(share * w.b.MaxSpeed)
			p.hold(seconds)
			p.ramp(-share * w.b.MaxSpeed)
			p.hold(seconds)
		}
		speed := p.stop()
		if _, ok := w.b.place(speed); ok {
			w.add(motion.ReversalMove, "", speed)
			return
		}
	}
	w.tooLong(motion.ReversalMove, "")
}

// pulses steps the speed up and down about a bias that never lets the motor reverse.
func (w *planner) pulses(d plant.Direction) {
	const step, seconds = 0.35, 0.45
	for _, levels := range []int{12, 9, 6} {
		train := func(x float64) []float64 {
			bias := x * 0.3 * w.b.MaxSpeed
			change := min(step*bias, w.b.stepSpeed()/2)
			p := w.profile()
			p.hold(restTime)
			p.ramp(d.Sign() * (bias + change))
			p.hold(seconds)
			for i := range levels {
				sign := float64(2*(i%2) - 1)
				p.rampIn(d.Sign()*(bias+sign*change), math.Pi/2*2*change/w.b.quick)
				p.hold(seconds)
			}
			return p.stop()
		}
		if x, ok := w.largest(0.2, train); ok {
			w.add(motion.Pulses, d.String(), train(x))
			return
		}
	}
	w.tooLong(motion.Pulses, d.String())
}
