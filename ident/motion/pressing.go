package motion

import "math"

// pressingOver (Pa) is what a pressure must stand above that of travel besides an eighth
// of it: friction from rest, valves and sensors account for so much (common practice, no source).
const pressingOver = 3e5

// markPressing marks where the pressure of a chamber, or the load cell's force,
// stands higher than in any steady travel while the rod moves less than a tenth
// of what the turns should give, or next to nothing. Without pressures and load
// cell pressing cannot be told from holding against slip, and stays rest.
func (f *frames) markPressing(kinds []Kind, perTurn float64) {
	loads := [][]float64{}
	for _, p := range [][]float64{f.capSide, f.rodSide, f.force} {
		if p != nil {
			loads = append(loads, p)
		}
	}
	if len(loads) == 0 {
		return
	}
	noise := f.rodNoise(kinds)
	high := make([]bool, len(kinds))
	for i, p := range loads {
		limit := f.travelPressure(p, kinds, perTurn)
		if i < len(loads)-1 || f.force == nil {
			limit += pressingOver
		}
		for k, v := range p {
			high[k] = high[k] || math.Abs(v) > limit
		}
	}
	// The work piece yields, so the rod may move for a moment while pressing.
	bridge := int(0.3 / f.dt)
	for from := 0; from < len(kinds); {
		to, last := from, from
		for to < len(kinds) && high[to] && !f.broken[to] && to-last <= bridge {
			if to++; math.Abs(f.rod[to-1]) < max(0.1*perTurn*math.Abs(f.motor[to-1]), 0.01*perTurn*f.top)+3*noise {
				last = to
			}
		}
		if float64(last-from)*f.dt >= MinSteady {
			for k := from; k < last; k++ {
				kinds[k] = Pressing
			}
		}
		from = max(last, from+1)
	}
}

// travelPressure is a pressure (or force) above that of travel: the 98 % point
// over steady travel that does move, plus an eighth; where the log has no such
// travel, over all that moves. Pressure rises beyond it in accelerations too, but there the rod moves.
func (f *frames) travelPressure(p []float64, kinds []Kind, perTurn float64) float64 {
	var steady, all []float64
	for k, kind := range kinds {
		if f.broken[k] || kind == Rest || math.Abs(f.rod[k]) <= 0.5*perTurn*math.Abs(f.motor[k]) {
			continue
		}
		all = append(all, math.Abs(p[k]))
		if kind == Steady {
			steady = append(steady, math.Abs(p[k]))
		}
	}
	if len(steady) == 0 {
		steady = all
	}
	if len(steady) == 0 {
		return math.Inf(1)
	}
	return 1.125 * Quantile(steady, 0.98)
}
