package motion

import (
	"math"
	"slices"

	"eha/strokewise/ident/trace"
)

// reversing takes two or more reversals one after the other as one move: in open loop
// those seen in the motor's speed, which slip held back may make unequal, and those asked
// for, which a soft loop rounds and which may be too short to be steady.
func (w *finder) reversing() {
	all := w.m.Reversals
	for i := 0; i < len(all) && w.demand == nil; {
		j := i + 1
		for j < len(all) && all[j].Before.Span.From <= all[j-1].After.Span.From {
			j++
		}
		span := trace.Span{From: all[i].Before.Span.From, To: all[j-1].After.Span.To}
		if j-i >= 2 && !touches(span, w.found[Jog]) {
			w.add(ReversalMove, span)
		}
		i = j
	}
	w.askedReversals()
}

// longestSwing (s) is how long a reversal travels one way at most, longer is a stroke, and
// longestTurn (s) how long what is asked for may stand at the turn.
const longestSwing, longestTurn = 5.0, 0.1

// askedReversals looks for travel to and fro at one speed in what was asked for.
func (w *finder) askedReversals() {
	level := w.askedSpeed()
	from, last, swings, speed := 0, 0, 0, 0.0 // of the series so far; its last swing's end and speed
	end := func() {
		span := trace.Span{From: from * w.step, To: last * w.step}
		if swings >= 3 && !touches(span, w.found[Jog]) && !touches(span, w.found[Multisine]) && !touches(span, w.found[ReversalMove]) {
			w.add(ReversalMove, span)
		}
		swings = 0
	}
	near := func(a, b float64) bool { return math.Abs(a) < 1.25*math.Abs(b) && math.Abs(b) < 1.25*math.Abs(a) }
	for k := 0; k < len(level); {
		to := k + 1
		for to < len(level) && level[to]*level[k] > 0 && !w.broken[to] {
			to++
		}
		long := float64(to-k) * w.dt
		v, even := evenTravel(level[k:to])
		switch {
		case level[k] == 0 || long < MinSteady/2: // standing, or the frame of the turn
		case !even || long > longestSwing:
			end()
		default:
			if swings > 0 && (float64(k-last)*w.dt > longestTurn || v*speed >= 0 || !near(v, speed)) {
				end()
			}
			if swings == 0 {
				from = k
			}
			swings, last, speed = swings+1, to, v
		}
		k = to
	}
	end()
}

// evenTravel returns the median of the speeds, all of one sign, and whether the middle half
// of them lies within a twentieth of it.
func evenTravel(speeds []float64) (v float64, even bool) {
	v = Quantile(speeds, 0.5)
	return v, math.Abs(Quantile(speeds, 0.75)-Quantile(speeds, 0.25)) < 0.05*math.Abs(v)
}

// Slow strokes are slower than such a share of top speed, or than so many times the
// slowest travel (the chambers' areas and slip set the two directions apart), and cover
// such a share of the travel logged: the way to a place is shorter as a rule. In closed
// loop a stroke is less even and falls into pieces.
const (
	slowSpeed, slowOverSlowest = 0.6, 2.2
	strokeShare, loopShare     = 0.75, 0.5
)

// travelling sorts steady travel that is part of no other move: slow strokes cover at
// least three quarters of the travel logged in four seconds or more, at no more than 60 % of top
// speed or some twice the slowest; speed steps are at least three speeds over a factor of
// three, with no other move between them.
func (w *finder) travelling() {
	x, hasRod := w.t.Samples(trace.RodPosition)
	travel := 0.0
	if hasRod {
		travel = spread(x)
	}
	slow, least := max(slowSpeed*w.top, slowOverSlowest*w.slowestTravel()), strokeShare*travel
	if w.demand != nil {
		least = loopShare * travel
	}
	var steps []Segment
	for _, s := range w.m.Segments {
		if s.Kind != Steady || w.taken(s.Span) || !w.asked(s.Span) {
			continue
		}
		if hasRod && math.Abs(x[s.Span.To-1]-x[s.Span.From]) > least && w.seconds(s.Span) >= 4 && math.Abs(s.MotorSpeed) < slow {
			w.add(SlowStrokes, s.Span)
			continue
		}
		if n := len(steps); n > 0 && w.playedBetween(steps[n-1].Span.To, s.Span.From) {
			w.addSteps(steps)
			steps = nil
		}
		steps = append(steps, s)
	}
	w.addSteps(steps)
}

