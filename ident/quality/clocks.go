package quality

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"eha/strokewise/ident/plant"
	"eha/strokewise/ident/trace"
)

// findClocks finds by how much every channel comes behind the encoder, where the log can
// tell. Current or torque tells the pressures' clocks, and then the pressures those
// of rod and load cell.
func (v *view) findClocks() clocks {
	c := clocks{of: map[trace.Channel]lag{}, why: map[trace.Channel]string{}}
	if !v.has(trace.MotorPosition) {
		for _, ch := range v.t.Channels() {
			c.why[ch] = "no motor position is logged to set it against"
		}
		return c
	}
	v.analogueClocks(&c)
	v.motorClock(&c)
	v.cellClock(&c)
	if v.has(trace.MotorSpeed) {
		if lags, _, ok := v.fitLags(speedRelation(), nil); ok {
			c.of[trace.MotorSpeed] = v.told(&c, trace.MotorSpeed, v.widened(lags[0], speedDoubt))
		}
	}
	for _, ch := range v.t.Channels() {
		if !c.of[ch].told() && c.why[ch] == "" {
			c.why[ch] = untold(ch)
		}
	}
	return c
}

// untold says why the clock of a channel cannot be told as a rule.
func untold(c trace.Channel) string {
	switch c {
	case trace.MotorPosition:
		return "the clock that the others are set against"
	case trace.SpeedCommand:
		return "the drive's own lag and dead time look the same"
	case trace.PositionCommand, trace.ForceCommand:
		return "the loop's own lag looks the same"
	case trace.OilTemperature:
		return "it changes too slowly"
	}
	return "too little changes of speed under way in this log"
}

// What each balance leaves out, found on simulated machines: by what factor the scatter
// over the log is too small, and what is left (s) where it is nothing.
var (
	flowDoubt   = doubt{1.5, 0.25e-3}
	forceDoubt  = doubt{2, 0.5e-3}
	apartDoubt  = doubt{3, 1e-3} // friction and valves go with one pressure more than with the other
	torqueDoubt = doubt{2, 0.2e-3}
	cellDoubt   = doubt{1.3, 0.1e-3}
	speedDoubt  = doubt{1.3, 0}
)

type doubt struct{ factor, floor float64 }

// widened adds to an interval what the balance leaves out, and for interpolation some
// parts of a sample and of the lag.
func (v *view) widened(l lag, d doubt) lag {
	return lag{l.value, d.factor*l.width + d.floor + 0.03*v.t.Period() + 0.04*math.Abs(l.value)}
}

// motorClock uses the balance of torques.
func (v *view) motorClock(c *clocks) {
	motor := trace.MotorCurrent
	if !v.has(motor) {
		motor = trace.MotorTorque
	}
	switch {
	case !v.has(motor):
	case !v.has(trace.CapPressure, trace.RodPressure):
		c.why[motor] = "without both pressures their part of the torque looks like a lag"
	default:
		if lags, fit, ok := v.fitLags(torqueRelation(motor), c.known()); ok {
			c.perPressure = lag{fit.X[1], 2 * fit.StdDev(1)}
			c.of[motor] = v.told(c, motor, v.widened(lags[0], torqueDoubt))
		}
	}
}

// known are the lags that are told of pressures and rod position.
func (c *clocks) known() map[trace.Channel]float64 {
	known := map[trace.Channel]float64{}
	for _, ch := range []trace.Channel{trace.CapPressure, trace.RodPressure, trace.RodPosition} {
		if l := c.of[ch]; l.told() {
			known[ch] = l.value
		}
	}
	return known
}

// usualSensor (s) is the lag that pressure sensors and their inputs rarely exceed (common practice, no source).
const usualSensor = 0.002

// told passes a lag that is known to leastTold on, and drops others with the reason.
func (v *view) told(c *clocks, ch trace.Channel, l lag) lag {
	if l.width > leastTold || math.IsNaN(l.value) {
		c.why[ch] = "it changes too little for it in this log"
		return lag{0, math.Inf(1)}
	}
	return l
}

// leastTold (s) is the half-width beyond which a lag is no answer.
const leastTold = 0.004

