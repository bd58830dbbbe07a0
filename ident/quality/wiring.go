package quality

import (
	"math"

	"eha/strokewise/ident/lsq"
	"eha/strokewise/ident/motion"
	"eha/strokewise/ident/plant"
	"eha/strokewise/ident/trace"
)

// wire is one thing that may be connected or signed the wrong way.
type wire uint

// The wires; a set of them is a hypothesis about what is wrong.
const (
	command  wire = 1 << iota // sign of the speed command
	encoder                   // sign of the motor position
	rod                       // sign of the rod position
	swapped                   // the pressure columns bear each other's names
	current                   // sign of the motor current or torque
	allWires = 1<<iota - 1
)

// vote is one piece of evidence. It bears on the product of the signs of its
// wires: positive weight says that the product is right. The weight is in nats, half
// the logarithm of the odds; a vote that cannot be trusted alone gets no more than 2.
type vote struct {
	wires  wire
	weight float64
	text   string // in words, for a negative weight
}

// faultPenalty (nats) is what each fault costs against the evidence: e^6 is
// 400 to 1, so that no single weak vote can call a fault (common practice, no source).
const faultPenalty = 6.0

// wiring is the judgement: the most likely faults, the next likely, and how sure.
type wiring struct {
	faults, next wire
	sure         float64 // probability among all hypotheses
	votes        []vote
	perTurn      plant.PerDirection[float64] // m/rad by the encoder's direction, positive
}

// judgeWiring gathers the votes and takes the hypothesis that they support best.
func (v *view) judgeWiring() wiring {
	w := wiring{}
	motion := v.motorSpeed()
	if motion != nil {
		w.votes = append(w.votes, v.commandVotes(motion)...)
		w.votes = append(w.votes, v.rodVotes(motion)...)
		if v.has(trace.CapPressure, trace.RodPressure) {
			w.perTurn = v.perTurn(motion)
			w.votes = append(w.votes, v.flowVotes(motion, w.perTurn)...)
			w.votes = append(w.votes, v.frictionVotes(motion)...)
			w.votes = append(w.votes, v.reservoirVotes(motion)...)
			w.votes = append(w.votes, v.areaVotes(motion)...)
		}
		w.votes = append(w.votes, v.currentVotes(motion)...)
	}
	w.decide()
	return w
}

// decide weighs all hypotheses.
func (w *wiring) decide() {
	scores := make([]float64, allWires+1)
	best := math.Inf(-1)
	for h := range scores {
		scores[h] = w.score(wire(h))
		if scores[h] > best {
			best, w.faults = scores[h], wire(h)
		}
	}
	total, next := 0.0, math.Inf(-1)
	for h, s := range scores {
		total += math.Exp(s - best)
		// Current alone changes nothing that matters; the next best differs elsewhere.
		if (wire(h)^w.faults)&^current != 0 && s > next {
			next, w.next = s, wire(h)
		}
	}
	w.sure = 1 / total
}

// score is twice the summed weight of the votes, signed by the hypothesis, less
// the penalty for every fault it needs. Encoder, command and rod all reversed is one
// decision of whoever set the machine up, and counts as two.
func (w *wiring) score(h wire) float64 {
	var sum float64
	for _, vt := range w.votes {
		if odd(h & vt.wires) {
			sum -= vt.weight
		} else {
			sum += vt.weight
		}
	}
	faults := ones(h)
	if h&(encoder|command|rod) == encoder|command|rod {
		faults--
	}
	return 2*sum - faultPenalty*float64(faults)
}

func ones(h wire) int {
	n := 0
	for ; h != 0; h &= h - 1 {
		n++
	}
	return n
}

func odd(h wire) bool { return ones(h)%2 == 1 }

// has reports whether the fault is among those found.
func (w *wiring) has(fault wire) bool { return w.faults&fault != 0 }

// commandVotes compares command with speed: a speed loop follows.
func (v *view) commandVotes(n []float64) []vote {
	u := v.frame[trace.SpeedCommand]
	if u == nil {
		return nil
	}
	r := correlation(u, n, v.good)
	if math.Abs(r) < 0.2 {
		return nil
	}
	return []vote{{command | encoder, 8 * r, "the motor turns against its speed command"}}
}

// rodVotes compares rod with motor travel.
func (v *view) rodVotes(n []float64) []vote {
	dx := v.change(trace.RodPosition)
	if dx == nil {
		return nil
	}
	r := correlation(dx, n, v.good)
	if math.Abs(r) < 0.2 {
		return nil
	}
	return []vote{{encoder | rod, 8 * r, "the rod position falls while the motor position rises"}}
}

