package quality

import (
	"fmt"
	"math"

	"eha/strokewise/ident/lsq"
	"eha/strokewise/ident/motion"
	"eha/strokewise/ident/plant"
	"eha/strokewise/ident/trace"
)

// How slip is followed along a log: over pieces of so many seconds in which the motor
// turns slower than a share of its top speed, so that the stroke per turn and its changes
// along the stroke count for little beside the slip.
const (
	driftPiece  = 0.4
	driftSpeed  = 0.06
	driftLeast  = 40 // pieces
	driftBlocks = 10 // of the log, left out in turn for the interval
	// driftPressure (Pa) is the mean pressure across the pump below which slip itself is hardly known.
	driftPressure = 10e5
	driftWorth    = 0.1 // share from which a drift harms: slip is known to a tenth as a rule
)

// slipRow is what a piece says of slip: travel, turns, the integral of the pressure across
// the pump and what the oil takes up.
type slipRow struct {
	at, travel, turned, across, oil, place float64
	rest                                   bool
}

// slipDrift follows slip along the log, in holds and slow strokes with one side under
// pressure, by
//
//	Δx = (s + s1·x + s2·x²)·Δθ - (e + δ·τ + g·(|p| - p̄))·∫p - (c0 + c1·x)·Δp
//
// with τ the time from -1/2 to 1/2 over the pieces, p the pressure across the pump and g what a
// leak does that does not go with pressure. Pieces at rest have a slip of their own where
// there are both, since a valve may hold the load there. The side with more pieces is taken.
func (v *view) slipDrift(affects []plant.Param) []Finding {
	if !v.has(trace.MotorPosition, trace.RodPosition, trace.CapPressure, trace.RodPressure) || v.wiring.faults&^current != 0 {
		return nil
	}
	rows := v.slipRows(1)
	if other := v.slipRows(-1); len(other) > len(rows) {
		rows = other
	}
	if len(rows) < driftLeast || meanAcross(rows) < driftPressure {
		return nil
	}
	drift, half, ok := slipTrend(rows)
	if !ok || math.Abs(drift)-half < driftWorth {
		return nil
	}
	way := "rises"
	if drift < 0 {
		way = "falls"
	}
	f := v.finding(WarmingUp, Harm, trace.NoChannel, affects,
		fmt.Sprintf("slip drifts along the log: it %s by %.0f ± %.0f %% of its mean from the first to the last of %d holds and slow strokes under pressure, as warming oil makes it.", way, 100*math.Abs(drift), 100*half, len(rows)),
		"Run the machine warm and log again, or take slip as a mean. If it keeps rising on a warm machine, a leak grows.")
	f.From, f.To = rows[0].at, rows[len(rows)-1].at
	return []Finding{f}
}

// slipRows gathers the pieces in which the cap side (1) or the rod side (-1) is under pressure.
func (v *view) slipRows(side float64) []slipRow {
	x, p1, p2, n := v.frame[trace.RodPosition], v.frame[trace.CapPressure], v.frame[trace.RodPressure], v.motorSpeed()
	w := max(4, int(math.Round(driftPiece/v.dt)))
	fast := driftSpeed * v.motion.TopSpeed
	var rows []slipRow
	for k := 1; k+w+1 < len(x); {
		fits := true
		var across, turned float64
		still := true
		for j := k - 1; j <= k+w && fits; j++ {
			p := side * (p1[j] - p2[j])
			fits = v.good[j] && math.Abs(n[j]) < fast && p > clearlyHigh
			still = still && v.kind[j] == motion.Rest
			if j >= k && j < k+w {
				turned += n[j] * v.dt
				across += side * (p + side*(p1[j+1]-p2[j+1])) / 2 * v.dt
			}
		}
		if !fits {
			k++
			continue
		}
		high := p1
		if side < 0 {
			high = p2
		}
		rows = append(rows, slipRow{v.t.TimeAt(k * v.step), level(x, k+w) - level(x, k), turned, across, level(high, k+w) - level(high, k), (x[k] + x[k+w]) / 2, still})
		k += w
	}
	return rows
}

// meanAcross is the mean pressure across the pump (Pa) over the rows.
func meanAcross(rows []slipRow) float64 {
	var sum float64
	for _, r := range rows {
		sum += math.Abs(r.across) / driftPiece
	}
	return sum / float64(len(rows))
}

// slipTrend returns by what share of its mean slip changes from the first to the last of
// the rows, with the half-width of its 95 % interval from leaving out parts of the log.
func slipTrend(rows []slipRow) (drift, half float64, ok bool) {
	if drift, ok = fitTrend(rows); !ok {
		return 0, 0, false
	}
	var values []float64
	for b := range driftBlocks {
		from, to := b*len(rows)/driftBlocks, (b+1)*len(rows)/driftBlocks
		less := append(append(make([]slipRow, 0, len(rows)), rows[:from]...), rows[to:]...)
		d, ok := fitTrend(less)
		if !ok {
			return 0, 0, false
		}
		values = append(values, d)
	}
	// 2.26 is Student's t for nine degrees of freedom.
	return drift, 2.26 * (driftBlocks - 1) / math.Sqrt(driftBlocks) * deviation(values), true
}

func fitTrend(rows []slipRow) (float64, bool) {
	first, last := rows[0].at, rows[len(rows)-1].at
	rests := 0
	var level float64
	for _, r := range rows {
		if r.rest {
			rests++
		}
		level += math.Abs(r.across) / float64(len(rows))
	}
	var t table
	var y []float64
	both := rests >= driftLeast/4 && len(rows)-rests >= driftLeast/4
	for _, r := range rows {
		y = append(y, r.travel)
		row := []float64{-r.across, -r.across * ((r.at-first)/(last-first) - 0.5), -r.across * (math.Abs(r.across)/level - 1),
			r.turned, r.turned * r.place, r.turned * r.place * r.place, r.oil, r.oil * r.place}
		if both {
			own := 0.0
			if r.rest {
				own = r.across
			}
			row = append(row, own)
		}
		t.add(row...)
	}
	fit, err := lsq.Linear{Columns: t.columns, Y: y}.SolveRobust(6)
	if err != nil || fit.X[0] <= 0 {
		return 0, false
	}
	slip := fit.X[0]
	if both {
		slip -= fit.X[8] * float64(rests) / float64(len(rows))
	}
	return fit.X[1] / slip, slip > 0
}
