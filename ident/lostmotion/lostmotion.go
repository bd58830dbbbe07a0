// Package lostmotion finds the motor turns lost at a reversal: those that take
// the oil from one side's pressure to the other's, and mechanical play, before
// the rod moves the other way. They depend on load, position and oil; they are no
// constant backlash.
package lostmotion

import (
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
	// Standard deviations of the delay (s) and of Slip, and the 95 % half-width of
	// each chamber's compliance over its value.
	DelayDoubt, SlipDoubt float64
	OilDoubt              plant.PerChamber[float64]
	// FreeForce is the hydraulic force (N) of slow travel in each direction; nil where unknown.
	FreeForce *plant.PerDirection[float64]
	Oil       *plant.PerChamber[plant.Oil]
}

// Result is the lost motion and what each reversal showed.
type Result struct {
	LostMotion plant.Estimate // rad at the motor
	Points     []plant.Point  // rod position (m) against angle lost (rad), as measured
	Forces     []float64      // N, hydraulic force at each point, mean of before and after; 0 without pressures
	Places     []Place
	Warnings   []string
}

// Place is what one reversal showed.
type Place struct {
	Position   float64 // m
	Speed      float64 // rad/s at the motor, mean of both ways
	Before     float64 // N, hydraulic force of the travel before the reversal; 0 without pressures
	After      float64 // N, of the travel after it
	Measured   float64 // rad, from turns and travel
	Calculated float64 // rad, from pressures and compliance; 0 where unknown
	weight     float64
	toMiddle   float64 // factor that takes the angle to mid-stroke
	start, end plant.PerChamber[float64]
	push       float64 // Pa·s, pressure across the pump times the time between the lines' middles
	direction  float64
}

const (
	moveToLog = "reversals: slow travel to and fro by one motor turn or so at mid-stroke"
	// slowShare is the share of full speed up to which a reversal counts as slow.
	slowShare = 0.12
	// branchTime (s) is how much of the travel before and after is used.
	branchTime = 0.9
)

// Fit returns the lost motion at mid-stroke (where the oil is not known, at the
// reversals' own place), as the mean of two ways of finding it, each weighed by its
// own doubt. One lays a straight line of rod position over motor angle through the
// steady half of the travel before and after and takes their distance at the turning
// point, slip taken out. The other takes the oil of both chambers from the pressures
// before to the force after in small steps; it knows little of valves that are half
// open, so near zero load it hardly counts. Where the two disagree by more than
// their doubts, the interval widens to hold both. The value is the mean of turning
// back from either way. Without a slow reversal in the logs the second way alone
// gives a weak value, from the forces of travel in both directions.
func Fit(logs []Log, known Known) Result {
	res := Result{LostMotion: plant.MissingFrom(moveToLog)}
	for _, l := range logs {
		for _, r := range reversals(l) {
			if p, ok := measure(l.Trace, r, known); ok {
				res.Places = append(res.Places, p)
				res.Points = append(res.Points, plant.Point{X: p.Position, Y: p.Measured})
				res.Forces = append(res.Forces, (p.Before+p.After)/2)
			}
		}
	}
	if len(res.Places) == 0 {
		res.fromTravel(logs, known)
		return res
	}
	res.toMiddle(known)
	res.conclude(measured(res.Places, known), calculated(res.Places, known))
	return res
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
