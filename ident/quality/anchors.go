package quality

import (
	"math"

	"eha/strokewise/ident/motion"
	"eha/strokewise/ident/trace"
)

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
// travel while the first or the second pressure column is the higher one, at the mean over half
// a second and more (a machine that swings changes sides at every beat); 0 where there
// is none. The mean over the directions takes out most of the slip; a direction that
// is missing is taken as it is.
func (v *view) perTurnByHighSide(n []float64) (first, second float64) {
	x := v.frame[trace.RodPosition]
	if x == nil {
		return 0, 0
	}
	p1, p2 := v.frame[trace.CapPressure], v.frame[trace.RodPressure]
	var ratios [2][2][]float64
	v.steadyPieces(func(from, to int) {
		speed, across := mean(n[from:to]), mean(p1[from:to])-mean(p2[from:to])
		if math.Abs(speed) < 0.15*v.motion.TopSpeed || math.Abs(across) < clearlyHigh {
			return
		}
		for k := from; k < to; k++ {
			if (p1[k]-p2[k])*across <= 0 {
				return // the side changes within the piece
			}
		}
		side, way := 0, 0
		if across < 0 {
			side = 1
		}
		if speed < 0 {
			way = 1
		}
		ratios[side][way] = append(ratios[side][way], math.Abs((x[to]-x[from])/(speed*float64(to-from)*v.dt)))
	})
	var got [2]float64
	for side, both := range ratios {
		count := 0
		for _, one := range both {
			if len(one) > 0 {
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

// steadyPieces calls do with the first and last frame of every half second of steady
// travel; both frames are inside it, and all between are good.
func (v *view) steadyPieces(do func(from, to int)) {
	piece := max(1, int(0.5/v.dt))
	for _, s := range v.motion.Segments {
		if s.Kind != motion.Steady {
			continue
		}
		end := s.Span.To/v.step - 1
		for from := (s.Span.From + v.step - 1) / v.step; from+piece/2 < end; from += piece {
			if to := min(from+piece, end); v.allGood(from, to) {
				do(from, to)
			}
		}
	}
}

func (v *view) allGood(from, to int) bool {
	for k := from; k < to; k++ {
		if !v.good[k] {
			return false
		}
	}
	return true
}
