package quality

import (
	"math"

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
