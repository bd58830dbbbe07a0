package quality

import (
	"fmt"
	"math"

	"eha/strokewise/ident/lsq"
	"eha/strokewise/ident/plant"
	"eha/strokewise/ident/trace"
)

// Of two channels that could be one another the one that obeys the physics is the measured one.
const (
	pretenderBlocks = 8
	// pretenderSure is Student's t for seven degrees of freedom that chance exceeds one way once
	// in a thousand (t table).
	pretenderSure = 4.79
	// pretenderRatio is how many times what the other leaves unexplained a channel must leave
	// besides: sensors of one kind and their lags come to less (common practice, no source).
	pretenderRatio = 3
	// pretenderFits is the share that the one that obeys may leave, pretenderTrue that of one true to the turns.
	pretenderFits = 0.35
	pretenderTrue = 0.1
	// pretenderLeast is how many windows a judgement needs.
	pretenderLeast = 3 * pretenderBlocks
)

// followed is how a length follows the turns.
type followed struct {
	left  [pretenderBlocks]float64 // share of its changes that is not explained, 0 to 1, by part of the log
	share float64                  // the same over the whole log
	slope float64                  // m/rad
	ahead float64                  // m·s/rad, by which the speed's changes are in it beforehand: lead times slope
	sure  bool                     // ahead is more than twice its standard error
}

// swappedLengths tells the rod position from its command: the rod follows the turns, but for slip and
// what the oil takes up, and its command runs ahead of it.
func (v *view) swappedLengths() (Finding, bool) {
	if !v.has(trace.MotorPosition, trace.RodPosition, trace.PositionCommand) {
		return Finding{}, false
	}
	// A dead sensor is no command; flat names it.
	y, _ := v.samples(trace.RodPosition)
	if low, high := v.bounds(trace.RodPosition); low == high || v.onlyNoise(trace.RodPosition, v.quickNoise(y)) {
		return Finding{}, false
	}
	named, ok := v.followsTurns(trace.RodPosition)
	other, ok2 := v.followsTurns(trace.PositionCommand)
	if !ok || !ok2 || other.share > pretenderFits {
		return Finding{}, false
	}
	// A command that jumps may have no slope of its own; a rod sensor that lags is late instead. Where
	// the other is all but true to the turns, it is enough that this one is not late.
	lead := named.ahead / other.slope
	if ahead := named.sure && lead > 0; !ahead && (named.sure || other.share > pretenderTrue) {
		return Finding{}, false
	}
	ratio, t := worseBy(named.left, other.left)
	if ratio < pretenderRatio || t < pretenderSure {
		return Finding{}, false
	}
	return v.finding(SwappedColumns, Stop, trace.RodPosition, join(strokeParams, forceParams, []plant.Param{plant.OuterDelay}),
		fmt.Sprintf("rod position and position command bear each other's names: where the motor changes its speed, turns and pressures leave %.0f %% of the one called rod position unexplained, %.0f %% of the other (%.1f times; by chance less often than once in 1000).",
			100*named.share, 100*other.share, ratio),
		"Exchange the two columns in the machine file.").exchanged(trace.PositionCommand), true
}

// worseBy compares what two channels leave unexplained: the ratio in the geometric mean over the
// parts of the log, and its Student's t.
func worseBy(a, b [pretenderBlocks]float64) (ratio, t float64) {
	var sum, square float64
	for i := range a {
		l := math.Log(math.Max(a[i], 1e-9) / math.Max(b[i], 1e-9))
		sum, square = sum+l, square+l*l
	}
	const n = pretenderBlocks
	m := sum / n
	deviation := math.Sqrt(math.Max(square/n-m*m, 0) * n / (n - 1))
	return math.Exp(m), m / math.Max(deviation/math.Sqrt(n), 1e-9)
}

// followsTurns fits the changes of a length over travelWindow, where the motor speed changes:
//
//	Δy = s·Δθ by direction + c·T - e·∫(p1-p2) - c_cap·Δp1 - c_rod·Δp2
//
// and once more with lead·Δn. Steady travel and rest tell nothing: a command is as true to the
// turns there as the rod.
func (v *view) followsTurns(c trace.Channel) (out followed, ok bool) {
	columns, pace, y := v.turnRows(c)
	if len(y) < pretenderLeast {
		return out, false
	}
	bare, err := lsq.Linear{Columns: columns, Y: y}.SolveRobust(4)
	with, err2 := lsq.Linear{Columns: append(columns, pace), Y: y}.SolveRobust(4)
	if err != nil || err2 != nil {
		return out, false
	}
	last := len(columns)
	out.slope, out.ahead = (bare.X[0]+bare.X[1])/2, with.X[last]
	out.sure = math.Abs(with.X[last]) > 2*with.StdDev(last)
	var left, all float64
	for b := range out.left {
		var l, a float64
		for i := b * len(y) / pretenderBlocks; i < (b+1)*len(y)/pretenderBlocks; i++ {
			e := y[i]
			for j, x := range columns {
				e -= bare.X[j] * x[i]
			}
			l, a = l+e*e, a+y[i]*y[i]
		}
		out.left[b] = share(l, a)
		left, all = left+l, all+a
	}
	out.share = share(left, all)
	return out, true
}

// share is the root of left over all, at most 1: what does not move is not explained.
func share(left, all float64) float64 {
	if left >= all {
		return 1
	}
	return math.Sqrt(left / all)
}

// turnRows gathers the windows of followsTurns: the columns, the change of speed and the
// length's own change.
func (v *view) turnRows(c trace.Channel) (columns [][]float64, pace, y []float64) {
	theta, n, length := v.frame[trace.MotorPosition], v.motorSpeed(), v.frame[c]
	p1, p2 := v.frame[trace.CapPressure], v.frame[trace.RodPressure]
	w := max(2, int(math.Round(travelWindow/v.dt)))
	var t table
	for k := 0; k+w+1 < len(theta); k += w/2 + 1 {
		whole := true
		for j := k; j <= k+w; j++ {
			whole = whole && v.good[j]
		}
		if !whole || math.Abs(n[k+w]-n[k]) < 0.05*v.motion.TopSpeed {
			continue
		}
		turned := theta[k+w] - theta[k]
		row := []float64{math.Max(turned, 0), math.Min(turned, 0), 1}
		if p1 != nil && p2 != nil {
			across := 0.0
			for j := k; j < k+w; j++ {
				across += (p1[j] - p2[j]) * v.dt
			}
			row = append(row, across, p1[k+w]-p1[k], p2[k+w]-p2[k])
		}
		t.add(row...)
		pace, y = append(pace, n[k+w]-n[k]), append(y, length[k+w]-length[k])
	}
	return t.columns, pace, y
}