// taken reports whether the span lies in a move that was found before.
func (w *finder) taken(s trace.Span) bool {
	for _, k := range []MoveKind{Jog, ReversalMove, Pulses, PositionSteps} {
		if inside(s, w.found[k]) {
			return true
		}
	}
	return false
}

// playedBetween reports whether another move than holding lies between the samples.
func (w *finder) playedBetween(from, to int) bool {
	between := trace.Span{From: from, To: to}
	for _, k := range []MoveKind{Jog, SlowStrokes, ReversalMove, Pulses, Multisine, PressHold, PositionSteps} {
		if touches(between, w.found[k]) {
			return true
		}
	}
	return false
}

func (w *finder) addSteps(steps []Segment) {
	if speeds, low, high := distinctSpeeds(steps); speeds >= 3 && high >= 3*low {
		w.add(SpeedSteps, spansOf(steps)...)
	}
}

// distinctSpeeds counts steady speeds that differ by more than a fifth, and
// returns the lowest and highest (rad/s).
func distinctSpeeds(steps []Segment) (count int, low, high float64) {
	var speeds []float64
	for _, s := range steps {
		speeds = append(speeds, math.Abs(s.MotorSpeed))
	}
	slices.Sort(speeds)
	last := 0.0
	for _, v := range speeds {
		if v > 1.2*last {
			count++
			last = v
		}
	}
	if len(speeds) == 0 {
		return 0, 0, 0
	}
	return count, speeds[0], speeds[len(speeds)-1]
}

// What pulses are: so many changes to and fro of a speed that keeps its sign, each of at
// least such a share of the largest, at a speed of at least such a share of top speed.
const (
	leastPulses = 4
	pulseSize   = 0.08
	pulseSpeed  = 0.02
)

// pulsing finds trains of pulses: the speed goes up and down about a bias that never lets
// the motor reverse. It is looked for in what was asked for, which friction and swinging
// do not bend: the position command's rate in closed loop, the speed command, and the
// motor's speed where neither was logged.
func (w *finder) pulsing() {
	level := w.askedSpeed()
	for from := 0; from < len(level); {
		to := from + 1
		for to < len(level) && level[to]*level[from] > 0 && !w.broken[to] {
			to++
		}
		span := trace.Span{From: from * w.step, To: to * w.step}
		if w.pulseTrain(level[from:to]) && !w.otherwiseBusy(span) {
			w.add(Pulses, span)
		}
		from = to
	}
}

// askedSpeed returns the frames' speed as it was asked for, in units of the motor's or of
// the rod's speed.
func (w *finder) askedSpeed() []float64 {
	if w.demand != nil {
		return w.rate(w.demand)
	}
	if u, ok := w.t.Samples(trace.SpeedCommand); ok {
		return w.means(u)
	}
	return w.motor
}

// pulseTrain reports whether the speeds, all of one sign, go to and fro often enough.
func (w *finder) pulseTrain(level []float64) bool {
	size := make([]float64, len(level))
	for i, v := range level {
		size[i] = math.Abs(v)
	}
	if w.demand == nil && Quantile(size, 0.5) < pulseSpeed*w.top {
		return false
	}
	// The turning points in turn, peak and trough, each once the speed has left it by so much.
	least := pulseSize * Quantile(size, 1)
	var turns []float64
	low, high, rising := math.Inf(1), math.Inf(-1), true
	for _, v := range size {
		low, high = min(low, v), max(high, v)
		switch {
		case rising && v < high-least:
			turns, rising, low, high = append(turns, high), false, v, v
		case !rising && v > low+least:
			turns, rising, low, high = append(turns, low), true, v, v
		}
	}
	// Up and down must go about as far: a loop overshoots at each stair of speed steps.
	var change [2]float64
	for k := 1; k < len(turns); k++ {
		change[k%2] += math.Abs(turns[k] - turns[k-1])
	}
	return len(turns) > leastPulses && min(change[0], change[1]) > max(change[0], change[1])/2
}

// otherwiseBusy reports whether the span holds excitation or pressing, or is mostly rest.
func (w *finder) otherwiseBusy(s trace.Span) bool {
	rest := 0
	for _, g := range w.m.Segments {
		if g.Kind == Rest {
			rest += max(0, min(g.Span.To, s.To)-max(g.Span.From, s.From))
		}
	}
	for _, p := range w.m.Periodic {
		if touches(s, []trace.Span{p.Extent}) {
			return true
		}
	}
	return 2*rest > s.Len() || touches(s, w.found[PressHold])
}