// analogueClocks sets the pressures against the rod position by the balance of forces, and
// then all three against the encoder by the flow balance. Without areas the pressures are
// taken to be on the rod position's clock, and nothing is said of them.
func (v *view) analogueClocks(c *clocks) {
	if !v.has(trace.RodPosition) {
		return
	}
	if !v.has(trace.CapPressure, trace.RodPressure) {
		c.why[trace.RodPosition] = "without pressures what the oil gives looks like a lag"
		if lags, _, ok := v.fitLags(flowRelation(false), nil); ok {
			c.rough = lags[0]
		}
		return
	}
	if v.r.Resolution[trace.RodPosition] > coarseRod*(1+1e-9) {
		for _, ch := range []trace.Channel{trace.RodPosition, trace.CapPressure, trace.RodPressure} {
			c.why[ch] = "the rod position comes in too coarse steps"
		}
		return
	}
	areaCap, areaRod := v.areas()
	between := v.behindRod(areaCap, areaRod)
	known := map[trace.Channel]float64{trace.CapPressure: between[0].value, trace.RodPressure: between[1].value}
	lags, _, ok := v.fitLags(flowRelation(true), known)
	if !ok {
		return
	}
	if v.refuted(between, lags[0]) {
		between[0].width, between[1].width = math.Inf(1), math.Inf(1)
	}
	rod := v.widened(lags[0], flowDoubt)
	c.of[trace.RodPosition] = v.told(c, trace.RodPosition, rod)
	for i, p := range []trace.Channel{trace.CapPressure, trace.RodPressure} {
		if areaRod <= 0 {
			c.why[p] = "bore and rod are not stated in the machine file"
			continue
		}
		c.of[p] = v.told(c, p, lag{rod.value + between[i].value, math.Hypot(rod.width, between[i].width)})
	}
}

// lagsApart (s) is by how much the pressures' lags must differ to be taken as two, and carriesAlone by
// what factor the changes of one must outweigh the other's in the force.
const (
	lagsApart    = 0.003
	carriesAlone = 2.0
)

// behindRod returns the lags of both pressures behind the rod position by the balance of
// forces: one for both, unless they are told to differ. Where one of them carries alone, the
// other's changes say nothing, and its lag is left untold when the first is late.
func (v *view) behindRod(areaCap, areaRod float64) [2]lag {
	untold := lag{0, math.Inf(1)}
	if areaRod <= 0 {
		return [2]lag{untold, untold}
	}
	both := untold
	if lags, _, ok := v.fitLags(forceRelation(areaCap, areaRod), nil); ok {
		both = v.widened(lags[0], forceDoubt)
	}
	lags, _, ok := v.fitLags(forceRelationApart(areaCap, areaRod), nil)
	if !ok {
		return [2]lag{both, both}
	}
	first, second := v.widened(lags[0], apartDoubt), v.widened(lags[1], apartDoubt)
	if first.width <= usualSensor && second.width <= usualSensor && math.Abs(first.value-second.value) > math.Max(lagsApart, math.Hypot(first.width, second.width)) {
		return [2]lag{first, second}
	}
	// The lag of both is that of the side whose changes make the force.
	share := areaCap * deviation(v.change(trace.CapPressure)) / (areaRod * deviation(v.change(trace.RodPressure)))
	switch {
	case math.Abs(both.value) < usualSensor+both.width:
	case share > carriesAlone:
		return [2]lag{both, untold}
	case share < 1/carriesAlone:
		return [2]lag{untold, both}
	}
	return [2]lag{both, both}
}

// refuted reports whether the balance of flow or of torque is surely fitted worse with the
// pressures' lags taken out, where these are beyond a usual sensor's: friction that depends
// on where and how long the rod has moved looks like a lag in the balance of forces alone.
func (v *view) refuted(between [2]lag, rod lag) bool {
	behindRod, behindEncoder := map[trace.Channel]float64{}, map[trace.Channel]float64{}
	most := 0.0
	for i, p := range []trace.Channel{trace.CapPressure, trace.RodPressure} {
		if l := between[i]; !math.IsInf(l.width, 1) {
			behindRod[p], behindEncoder[p] = l.value, rod.value+l.value
			most = math.Max(most, math.Abs(l.value)-l.width)
		}
	}
	if most <= usualLag {
		return false
	}
	if mean, width, ok := v.gain(flowRelation(true), behindRod); ok && mean < -width {
		return true
	}
	for _, motor := range []trace.Channel{trace.MotorCurrent, trace.MotorTorque} {
		if !v.has(motor) {
			continue
		}
		if mean, width, ok := v.gain(torqueRelation(motor), behindEncoder); ok && mean < -width {
			return true
		}
	}
	return false
}

// cellClock uses the balance of forces; the pressures must not be skewed among themselves.
func (v *view) cellClock(c *clocks) {
	if !v.has(trace.Force) {
		return
	}
	known := map[trace.Channel]float64{}
	own := 0.0
	for _, p := range []trace.Channel{trace.CapPressure, trace.RodPressure} {
		if l := c.of[p]; l.told() {
			known[p] = l.value
			own = math.Max(own, l.width)
		}
	}
	if !v.has(trace.CapPressure, trace.RodPressure) {
		c.why[trace.Force] = "it is set against both pressures"
		return
	}
	if len(known) == 0 {
		own = usualSensor // the pressures' own clocks are not known
	}
	if lags, _, ok := v.fitLags(cellRelation(), known); ok {
		l := v.widened(lags[0], cellDoubt)
		l.width += own
		c.of[trace.Force] = v.told(c, trace.Force, l)
	}
}

// The lags that a sensor or an input with its filter explains (s): up to 5 ms as a rule, and
// never before the encoder (common practice, no source). Beyond 12 ms no filter for a
// control loop is left as explanation.
const (
	leastLag = -0.0007
	usualLag = 0.005
	mostLag  = 0.012
)

