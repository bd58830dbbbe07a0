package compare

import (
	"math"
	"sort"
)

// group is one move with its repeats, before and after.
type group struct {
	repeats [2][]passage
	window  float64 // s, time from the start that every repeat holds
}

// lead returns the repeat that names the move.
func (g *group) lead() passage {
	if len(g.repeats[0]) > 0 {
		return g.repeats[0][0]
	}
	return g.repeats[1][0]
}

// same reports whether two passages are repeats of one move. A command repeats to
// its last digits; without one, start and end may drift by 2 % of the travel.
func same(a, b passage) bool {
	if a.kind != b.kind {
		return false
	}
	travel := math.Abs(a.to - a.from)
	tolerance, slack := math.Max(2e-3*travel, 1e-5), 0.03
	if a.kind == Motion {
		tolerance, slack = math.Max(0.02*travel, 2e-4), 0.1
	}
	if math.Abs(a.from-b.from) > tolerance || math.Abs(a.to-b.to) > tolerance {
		return false
	}
	longA, longB := a.seconds(a.end), b.seconds(b.end)
	return a.kind == Step || math.Abs(longA-longB) <= slack*math.Max(longA, longB)+0.02
}

// leftOut counts the moves that are not compared.
type leftOut struct {
	onlyBefore, onlyAfter int
	once                  int // motions without a command that a set holds once
}

// match gathers the repeats of each move over both sets, in the order in which they
// first appear. It drops the moves that one of the sets lacks, and those without
// a command that a set holds once: a jog to some place is not a test.
func match(before, after []passage) (both []group, out leftOut) {
	var groups []group
	for side, list := range [][]passage{before, after} {
		for _, p := range list {
			at := -1
			for i := range groups {
				if same(groups[i].lead(), p) {
					at = i
					break
				}
			}
			if at < 0 {
				groups = append(groups, group{})
				at = len(groups) - 1
			}
			groups[at].repeats[side] = append(groups[at].repeats[side], p)
		}
	}
	for _, g := range groups {
		switch {
		case len(g.repeats[1]) == 0:
			out.onlyBefore++
		case len(g.repeats[0]) == 0:
			out.onlyAfter++
		case !g.cut():
		case g.lead().kind == Motion && (len(g.repeats[0]) < 2 || len(g.repeats[1]) < 2):
			out.once++
		default:
			both = append(both, g)
		}
	}
	return both, out
}

// after is how long (s) a move is followed once its command stands.
const after = 5.0

// cut drops repeats that are cut short, sets the window that all others hold and
// reports whether repeats are left on both sides.
func (g *group) cut() bool {
	var held []float64
	for _, list := range g.repeats {
		for _, p := range list {
			held = append(held, p.seconds(p.until))
		}
	}
	sort.Float64s(held)
	least := 0.7 * held[len(held)/2]
	g.window = math.Inf(1)
	for side, list := range g.repeats {
		var kept []passage
		for _, p := range list {
			if long := p.seconds(p.until); long >= least && long > p.seconds(p.end)+0.1 {
				kept = append(kept, p)
				g.window = math.Min(g.window, math.Min(long, p.seconds(p.end)+after))
			}
		}
		g.repeats[side] = kept
	}
	return len(g.repeats[0]) > 0 && len(g.repeats[1]) > 0
}
