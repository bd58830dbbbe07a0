package compare

import (
	"fmt"
	"math"

	"eha/strokewise/ident/plant"
	"eha/strokewise/ident/trace"
)

// Move is a move that both sets hold.
type Move struct {
	From, To      float64 // m
	Kind          Kind
	Window        float64 // s, time from its start that is compared
	Before, After int     // repeats
	Figures       []Difference
	// Period of the hunting (s), before and after; 0 where nothing hunts.
	HuntingPeriod [2]float64
	Overlay       Overlay
}

// Overlay is the move as it went, for plotting: means over the repeats, some 240
// points, time counted from the start of the move.
type Overlay struct {
	Time          []float64 // s
	Command       []float64 // m; nil without a position command
	Before, After []float64 // m
}

// compareMoves finds the common moves and their figures. Both sets are told by the
// position command if it tells moves in both, else both by the motion.
func compareMoves(before, after Set) ([]Move, []string) {
	if len(before.Traces) == 0 || len(after.Traces) == 0 {
		return nil, []string{"A plant file stands for a side, so only the plants are compared."}
	}
	var notes []string
	// A command that never stands still, such as a measured one, tells no moves either.
	there, here := allPassages(before, true), allPassages(after, true)
	if len(there) == 0 || len(here) == 0 {
		there, here = allPassages(before, false), allPassages(after, false)
		notes = append(notes, "A set without steps or moves of the position command: moves are told by the rod's own motion, so nothing is said of following and final errors.")
	}
	groups, out := match(there, here)
	if len(groups) == 0 {
		return nil, append(notes, "The two sets have no repeated move in common (same start, end and time), so only the plants are compared. Log the same position_steps or usual_run in both.")
	}
	if out.onlyBefore+out.onlyAfter > 0 {
		notes = append(notes, fmt.Sprintf("Left out, because the other set lacks them: %d moves of before, %d of after.", out.onlyBefore, out.onlyAfter))
	}
	if out.once > 0 {
		notes = append(notes, fmt.Sprintf("Left out, because a set holds them once: %d motions without a command.", out.once))
	}
	areas := knownAreas(before, after)
	var moves []Move
	for _, g := range groups {
		moves = append(moves, g.compare(areas))
	}
	return moves, notes
}

func allPassages(s Set, byCommand bool) []passage {
	var all []passage
	for _, t := range s.Traces {
		all = append(all, passages(t, byCommand)...)
	}
	return all
}

// knownAreas returns the cylinder's areas (m²) where a plant knows them.
func knownAreas(sets ...Set) *plant.PerChamber[float64] {
	for _, s := range sets {
		if s.Plant != nil && s.Plant.AreasKnown {
			return &s.Plant.Model.Area
		}
	}
	return nil
}

// longestSmoothing is the longest time (s) that the rod position is averaged over;
// more would hide what the figures are about.
const longestSmoothing = 20e-3

// smoothing returns the time (s) to average the rod position over, so that its
// noise stays well inside the settling band on either side.
func (g *group) smoothing() float64 {
	longest := 0.0
	for _, list := range g.repeats {
		for _, p := range list {
			ratio := 6 * p.noise[trace.RodPosition] / (band * math.Abs(p.to-p.from))
			longest = math.Max(longest, p.trace.Period()*ratio*ratio)
		}
	}
	return math.Min(longest, longestSmoothing)
}

func (g *group) compare(areas *plant.PerChamber[float64]) Move {
	lead := g.lead()
	m := Move{From: lead.from, To: lead.to, Kind: lead.kind, Window: g.window, Before: len(g.repeats[0]), After: len(g.repeats[1])}
	smoothing := g.smoothing()
	var courses [2][]course
	var read [2][]readings
	for side, list := range g.repeats {
		for _, p := range list {
			c := p.cutOut(g.window, smoothing)
			courses[side] = append(courses[side], c)
			read[side] = append(read[side], c.read(areas))
		}
		m.HuntingPeriod[side] = huntingPeriod(courses[side])
	}
	for _, f := range Figures() {
		if d, ok := difference(f, read); ok {
			m.Figures = append(m.Figures, d)
		}
	}
	m.Overlay = overlay(courses)
	return m
}

// huntingPeriod returns the median period over the repeats, 0 where fewer than half hunt.
func huntingPeriod(courses []course) float64 {
	var periods []float64
	for _, c := range courses {
		if t := cycle(c.tail(), c.period, math.Max(6*c.doubt, Hunting.Info().Least)); t > 0 {
			periods = append(periods, t)
		}
	}
	if 2*len(periods) <= len(courses) {
		return 0
	}
	return median(periods)
}

// overlay averages the repeats of each side on one grid of time.
func overlay(courses [2][]course) Overlay {
	const points = 240
	shortest := math.Inf(1)
	for _, list := range courses {
		for _, c := range list {
			shortest = math.Min(shortest, float64(len(c.x)-1)*c.period)
		}
	}
	var o Overlay
	sides := [2]*[]float64{&o.Before, &o.After}
	for k := range points {
		t := shortest * float64(k) / (points - 1)
		o.Time = append(o.Time, t)
		for side, list := range courses {
			sum := 0.0
			for _, c := range list {
				sum += interpolate(c.x, t/c.period) / float64(len(list))
			}
			*sides[side] = append(*sides[side], sum)
		}
		if first := courses[0][0]; first.r != nil {
			o.Command = append(o.Command, first.r[min(int(t/first.period), len(first.r)-1)])
		}
	}
	return o
}

func interpolate(y []float64, at float64) float64 {
	i := min(int(at), len(y)-2)
	return y[i] + (y[i+1]-y[i])*(at-float64(i))
}
