package balance

import (
	"math"
	"sort"

	"eha/strokewise/ident/plant"
	"eha/strokewise/ident/trace"
	"eha/strokewise/ident/window"
)

// record is one log made ready: force, position, and what follows the motion
// without the transducer's noise.
type record struct {
	force    []float64 // N
	position []float64 // m
	angle    []float64 // rad, of the motor; nil without an encoder
	speed    []float64 // m/s, smoothed, for choosing windows only
	period   float64   // s
	mask     *window.Mask
}

// speedHalf is the half-width (s) of the differences that tell moving from resting.
const speedHalf = 0.010

func newRecord(t *trace.Trace, force []float64, exclude []trace.Span) *record {
	x, ok := t.Samples(trace.RodPosition)
	if !ok || force == nil {
		return nil
	}
	r := &record{force: force, position: x, period: t.Period(), mask: window.NewMask(t)}
	r.angle, _ = t.Samples(trace.MotorPosition)
	r.speed = window.Rate(x, r.period, math.Max(speedHalf, 2*r.period))
	for _, e := range exclude {
		r.mask.Mark(trace.Span{From: e.From, To: r.released(e)}, 0)
	}
	return r
}

// released returns the sample at which the rod is back where the span found it: a
// work piece that was pressed pushes until the rod has left it.
func (r *record) released(pressed trace.Span) int {
	from, to := max(pressed.From, 0), min(pressed.To, len(r.position))
	if to <= from {
		return to
	}
	start, last := r.position[from], r.position[to-1]
	for to < len(r.position) && (r.position[to]-start)*(last-start) > 0 {
		to++
	}
	return to
}

// motorSpeed returns the motor speed (rad/s), smoothed as the rod's.
func (r *record) motorSpeed() []float64 {
	return window.Rate(r.angle, r.period, math.Max(speedHalf, 2*r.period))
}

// hydraulic returns the record of a log with the force from its pressures, nil
// where it lacks them.
func hydraulic(l Log, area plant.PerChamber[float64]) *record {
	p1, ok1 := l.Trace.Samples(trace.CapPressure)
	p2, ok2 := l.Trace.Samples(trace.RodPressure)
	if !ok1 || !ok2 || area.Cap <= 0 || area.Rod <= 0 {
		return nil
	}
	force := make([]float64, len(p1))
	for i := range force {
		force[i] = area.Cap*p1[i] - area.Rod*p2[i]
	}
	return newRecord(l.Trace, force, l.Exclude)
}

// survey is all records together with the ranges that they cover.
type survey struct {
	records []*record
	full    float64 // m/s, largest rod speed
	center  float64 // m, middle of the positions in motion
	reach   float64 // m, half their range
	stride  float64 // s between windows
	low     float64 // m/s, from which friction is a straight line over speed
	terms   []term  // fitted beside mass and friction
	// flowSigma is the standard deviation of the flow term's coefficient before it is fitted.
	flowSigma float64
}

const (
	strideLeast = 0.010
	// mostWindows bounds the work on long logs: windows overlap, so that their
	// number beyond a few per window width adds little.
	mostWindows = 20000
)

func newSurvey(records []*record) *survey {
	s := &survey{records: records}
	var fast []float64
	low, high, total := math.Inf(1), math.Inf(-1), 0.0
	for _, r := range records {
		total += float64(len(r.speed)) * r.period
		step := max(int(strideLeast/r.period), 1)
		for i := 0; i < len(r.speed); i += step {
			if r.mask.Bad(i) {
				continue
			}
			fast = append(fast, math.Abs(r.speed[i]))
			low, high = math.Min(low, r.position[i]), math.Max(high, r.position[i])
		}
	}
	if len(fast) == 0 {
		return s
	}
	sort.Float64s(fast)
	s.full = fast[int(0.998*float64(len(fast)-1))]
	s.center, s.reach = (low+high)/2, math.Max((high-low)/2, 1e-9)
	s.low = lineLow * s.full
	s.terms = []term{slope, bend}
	s.stride = math.Max(strideLeast, total/mostWindows)
	return s
}
