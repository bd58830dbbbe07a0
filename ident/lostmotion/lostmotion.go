// Package lostmotion finds the motor turns lost at a reversal: those that take
// the oil from one side's pressure to the other's, and mechanical play, before
// the rod moves the other way. They depend on load, position and oil; they are no
// constant backlash.
package lostmotion

import (
	"fmt"
	"math"
	"sort"

	"eha/strokewise/ident/motion"
	"eha/strokewise/ident/plant"
	"eha/strokewise/ident/trace"
)

// Log is a recording with what the machine does in it.
type Log struct {
	Trace    *trace.Trace
	Segments []motion.Segment
}

// Known is what was found before. Zero fields are unknown.
type Known struct {
	Area         plant.PerChamber[float64] // m²
	Stroke       float64                   // m
	Displacement float64                   // m³/rad
	Slip         float64                   // rad/s per Pa
	MaxSpeed     float64                   // rad/s at the motor; zero takes every reversal for slow
	// TransducerDelay (s) of the rod position behind the encoder, which shows as
	// lost motion of twice the speed times the delay.
	TransducerDelay float64
	// FreeForce is the hydraulic force (N) of slow travel in each direction; nil where unknown.
	FreeForce *plant.PerDirection[float64]
	Oil       *plant.PerChamber[plant.Oil]
}

// Result is the lost motion and what each reversal showed.
type Result struct {
	LostMotion plant.Estimate // rad at the motor
	Points     []plant.Point  // rod position (m) against angle lost (rad), as measured
	Places     []Place
	Warnings   []string
}

// Place is what one reversal showed.
type Place struct {
	Position   float64 // m
	Before     float64 // N, hydraulic force of the travel before the reversal; 0 without pressures
	After      float64 // N, of the travel after it
	Measured   float64 // rad, from turns and travel
	Calculated float64 // rad, from pressures and compliance; 0 where unknown
	weight     float64
	toMiddle   float64 // factor that takes the angle to the place that the result is for
	start      plant.PerChamber[float64]
	direction  float64
}

const (
	moveToLog = "reversals: slow travel to and fro by one motor turn or so at mid-stroke"
	// slowShare is the share of full speed up to which a reversal counts as slow.
	slowShare = 0.12
	// branchTime (s) is how much of the travel before and after is used.
	branchTime = 0.9
	// ownDoubt is the share of the value that both ways may be off together, as a
	// standard deviation: found on simulated machines.
	ownDoubt = 0.045
)

// Fit returns the lost motion at mid-stroke, or at the place nearest to it that
// the reversals reached: the mean of two ways of finding it
// that err in opposite directions. One lays a straight line of rod position over
// motor angle through the steady half of the travel before and after and takes
// their distance at the turning point, slip taken out. The other takes the oil of
// both chambers from the pressures before to the force after in small steps.
// Half their difference and a share of the value is taken as standard deviation.
// Without a slow reversal in the logs the second way alone gives a weak value,
// from the forces of travel in both directions.
func Fit(logs []Log, known Known) Result {
	res := Result{LostMotion: plant.MissingFrom(moveToLog)}
	for _, l := range logs {
		for _, r := range reversals(l) {
			if p, ok := measure(l.Trace, r, known); ok {
				res.Places = append(res.Places, p)
				res.Points = append(res.Points, plant.Point{X: p.Position, Y: p.Measured})
			}
		}
	}
	if len(res.Places) == 0 {
		res.fromTravel(logs, known)
		return res
	}
	res.toMiddle(known)
	a, _ := byDirection(res.Places, func(p Place) float64 { return p.Measured * p.toMiddle })
	b, ok := byDirection(res.Places, func(p Place) float64 { return p.Calculated * p.toMiddle })
	res.conclude(a, b, ok)
	return res
}

// byDirection returns the mean over both kinds of reversal of the median of the
// value: what slip is left makes one kind larger and the other smaller. Places
// with the value 0 do not count; false where none is left.
func byDirection(places []Place, value func(Place) float64) (mean float64, ok bool) {
	n := 0.0
	for _, direction := range []float64{1, -1} {
		var values, weights []float64
		for _, p := range places {
			if v := value(p); p.direction == direction && v != 0 {
				values, weights = append(values, v), append(weights, p.weight)
			}
		}
		if len(values) > 0 {
			mean, n = mean+weightedMedian(values, weights), n+1
		}
	}
	return mean / math.Max(n, 1), n > 0
}

// reversals returns the pairs of steady travel of opposite sign with little time
// between them. Their speeds may differ: whoever holds slip back plays them so.
func reversals(l Log) []reversal {
	var found []reversal
	var last motion.Segment
	for _, s := range l.Segments {
		if s.Kind == motion.Pressing {
			last = motion.Segment{}
		}
		if s.Kind != motion.Steady {
			continue
		}
		apart := float64(s.Span.From-last.Span.To) * l.Trace.Period()
		if s.MotorSpeed*last.MotorSpeed < 0 && apart <= motion.MaxReversal && whole(l.Trace, last.Span.To, s.Span.From) {
			found = append(found, reversal{last, s})
		}
		last = s
	}
	return found
}

// whole reports whether no gap of the log touches the samples.
func whole(t *trace.Trace, from, to int) bool {
	for _, g := range t.Gaps() {
		if g.From < to && g.To > from {
			return false
		}
	}
	return true
}

// conclude joins the angle a (rad) measured and b calculated, where it is known.
func (res *Result) conclude(a, b float64, known bool) {
	if a <= 0 {
		return
	}
	n := len(res.Places)
	if !known {
		// One way alone was 10 % off at the median and 26 % at the 90th percentile.
		const relative = 0.35
		res.LostMotion = plant.LostMotion.Found(a, a*(1-relative), a*(1+relative), fmt.Sprintf("%d slow reversals, turns against travel", n))
		return
	}
	value := (a + b) / 2
	sigma := math.Abs(a-b)/2 + ownDoubt*value
	res.LostMotion = plant.LostMotion.Found(value, math.Max(value-1.96*sigma, 0), value+1.96*sigma,
		fmt.Sprintf("%d slow reversals, turns against travel and oil compressed", n))
	if math.Abs(a-b) > 0.5*value {
		res.Warnings = append(res.Warnings, fmt.Sprintf("lost motion %.2g rev from travel, %.2g rev from pressures", a/(2*math.Pi), b/(2*math.Pi)))
	}
}

// weightedMedian returns the value at which half the weight is reached.
func weightedMedian(values, weights []float64) float64 {
	order := make([]int, len(values))
	total := 0.0
	for i := range order {
		order[i] = i
		total += weights[i]
	}
	sort.Slice(order, func(i, j int) bool { return values[order[i]] < values[order[j]] })
	sum := 0.0
	for k, i := range order {
		sum += weights[i]
		if sum > total/2 {
			return values[i]
		}
		if sum == total/2 && k+1 < len(order) {
			return (values[i] + values[order[k+1]]) / 2
		}
	}
	return math.NaN()
}
