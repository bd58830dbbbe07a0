package quality

import (
	"fmt"
	"math"

	"eha/strokewise/ident/motion"
	"eha/strokewise/ident/trace"
)

// standardCylinders are bore and rod (mm) of the usual series, after
// ISO 3320 (pairings from memory, areas computed).
var standardCylinders = [][2]float64{
	{25, 12}, {25, 14}, {25, 18}, {32, 14}, {32, 18}, {32, 22}, {40, 18}, {40, 22}, {40, 25}, {40, 28}, {50, 22}, {50, 28}, {50, 32}, {50, 36},
	{63, 28}, {63, 36}, {63, 40}, {63, 45}, {80, 36}, {80, 40}, {80, 45}, {80, 50}, {80, 56}, {100, 45}, {100, 50}, {100, 56}, {100, 63}, {100, 70},
	{125, 56}, {125, 70}, {125, 80}, {125, 90},
}

// nameplateLimit is the share by which stroke per turn may differ from D/A: pumps of
// one type differ by some 2 % in displacement, compression and slip left in add 2 %
// (common practice, no source).
const nameplateLimit = 0.05

// slowLog is the share of the motor's nameplate speed below which a log's turns say
// little of areas and displacement: slip under load takes some hundredths of that speed.
const slowLog = 0.2

// nameplate compares stroke per turn with displacement, bore and rod, by the side
// that carries the load where pressures are logged, and the ratio of both with the
// area ratio.
func (v *view) nameplate() []Finding {
	areaCap, areaRod := v.areas()
	d := v.m.Pump.Displacement
	n := v.motorSpeed()
	if areaRod <= 0 || d <= 0 || n == nil || v.motion.StrokePerTurn == 0 {
		return nil
	}
	overCap, overRod := d/areaCap, d/areaRod
	// What was seen, and what it may be by which side carries.
	seen, may := v.motion.StrokePerTurn, []float64{overCap, overRod}
	limit := nameplateLimit
	strokes, half := v.perTurnByLoad()
	if strokes == [2]float64{} && (v.motion.TopSpeed < slowLog*v.m.Motor.MaxSpeed || v.has(trace.ForceCommand)) {
		return nil // slow approaches alone: slip is too large a part of the turns
	}
	if !v.bothWays() {
		limit = 0.15 // slip stays in
	}
	if !v.has(trace.CapPressure, trace.RodPressure) {
		limit = math.Max(limit, 0.1) // some of it may, where the load is not known
	}
	if v.has(trace.CapPressure, trace.RodPressure) {
		first, second := v.perTurnByHighSide(n)
		if strokes != [2]float64{} { // slip and the oil's give are taken out
			first, second = strokes[0], strokes[1]
			limit = nameplateLimit + math.Max(half[0]/math.Max(first, overCap), half[1]/math.Max(second, overCap))
		}
		if v.wiring.has(swapped) {
			first, second = second, first
		}
		switch {
		case first > 0 && second > 0:
			if f, ok := v.areaRatio(second/first, areaCap/areaRod); ok {
				return []Finding{f}
			}
			seen, may = first, may[:1]
		case first > 0:
			seen, may = first, may[:1]
		case second > 0:
			seen, may = second, may[1:]
		}
	}
	if len(may) == 2 && seen > overCap && seen < overRod {
		return nil // a load that changes sign
	}
	want := may[0]
	for _, w := range may {
		if math.Abs(math.Log(seen/w)) < math.Abs(math.Log(seen/want)) {
			want = w
		}
	}
	if math.Abs(math.Log(seen/want)) < limit {
		return nil
	}
	return []Finding{v.wrongTravel(seen, want, may, limit)}
}

