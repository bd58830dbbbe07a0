package quality

import (
	"math/bits"

	"eha/strokewise/ident/machine"
	"eha/strokewise/ident/motion"
	"eha/strokewise/ident/plant"
)

// outlook is what a fit is expected to make of one parameter.
type outlook struct {
	expect plant.Status
	best   plant.Status // what a log that lacks nothing would give
	why    string       // why not better
	// moves are those of which one alone would make it as good as it gets, the best
	// first; none where a channel or the machine file is what lacks.
	moves []motion.MoveKind
}

// known is the outlook of a parameter that the logs tell.
func known() outlook {
	return outlook{expect: plant.Identified, best: plant.Identified, why: "the logs hold what it takes"}
}

// roughly is that of one that comes out weak, none that of one that does not come out.
func roughly(why string, moves ...motion.MoveKind) outlook {
	return outlook{plant.Weak, plant.Identified, why, moves}
}
func none(why string, moves ...motion.MoveKind) outlook {
	return outlook{plant.Missing, plant.Identified, why, moves}
}

// settled is the outlook of one that comes out weak and that no move makes better.
func settled(why string) outlook { return outlook{expect: plant.Weak, best: plant.Weak, why: why} }

// atMostWeak is the outlook of a parameter that no log tells better than roughly.
func (o outlook) atMostWeak(why string) outlook {
	if o.expect == plant.Identified {
		o.expect, o.why = plant.Weak, why
	}
	o.best = plant.Weak
	return o
}

// identifiable judges every parameter and returns the fewest moves that would complete
// the set, in the order to run them.
func identifiable(views []*view, m *machine.Machine) (map[plant.Param]Identifiable, []string) {
	c := gather(views, m)
	outlooks := map[plant.Param]outlook{}
	var open [][]motion.MoveKind
	for _, p := range plant.Params() {
		o := c.outlook(p)
		outlooks[p] = o
		if o.expect < o.best && len(o.moves) > 0 && c.wanted(p, m) {
			open = append(open, o.moves)
		}
	}
	chosen := fewest(open)
	out := map[plant.Param]Identifiable{}
	for p, o := range outlooks {
		i := Identifiable{Can: o.expect >= o.best, Expect: o.expect, Why: o.why}
		if !i.Can && len(o.moves) > 0 {
			i.Move = firstOf(o.moves, chosen).String()
		}
		out[p] = i
	}
	var moves []string
	for _, k := range motion.MoveKinds() {
		if chosen&(1<<k) != 0 {
			moves = append(moves, k.String())
		}
	}
	return out, moves
}

// wanted reports whether the parameter is worth a move of its own on this machine:
// pressing is not where nothing is pressed, a delay that is stated need not be logged.
func (c *content) wanted(p plant.Param, m *machine.Machine) bool {
	switch p {
	case plant.ContactStiffness, plant.PressingStiffness:
		return m.Limits.Force > 0 || m.Limits.ForcePull > 0 || c.presses > 0
	case plant.OuterDelay:
		return m.Controller.OuterDelay <= 0
	}
	return true
}

// fewest returns the smallest set of moves, as bits, that holds one of each list; of
// equal ones that whose moves stand first in most lists. There are ten moves, so all
// sets are tried.
func fewest(lists [][]motion.MoveKind) (best uint) {
	size, rank := len(motion.MoveKinds())+1, 0
	for set := range uint(1) << len(motion.MoveKinds()) {
		n := bits.OnesCount(set)
		if n > size {
			continue
		}
		r, all := 0, true
		for _, moves := range lists {
			at := -1
			for i, k := range moves {
				if set&(1<<k) != 0 {
					at = i
					break
				}
			}
			if at < 0 {
				all = false
				break
			}
			r += at
		}
		if all && (n < size || r < rank) {
			best, size, rank = set, n, r
		}
	}
	return best
}

// firstOf returns the first of the moves that is in the set, the first of all where none is.
func firstOf(moves []motion.MoveKind, set uint) motion.MoveKind {
	for _, k := range moves {
		if set&(1<<k) != 0 {
			return k
		}
	}
	return moves[0]
}
