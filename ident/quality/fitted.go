package quality

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/stat"

	"eha/strokewise/ident/plant"
	"eha/strokewise/ident/trace"
)

// MassDisagreement compares the mass found (kg) with the one that the machine file
// states (kg, 0 for none). The second result is true, with a finding, where the stated
// mass lies outside the interval widened by a tenth of the mass found: what the
// machine file calls mass may leave out oil and rod.
func MassDisagreement(found plant.Estimate, stated float64) (Finding, bool) {
	if stated <= 0 || (found.Status != plant.Identified && found.Status != plant.Weak) {
		return Finding{}, false
	}
	slack := 0.1 * found.Value
	if stated >= found.Low-slack && stated <= found.High+slack {
		return Finding{}, false
	}
	return Finding{ID: MassDisagrees, Severity: Harm, Channel: trace.NoChannel, Affects: []plant.Param{plant.MovingMass, plant.HydraulicFrequency},
		Text: fmt.Sprintf("the logs give a moving mass of %.4g kg (%.4g to %.4g), the machine file says %.4g kg.", found.Value, found.Low, found.High, stated),
		Do:   "Check the mass stated, the load that was carried, and bore and rod: forces scale with the areas."}, true
}

// SlowSpeedLoop judges the drive's bandwidth (rad/s) against the crossover (rad/s)
// that the outer loop is to have. Under three times it the drive's lag takes some 20
// degrees and more of phase at the crossover (2·ζ/3 with ζ = 0.5 to 0.8).
func SlowSpeedLoop(bandwidth plant.Estimate, crossover float64) (Finding, bool) {
	if !bandwidth.Known() || crossover <= 0 || bandwidth.Value >= 3*crossover {
		return Finding{}, false
	}
	return Finding{ID: SpeedLoopSlow, Severity: Harm, Channel: trace.SpeedCommand, Affects: driveParams,
		Text: fmt.Sprintf("the drive's speed loop has %.1f Hz, under three times the %.1f Hz of the outer loop's crossover.", bandwidth.Value/(2*math.Pi), crossover/(2*math.Pi)),
		Do:   "Make the speed loop faster in the drive, or be content with a slower outer loop."}, true
}

// scaleSpan (s) is the time over which acrossLogs compares travel with turns.
const scaleSpan = 0.2

// creeping is the share of the largest motor speed of all logs below which a rod may only
// creep: under load slip takes some hundredths of it, however the motor swings about its place.
const creeping = 0.05

// acrossLogs compares logs with each other: the same machine must show the same
// stroke per turn as in the log with the longest travel.
func acrossLogs(views []*view) []Finding {
	var first *view
	top := 0.0
	for _, v := range views {
		top = max(top, v.motion.TopSpeed)
		if v.motion.StrokePerTurn > 0 && (first == nil || v.travel() > first.travel()) {
			first = v
		}
	}
	if first == nil {
		return nil
	}
	least, most := first.motion.StrokePerTurn, first.motion.StrokePerTurn
	if low, high := first.travelPerTurn(creeping * top); !math.IsInf(high, 1) {
		least, most = math.Min(least, low), math.Max(most, high)
	}
	var found []Finding
	for _, v := range views {
		if v == first || v.motion.StrokePerTurn == 0 {
			continue
		}
		// A load that changes sign moves it by the area ratio, up to 2; more is another
		// scale, where it holds for all that the rod travels: pressing takes turns for little
		// travel, and slip takes a good part of slow ones.
		low, high := v.travelPerTurn(creeping * top)
		r := v.motion.StrokePerTurn / first.motion.StrokePerTurn
		if low > 2.3*most || high < least/2.3 {
			found = append(found, v.finding(UnitDoubtful, Stop, trace.RodPosition, strokeParams,
				fmt.Sprintf("the rod travels %.3g times as far per turn as in %s.", r, first.t.Name()), "Check the units of both logs, and that they are of the same machine."))
		}
	}
	return found
}

// travel is the distance (m) between the ends that the rod reached.
func (v *view) travel() float64 {
	low, high := v.bounds(trace.RodPosition)
	return high - low
}

// travelPerTurn returns the ratios of rod travel to motor angle (m/rad) below and
// above which a twentieth of the travel lies, over stretches of scaleSpan; 0 and +Inf
// where the rod's steps do not stand out of the noise. Of a motor slower than slowest
// (rad/s) nothing counts: the rod creeps then, whatever the motor does.
func (v *view) travelPerTurn(slowest float64) (low, high float64) {
	x, theta := v.frame[trace.RodPosition], v.frame[trace.MotorPosition]
	reach := max(1, int(math.Round(scaleSpan/v.dt)))
	y, _ := v.samples(trace.RodPosition)
	least := max(10*v.quickNoise(y), 0.01*v.travel())
	var ratio, weight []float64
	for k := 0; k+reach < min(len(x), len(theta)); k += reach {
		dx, turned := math.Abs(x[k+reach]-x[k]), math.Abs(theta[k+reach]-theta[k])
		if v.good[k] && dx > least && turned > slowest*scaleSpan {
			ratio, weight = append(ratio, dx/turned), append(weight, dx)
		}
	}
	if len(ratio) == 0 {
		return 0, math.Inf(1)
	}
	stat.SortWeighted(ratio, weight)
	return stat.Quantile(0.05, stat.Empirical, ratio, weight), stat.Quantile(0.95, stat.Empirical, ratio, weight)
}