// wrongTravel words a stroke per turn (m/rad) that is not what the nameplate gives: a
// unit where its factor explains it, else the nameplate.
func (v *view) wrongTravel(seen, want float64, may []float64, tolerance float64) Finding {
	what := fmt.Sprintf("the rod travels %.4g mm per motor turn, the nameplate's displacement, bore and rod give %.4g", seen*2*math.Pi*1e3, want*2*math.Pi*1e3)
	for _, w := range may {
		if m, ok := explain(seen/w, turnMistakes, tolerance); ok && !v.countsConfirmed() {
			// More travel per turn than there can be is turns that were counted too few.
			return v.finding(UnitDoubtful, Stop, trace.MotorPosition, strokeParams,
				fmt.Sprintf("%s: %s.", what, m.text),
				"State unit and counts_per_rev of motor_position in the machine file; a gear or a belt between encoder and pump counts too.").rescaled(w/seen, m)
		}
		if m, ok := explain(seen/w, lengthMistakes, tolerance); ok {
			return v.finding(UnitDoubtful, Stop, trace.RodPosition, strokeParams, fmt.Sprintf("%s: %s.", what, m.text), "State the unit of rod_position in the machine file.").rescaled(seen/w, m)
		}
	}
	severity := Harm
	if ratio := seen / want; ratio > 3 || ratio < 1.0/3 {
		severity = Stop
	}
	return v.finding(Nameplate, severity, trace.NoChannel, join(strokeParams, forceParams, oilParams),
		fmt.Sprintf("%s (%+.0f %%).", what, 100*(seen/want-1)),
		fmt.Sprintf("Check displacement, bore and rod in the machine file%s, and the units of both positions. Forces and oil figures follow from them.", nearestCylinder(v.m.Pump.Displacement/seen)))
}

// countsConfirmed reports whether the speed that the drive is given or reports is that of the
// encoder's turns: its counts per turn are right then.
func (v *view) countsConfirmed() bool {
	n := v.motorSpeed()
	for _, c := range []trace.Channel{trace.MotorSpeed, trace.SpeedCommand} {
		if y := v.frame[c]; y != nil {
			ratios := v.steadyRatios(n, midpoints(y))
			return len(ratios) >= 20 && math.Abs(median(ratios)-1) < 2*speedScaleLimit
		}
	}
	return false
}

// bothWays reports whether the log holds half a second of fairly quick steady travel each way.
func (v *view) bothWays() bool {
	var long [2]float64
	for _, s := range v.motion.Segments {
		if s.Kind == motion.Steady && math.Abs(s.MotorSpeed) > 0.15*v.motion.TopSpeed {
			way := 0
			if s.MotorSpeed < 0 {
				way = 1
			}
			long[way] += float64(s.Span.Len()) * v.t.Period()
		}
	}
	return long[0] > 0.5 && long[1] > 0.5
}

// areaRatio judges the ratio of the strokes per turn with rod and cap side under
// load against A_cap/A_rod.
func (v *view) areaRatio(seen, want float64) (Finding, bool) {
	if math.Abs(math.Log(seen/want)) < nameplateLimit {
		return Finding{}, false
	}
	best := standardCylinders[0]
	miss := math.Inf(1)
	for _, c := range standardCylinders {
		ratio := c[0] * c[0] / (c[0]*c[0] - c[1]*c[1])
		// Of equal ratios the one nearest in bore to the nameplate's.
		if m := math.Abs(math.Log(ratio/seen)) + 0.05*math.Abs(math.Log(c[0]*1e-3/v.m.Cylinder.Bore)); m < miss {
			best, miss = c, m
		}
	}
	return v.finding(Nameplate, Harm, trace.NoChannel, join(strokeParams, forceParams, oilParams),
		fmt.Sprintf("the strokes per turn with either side under load stand as %.3f to 1, bore and rod give %.3f; nearest usual pair: bore %.0f mm, rod %.0f mm.", seen, want, best[0], best[1]),
		"Check bore and rod in the machine file."), true
}

// nearestCylinder names the usual bore whose cap area is within 3 % of the area (m²).
func nearestCylinder(area float64) string {
	for _, c := range standardCylinders {
		if a := math.Pi / 4 * c[0] * c[0] * 1e-6; math.Abs(math.Log(a/area)) < 0.03 {
			return fmt.Sprintf(" (a bore of %.0f mm would fit)", c[0])
		}
	}
	return ""
}
