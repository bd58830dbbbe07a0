// Package motion says what the machine does when in a log: where it rests,
// travels steadily, changes speed, reverses, presses, meets a limit or is
// excited periodically, and which of the test moves the log holds.
//
// Everything is found from the encoder and the other channels, not from the
// name of a log or an order of moves, and holds for open-loop and closed-loop
// logs. Signs of channels do not matter here: a log with a channel wired the
// wrong way is cut up the same. All functions take time proportional to the
// length of the log.
package motion

import (
	"math"

	"eha/strokewise/ident/trace"
)

// Kind is what the machine does in a segment.
type Kind int

// The kinds of segment.
const (
	Rest         Kind = iota // motor stands, or turns just enough to hold the rod where it is
	Steady                   // travel at constant motor speed for at least MinSteady
	Accelerating             // travel at changing motor speed, multisine included
	Pressing                 // motor turns or pressure stands higher than in travel while the rod hardly moves
)

// String returns the kind in a word.
func (k Kind) String() string {
	return [...]string{"rest", "steady travel", "acceleration", "pressing"}[k]
}

// MinSteady is the least duration (s) of steady travel: some ten time constants
// of a usual drive and hydraulic resonance (common practice, no source).
const MinSteady = 0.3

// MaxReversal is the longest time (s) between the two steady speeds of a reversal.
const MaxReversal = 0.45

// Segment is a stretch of log without gaps in which the machine does one thing.
type Segment struct {
	Kind       Kind
	Span       trace.Span
	MotorSpeed float64 // rad/s, mean
	RodSpeed   float64 // m/s, mean; 0 without a rod position
}

// Reversal is a flip from one steady speed to about the same the other way.
type Reversal struct {
	Before, After Segment
	Span          trace.Span // between the two
}

// Motion is all that was found in one log.
type Motion struct {
	Segments  []Segment // in order, disjoint; together with the gaps they cover the log but for its last frame
	Reversals []Reversal
	Limits    []Limited
	Periodic  []Periodic
	Moves     []Move
	// StrokePerTurn is a first value of rod travel over motor angle (m/rad,
	// positive), the median over steady travel; 0 where the log has none.
	StrokePerTurn float64
	// TopSpeed is the largest motor speed seen, less the fastest 0.1 % (rad/s).
	TopSpeed float64
}

// Find cuts a log up. A log without encoder is cut up by the motor speed the
// drive reports, else by the speed command, else by the rod speed; the motor
// speeds of the segments are then those, and 0 in the last case.
func Find(t *trace.Trace) *Motion {
	f := newFrames(t)
	m := &Motion{TopSpeed: f.top, Periodic: PeriodicSpans(t)}
	m.Segments, m.StrokePerTurn = f.segments(m.Periodic)
	m.Reversals = reversals(m.Segments, t.Period())
	m.Limits = limits(t, f)
	m.Moves = f.moves(t, m)
	return m
}

// reversals pairs steady segments that are not further apart than MaxReversal and go
// opposite ways at about one speed: of the rod or of the motor, which slip under load
// sets apart in slow travel.
func reversals(segments []Segment, period float64) []Reversal {
	var found []Reversal
	last := -1
	for i, s := range segments {
		if s.Kind != Steady {
			continue
		}
		if last >= 0 {
			a := segments[last]
			between := trace.Span{From: a.Span.To, To: s.Span.From}
			if opposite(a.MotorSpeed, s.MotorSpeed, a.RodSpeed, s.RodSpeed) && float64(between.Len())*period <= MaxReversal && contiguous(segments[last:i+1]) {
				found = append(found, Reversal{a, s, between})
			}
		}
		last = i
	}
	return found
}

// opposite reports whether the motor flips sign and either speed is within a quarter of
// what it was.
func opposite(motorA, motorB, rodA, rodB float64) bool {
	near := func(a, b float64) bool {
		a, b = math.Abs(a), math.Abs(b)
		return a > 0.75*b && b > 0.75*a
	}
	return motorA*motorB < 0 && (near(motorA, motorB) || rodA*rodB < 0 && near(rodA, rodB))
}

// contiguous reports whether no gap lies between the segments.
func contiguous(segments []Segment) bool {
	for i := 1; i < len(segments); i++ {
		if segments[i].Span.From != segments[i-1].Span.To {
			return false
		}
	}
	return true
}
