package quality

import (
	"fmt"
	"math"

	"eha/strokewise/ident/plant"
	"eha/strokewise/ident/trace"
)

// vacuum is absolute vacuum as gauge pressure, with a little for the sensor (Pa).
const vacuum = -1.1e5

// belowVacuum finds pressures that cannot be, and leaves them out of all further checks.
func (v *view) belowVacuum() []Finding {
	var found []Finding
	for _, c := range []trace.Channel{trace.CapPressure, trace.RodPressure} {
		y, ok := v.samples(c)
		if !ok {
			continue
		}
		// Half a thousandth of the frames lies more than three deviations of noise low.
		low := quantile(v.frame[c], 0.001)
		if low+4*v.quickNoise(y)/math.Sqrt(float64(v.step)) >= vacuum {
			continue
		}
		id, do := PressureOffset, fmt.Sprintf("Set the zero with the cylinder relieved, or state an offset for %s, or its range as from and to; check the sign too.", c)
		if v.mirrored(c) {
			id, do = WrongSign, fmt.Sprintf("State sign = -1 for %s, or the sensor's range as from and to.", c)
		}
		f := v.finding(id, Stop, c, v.affectedBy(c), fmt.Sprintf("%s reads %s, below vacuum.", c.Words(), inUnit(c, low)), do)
		if id == WrongSign {
			f = f.turned()
		}
		found = append(found, f)
		v.drop(c)
	}
	return found
}

// mirrored tells a wrong sign from a wrong zero. A pressure that carries lies far below any zero's
// error then; the low side follows the reservoir, which a rod that goes out empties, so that its
// pressure falls along the stroke, and rises in the mirror.
func (v *view) mirrored(c trace.Channel) bool {
	f := v.frame[c]
	if -quantile(f, 0.95) < vacuum {
		return false // it is above zero as well
	}
	if quantile(f, 0.05) < -mostOffset {
		return true
	}
	n := v.motorSpeed()
	if n == nil || !v.has(trace.RodPosition) {
		return false
	}
	e, ok := v.directionStep(f, n)
	return ok && e.alongStroke > 0.2e5 && e.tStroke > 4
}

// mostOffset (Pa) is beyond any zero that is off: an eighth of the range of a usual sensor
// (common practice, no source).
const mostOffset = 20e5

// pressureUnits judges pressures by their size: twice the machine's own limit is absurd, and
// where none is stated 350 bar is above a gear pump's peaks (common practice, no source).
func (v *view) pressureUnits() []Finding {
	limit := 350e5
	if w := math.Max(v.m.Limits.WorkingPressure, v.m.Limits.Relief); w > 0 {
		limit = 2 * w
	}
	var found []Finding
	for _, c := range []trace.Channel{trace.CapPressure, trace.RodPressure} {
		if high := quantile(v.frame[c], 0.999); high > limit {
			found = append(found, v.finding(UnitDoubtful, Stop, c, v.affectedBy(c),
				fmt.Sprintf("%s reads %s, more than such a machine reaches.", c.Words(), inUnit(c, high)),
				fmt.Sprintf("State the unit of %s in the machine file (psi read as bar is 14.5 times too much).", c)))
		}
	}
	return found
}

// pressureLevels judges the low side, which stands at the reservoir's pressure.
func (v *view) pressureLevels() []Finding {
	p1, p2 := v.frame[trace.CapPressure], v.frame[trace.RodPressure]
	if p1 == nil || p2 == nil {
		return nil
	}
	affects := []plant.Param{plant.AxialLoad, plant.Slip}
	var low [2][]float64
	lower := make([]float64, len(p1))
	for k := range p1 {
		lower[k] = math.Min(p1[k], p2[k])
		if p1[k] < p2[k]-clearlyHigh {
			low[0] = append(low[0], p1[k])
		} else if p2[k] < p1[k]-clearlyHigh {
			low[1] = append(low[1], p2[k])
		}
	}
	// Below the preload a sensor's offset and the reservoir's own fall explain it.
	if l, pre := median(lower), v.m.Reservoir.Preload; pre > 0 && l > 6*pre && l > pre+5e5 {
		return []Finding{v.finding(UnitDoubtful, Stop, trace.CapPressure, join(affects, forceParams, oilParams),
			fmt.Sprintf("the lower of both pressures reads %s at the median, the reservoir's preload is %s.", inUnit(trace.CapPressure, l), inUnit(trace.CapPressure, pre)),
			"Check unit and scaling of both pressures: psi read as bar is 14.5 times too much. Check the preload too.")}
	}
	var found []Finding
	var level [2]float64
	for i, c := range []trace.Channel{trace.CapPressure, trace.RodPressure} {
		if float64(len(low[i]))*v.dt < 1 {
			continue
		}
		level[i] = median(low[i])
		// The low side may be under suction by some tenths of a bar while make-up oil is drawn.
		if level[i] < -0.5e5 {
			f := v.finding(PressureOffset, Harm, c, affects,
				fmt.Sprintf("%s reads %s at the median while it is the low side: the zero is off, or a gauge sensor is stated to read absolute.", c.Words(), inUnit(c, level[i])),
				"Set the zero with the cylinder relieved, or state an offset.")
			f.Cure = Cure{Kind: Reference, Channel: c}
			found = append(found, f)
		}
		if pre := v.m.Reservoir.Preload; pre > 0 && math.Abs(level[i]-pre) > math.Max(2e5, 0.6*pre) {
			found = append(found, v.finding(PressureOffset, Harm, c, affects,
				fmt.Sprintf("%s reads %s while it is the low side, the reservoir's preload is %s.", c.Words(), inUnit(c, level[i]), inUnit(c, pre)),
				"Check the preload, and the sensor's zero with the cylinder relieved."))
		}
	}
	if level[0] != 0 && level[1] != 0 && math.Abs(level[0]-level[1]) > 2e5 {
		found = append(found, v.finding(PressureOffset, Harm, trace.CapPressure, affects,
			fmt.Sprintf("the two sensors disagree about the reservoir's pressure: %s against %s.", inUnit(trace.CapPressure, level[0]), inUnit(trace.RodPressure, level[1])),
			"Set both zeros with the cylinder relieved."))
	}
	return found
}