// perTurn is the median of rod travel over motor turns by the encoder's
// direction, without sign, over the faster half of the motion.
func (v *view) perTurn(n []float64) plant.PerDirection[float64] {
	dx := v.change(trace.RodPosition)
	var s plant.PerDirection[float64]
	if dx == nil {
		return s
	}
	for _, d := range []plant.Direction{plant.Extend, plant.Retract} {
		var ratios []float64
		for k, r := range dx {
			if v.good[k] && n[k]*d.Sign() > 0.15*v.motion.TopSpeed && v.kind[k] != motion.Pressing {
				ratios = append(ratios, math.Abs(r/(n[k]*v.dt)))
			}
		}
		s.Set(d, median(ratios))
	}
	return s
}

// flowVotes asks which pressure rises when more oil is pumped than the piston
// makes room for: with the encoder positive extending it is that of the cap side,
// and the rod side's falls.
func (v *view) flowVotes(n []float64, s plant.PerDirection[float64]) []vote {
	dx := v.change(trace.RodPosition)
	if dx == nil || s.Extend == 0 || s.Retract == 0 {
		return nil
	}
	sign := 1.0
	if correlation(dx, n, v.good) < 0 {
		sign = -1
	}
	flow := make([]float64, len(n))
	for k := range n {
		d := plant.Extend
		if n[k] < 0 {
			d = plant.Retract
		}
		flow[k] = n[k]*v.dt - sign*dx[k]/s.At(d)
	}
	r := correlation(flow, v.change(trace.CapPressure), v.good) - correlation(flow, v.change(trace.RodPressure), v.good)
	if math.Abs(r) < 0.1 {
		return nil
	}
	return []vote{{encoder | swapped, 4 * clip(r/0.5), "oil pumped into the cap side raises the pressure called rod side"}}
}

// frictionVotes asks which pressure is higher while the encoder counts up in
// steady travel, place for place: friction asks for more force in the direction
// of travel, so that of the cap side when extending.
func (v *view) frictionVotes(n []float64) []vote {
	capUp, ok1 := v.directionStep(v.frame[trace.CapPressure], n)
	rodUp, ok2 := v.directionStep(v.frame[trace.RodPressure], n)
	total := math.Abs(capUp.step) + math.Abs(rodUp.step)
	if !ok1 || !ok2 || total == 0 || math.Max(capUp.t, rodUp.t) < 4 {
		return nil
	}
	return []vote{{encoder | swapped, 3 * (capUp.step - rodUp.step) / total, "friction shows in the pressures the wrong way round"}}
}

// reservoirVotes uses the lower of both pressures, which follows the sealed
// reservoir: the further the rod is out, the more oil the cylinder holds and the lower
// it is. This tells the true direction of the rod without the names of the pressure columns.
// (That the low side is lower while extending is true as well, but is drowned by
// sensor offsets where the low side changes with the direction.)
func (v *view) reservoirVotes(n []float64) []vote {
	p1, p2 := v.frame[trace.CapPressure], v.frame[trace.RodPressure]
	low := make([]float64, len(p1))
	for k := range low {
		low[k] = math.Min(p1[k], p2[k])
	}
	f, ok := v.directionStep(low, n)
	if !ok {
		return nil
	}
	// A fifth of a bar is far above what averaging leaves of sensor noise.
	if math.Abs(f.alongStroke) > 0.2e5 && f.tStroke > 4 {
		return []vote{{rod, -math.Copysign(1.5, f.alongStroke), "the reservoir fills while the rod position rises"}}
	}
	return nil
}

// areaVotes asks which column is high where a turn moves the rod least: the cap
// side has the larger area. With displacement, bore and rod on the nameplate one
// chamber suffices.
func (v *view) areaVotes(n []float64) []vote {
	first, second := v.perTurnByHighSide(n)
	var votes []vote
	if first > 0 && second > 0 {
		// Slip and compression move each by a few per cent at most.
		if r := math.Log(second / first); math.Abs(r) > 0.06 {
			votes = append(votes, vote{swapped, 4 * clip(r/0.15), "a turn moves the rod further while the pressure called cap side is high"})
		}
	}
	areaCap, areaRod := v.areas()
	if areaRod <= 0 || v.m.Pump.Displacement == 0 {
		return votes
	}
	d := v.m.Pump.Displacement
	weight := 0.0
	for _, c := range []struct{ seen, right, wrong float64 }{{first, d / areaCap, d / areaRod}, {second, d / areaRod, d / areaCap}} {
		if c.seen == 0 {
			continue
		}
		near, far := math.Abs(math.Log(c.seen/c.right)), math.Abs(math.Log(c.seen/c.wrong))
		if math.Min(near, far) < 0.1 && math.Abs(near-far) > 0.08 {
			weight += math.Copysign(4, far-near)
		}
	}
	if weight != 0 {
		votes = append(votes, vote{swapped, clip(weight/4) * 4, "stroke per turn under load fits the area of the other side"})
	}
	return votes
}