// lags judges the clocks. A sensor's own delay cannot be told from a skewed clock; what no
// sensor does is reported as harm.
func (v *view) lags() []Finding {
	var found []Finding
	for _, c := range []struct {
		channel trace.Channel
		affects []plant.Param
		harms   bool
	}{
		{trace.RodPosition, waveParams, true}, {trace.CapPressure, waveParams, true}, {trace.RodPressure, waveParams, true},
		{trace.Force, []plant.Param{plant.ContactStiffness}, true}, {trace.MotorSpeed, nil, false}, {trace.MotorCurrent, nil, false}, {trace.MotorTorque, nil, false},
	} {
		l := v.clocks.of[c.channel]
		if c.channel == trace.RodPosition && !l.told() && v.clocks.rough.value+v.clocks.rough.width < 2*leastLag {
			l = v.clocks.rough // what the oil gives makes the rod late only
		}
		if f, ok := v.lagFinding(c.channel, l, c.affects); ok {
			if !c.harms {
				f.Severity = Note
			}
			found = append(found, f)
		}
	}
	return v.oneCause(found)
}

// oneCause puts skews that are one into one finding. What rod, pressures, current and reported
// speed have in common is the encoder's; what the analogue inputs alone have is
// the clock of their recorder.
func (v *view) oneCause(found []Finding) []Finding {
	if len(found) < 2 {
		return found
	}
	low, high := math.Inf(-1), math.Inf(1)
	skewed := map[trace.Channel]bool{}
	var words []string
	for _, f := range found {
		l := v.clocks.of[f.Channel]
		low, high = math.Max(low, l.value-l.width), math.Min(high, l.value+l.width)
		skewed[f.Channel] = true
		words = append(words, f.Channel.Words())
	}
	if low > high {
		return found
	}
	drives := skewed[trace.MotorCurrent] || skewed[trace.MotorTorque] || skewed[trace.MotorSpeed]
	for _, c := range v.t.Channels() {
		if l := v.clocks.of[c]; l.told() && !skewed[c] && (l.value+l.width < low || l.value-l.width > high) {
			drives = false // it is on the encoder's clock
		}
	}
	middle := (low + high) / 2
	way := "behind"
	if middle < 0 {
		way = "before"
	}
	one := found[0]
	for _, f := range found {
		one.Severity = max(one.Severity, f.Severity)
		one.Affects = append(one.Affects, f.Affects...)
	}
	slices.Sort(one.Affects)
	one.Affects = slices.Compact(one.Affects)
	one.Text = fmt.Sprintf("%s come %.1f ± %.1f ms %s the encoder, all by the same: two clocks, not slow sensors.", strings.Join(words, ", "), 1e3*math.Abs(middle), 1e3*(high-low)/2, way)
	if drives {
		one.Channel = trace.MotorPosition
		one.Text = fmt.Sprintf("motor position is %.1f ± %.1f ms off all that it is set against (%s come %s it): its own clock is skewed.", 1e3*math.Abs(middle), 1e3*(high-low)/2, strings.Join(words, ", "), way)
		one.Affects = join(driveParams, waveParams)
	}
	return []Finding{one}
}

func (v *view) lagFinding(c trace.Channel, l lag, affects []plant.Param) (Finding, bool) {
	if !l.told() {
		return Finding{}, false
	}
	text := fmt.Sprintf("%s comes %.1f ± %.1f ms", c.Words(), 1e3*math.Abs(l.value), 1e3*l.width)
	do := "Record all channels on one clock, or join the recordings with + so that the skew is fitted."
	if v.r.Joint != nil {
		do = oneClock
	}
	l.width += v.jointDoubt()
	switch {
	case l.value+l.width < leastLag-0.2*v.t.Period():
		return v.finding(TimeSkew, Harm, c, affects, text+" before the encoder, which no sensor does.", do), true
	case l.value-l.width > mostLag:
		return v.finding(TimeSkew, Harm, c, affects, text+" behind the encoder, more than a sensor explains.", do), true
	case l.value-l.width > usualLag:
		return v.finding(TimeSkew, Note, c, affects, text+" behind the encoder: a slow sensor or filter, or a skewed clock.", "It is taken as the sensor's delay. "+do), true
	}
	return Finding{}, false
}

// rodSkewed reports whether the rod position is surely off the encoder's clock by more
// than a usual sensor.
func (v *view) rodSkewed() bool { return v.skewed(trace.RodPosition) }

// pressuresSkewed is rodSkewed for the pressures.
func (v *view) pressuresSkewed() bool {
	return v.skewed(trace.CapPressure) || v.skewed(trace.RodPressure)
}

func (v *view) skewed(c trace.Channel) bool {
	l := v.clocks.of[c]
	l.width += v.jointDoubt()
	return l.told() && (l.value+l.width < 2*leastLag || l.value-l.width > usualLag)
}
