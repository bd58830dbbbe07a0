package quality

import (
	"math"

	"eha/strokewise/ident/lsq"
	"eha/strokewise/ident/trace"
)

// travelWindow (s) is over what travel and turns are compared, travelLeast how many windows a side
// must carry in, and travelBlocks the parts of the log that are left out in turn for the interval.
const (
	travelWindow = 0.1
	travelLeast  = 60
	travelBlocks = 8
	// travelSure is the half-width, as a share, beyond which a stroke per turn says nothing.
	travelSure = 0.03
)

// perTurnByLoad returns the stroke per turn (m/rad) while the first or the second
// pressure column carries the load, and the half-widths of their 95 % intervals, from all windows
// with one side under pressure, steady or not:
//
//	Δx = s_h·Δθ - e·∫(p1-p2) - Σ c_i·Δp_i
//
// with e the slip and c what the oil takes up. A side that hardly carries gives 0.
func (v *view) perTurnByLoad() (stroke, half [2]float64) {
	if !v.has(trace.MotorPosition, trace.RodPosition, trace.CapPressure, trace.RodPressure) {
		return stroke, half
	}
	x, theta, p1, p2 := v.frame[trace.RodPosition], v.frame[trace.MotorPosition], v.frame[trace.CapPressure], v.frame[trace.RodPressure]
	w := max(2, int(math.Round(travelWindow/v.dt)))
	var rows [][]float64 // Δx first, then the columns
	var count [2]int
	for k := 0; k+w < len(x); {
		across, side, ok := 0.0, 0.0, true
		for j := k; j <= k+w && ok; j++ {
			d := p1[j] - p2[j]
			if side == 0 {
				side = math.Copysign(1, d)
			}
			ok = v.good[j] && d*side > clearlyHigh
			across += d * v.dt
		}
		if !ok {
			k++
			continue
		}
		h := 0
		if side < 0 {
			h = 1
		}
		row := []float64{x[k+w] - x[k], 0, 0, across, p1[k+w] - p1[k], p2[k+w] - p2[k]}
		row[1+h] = theta[k+w] - theta[k]
		rows, count[h] = append(rows, row), count[h]+1
		k += w
	}
	use := [2]bool{count[0] >= travelLeast, count[1] >= travelLeast}
	stroke, ok := travelFit(rows, use)
	if !ok {
		return [2]float64{}, half
	}
	var sums, squares [2]float64
	for b := range travelBlocks {
		from, to := b*len(rows)/travelBlocks, (b+1)*len(rows)/travelBlocks
		less, ok := travelFit(append(append(make([][]float64, 0, len(rows)), rows[:from]...), rows[to:]...), use)
		if !ok {
			return [2]float64{}, half
		}
		for h, s := range less {
			sums[h], squares[h] = sums[h]+s/travelBlocks, squares[h]+s*s/travelBlocks
		}
	}
	for h := range half {
		// 2.36 is Student's t for seven degrees of freedom.
		half[h] = 2.36 * math.Sqrt((travelBlocks-1)*math.Max(squares[h]-sums[h]*sums[h], 0))
		if half[h] > travelSure*math.Abs(stroke[h]) {
			stroke[h] = 0
		}
		stroke[h] = math.Abs(stroke[h])
	}
	return stroke, half
}

// travelFit solves for the strokes per turn of the sides in use.
func travelFit(rows [][]float64, use [2]bool) (stroke [2]float64, ok bool) {
	var t table
	var y []float64
	for _, r := range rows {
		if r[1] != 0 && !use[0] || r[2] != 0 && !use[1] {
			continue
		}
		row := r[3:]
		for h := range use {
			if use[h] {
				row = append([]float64{r[1+h]}, row...)
			}
		}
		y = append(y, r[0])
		t.add(row...)
	}
	if len(y) < travelLeast {
		return stroke, false
	}
	fit, err := lsq.Linear{Columns: t.columns, Y: y}.SolveRobust(4)
	if err != nil {
		return stroke, false
	}
	switch { // the second side's column stands before the first's
	case use[0] && use[1]:
		stroke = [2]float64{fit.X[1], fit.X[0]}
	case use[0]:
		stroke[0] = fit.X[0]
	default:
		stroke[1] = fit.X[0]
	}
	return stroke, true
}