// areas returns cap and rod area (m²), 0 where bore or rod is unknown.
func (v *view) areas() (areaCap, areaRod float64) {
	c := v.m.Cylinder
	if c.Bore <= 0 || c.Rod <= 0 || c.Rod >= c.Bore {
		return 0, 0
	}
	return math.Pi / 4 * c.Bore * c.Bore, math.Pi / 4 * (c.Bore*c.Bore - c.Rod*c.Rod)
}

// clearlyHigh (Pa) is how far one pressure must be above the other for its side to
// carry the load beyond the valves' own band.
const clearlyHigh = 4e5

// perTurnByHighSide returns the stroke per turn (m/rad, positive) in steady
// travel while the first or the second pressure column is the higher one; 0 where
// there is less than half a second of that. The mean over the directions takes
// out most of the slip; a direction that is missing is taken as it is.
func (v *view) perTurnByHighSide(n []float64) (first, second float64) {
	dx := v.change(trace.RodPosition)
	if dx == nil {
		return 0, 0
	}
	p1, p2 := v.frame[trace.CapPressure], v.frame[trace.RodPressure]
	var ratios [2][2][]float64
	for k, r := range dx {
		if !v.good[k] || v.kind[k] != motion.Steady || math.Abs(n[k]) < 0.15*v.motion.TopSpeed || math.Abs(p1[k]-p2[k]) < clearlyHigh {
			continue
		}
		side, way := 0, 0
		if p2[k] > p1[k] {
			side = 1
		}
		if n[k] < 0 {
			way = 1
		}
		ratios[side][way] = append(ratios[side][way], math.Abs(r/(n[k]*v.dt)))
	}
	least := int(0.5 / v.dt)
	var got [2]float64
	for side, both := range ratios {
		count := 0
		for _, one := range both {
			if len(one) >= least {
				got[side] += median(one)
				count++
			}
		}
		if count > 0 {
			got[side] /= float64(count)
		}
	}
	return got[0], got[1]
}

// currentVotes compares current or torque with what it does: hold the pressure
// across the pump, overcome the motor's friction, and speed the motor up. The parts
// are separated by regression; a part counts if it makes at least a tenth of the whole.
func (v *view) currentVotes(n []float64) []vote {
	i := v.frame[trace.MotorCurrent]
	if i == nil {
		i = v.frame[trace.MotorTorque]
	}
	if i == nil {
		return nil
	}
	parts := []struct {
		wires wire
		text  string
		of    func(k int) float64
	}{
		{current | encoder, "the motor speeds up against its current", func(k int) float64 { return n[k+1] - n[k-1] }},
		{current | encoder, "current opposes the motor's travel", func(k int) float64 { return clip(n[k] / (0.02*v.motion.TopSpeed + 1e-9)) }},
		{current | swapped, "current falls while the pressure across the pump rises", nil},
	}
	if v.has(trace.CapPressure, trace.RodPressure) {
		p1, p2 := v.frame[trace.CapPressure], v.frame[trace.RodPressure]
		parts[2].of = func(k int) float64 { return p1[k] - p2[k] }
	} else {
		parts = parts[:2]
	}
	columns := make([][]float64, len(parts)+1)
	var y []float64
	for k := 1; k+2 < len(i); k += 2 {
		if !v.good[k-1] || !v.good[k] || !v.good[k+1] {
			continue
		}
		y = append(y, i[k])
		columns[0] = append(columns[0], 1)
		for j, p := range parts {
			columns[j+1] = append(columns[j+1], p.of(k))
		}
	}
	fit, err := lsq.Linear{Columns: columns, Y: y}.Solve()
	if err != nil {
		return nil
	}
	var votes []vote
	whole := deviation(y)
	for j, p := range parts {
		if share := fit.X[j+1] * deviation(columns[j+1]) / whole; math.Abs(share) > 0.1 {
			votes = append(votes, vote{p.wires, 4 * clip(share/0.4), p.text})
		}
	}
	return votes
}

// deviation is the standard deviation.
func deviation(y []float64) float64 {
	m := mean(y)
	var sum float64
	for _, s := range y {
		sum += (s - m) * (s - m)
	}
	return math.Sqrt(sum / float64(max(len(y), 1)))
}

// clip limits to ±1.
func clip(r float64) float64 { return math.Max(-1, math.Min(1, r)) }

// highpass takes the mean over ±half frames off.
func highpass(y []float64, half int) []float64 {
	out := make([]float64, len(y))
	sum := make([]float64, len(y)+1)
	for k, s := range y {
		sum[k+1] = sum[k] + s - y[0]
	}
	for k := range y {
		a, b := max(0, k-half), min(len(y), k+half+1)
		out[k] = y[k] - y[0] - (sum[b]-sum[a])/float64(b-a)
	}
	return out
}
