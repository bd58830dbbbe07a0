package moves

import (
	"eha/strokewise/ident/motion"
	"eha/strokewise/ident/trace"
)

// Advice is how to set a recorder for one move: the slowest period that still
// serves (s), and the channels in the order of their worth. A recorder with
// fewer channels takes the first ones; what is left goes into a second recording of
// the same move, with Common in both, and the two are joined as "A.csv+B.csv".
type Advice struct {
	Period   float64
	Channels []trace.Channel
	Common   trace.Channel
}

// RecorderAdvice returns the advice for a move. Time is left out: recorders add
// it, or it follows from the period.
func RecorderAdvice(k motion.MoveKind) Advice {
	const (
		n, enc, x  = trace.SpeedCommand, trace.MotorPosition, trace.RodPosition
		pc, pr, i  = trace.CapPressure, trace.RodPressure, trace.MotorCurrent
		r, f, temp = trace.PositionCommand, trace.ForceCommand, trace.OilTemperature
	)
	list := func(period float64, channels ...trace.Channel) Advice { return Advice{period, channels, enc} }
	switch k {
	case motion.Hold:
		return list(10e-3, enc, x, pc, pr, temp, i, n)
	case motion.SlowStrokes:
		return list(5e-3, enc, x, pc, pr, n, temp, i)
	case motion.ReversalMove:
		return list(2e-3, enc, x, pc, pr, n, i)
	case motion.Pulses, motion.Multisine:
		return list(1e-3, n, enc, x, pc, pr, i)
	case motion.PressHold:
		return list(2e-3, enc, x, pc, pr, f, n, trace.Force, i)
	case motion.PositionSteps:
		return list(1e-3, r, n, enc, x, pc, pr, i)
	case motion.UsualRun:
		return list(2e-3, r, enc, x, pc, pr, n, i, temp)
	}
	return list(2e-3, n, enc, x, pc, pr, i)
}

// Split shares the channels out on recordings of at most count channels: the
// first takes the most worth, each further one the common channel and what is left.
func (a Advice) Split(count int) [][]trace.Channel {
	first := min(count, len(a.Channels))
	out := [][]trace.Channel{a.Channels[:first]}
	for rest := a.Channels[first:]; len(rest) > 0; {
		take := min(count-1, len(rest))
		out = append(out, append([]trace.Channel{a.Common}, rest[:take]...))
		rest = rest[take:]
	}
	return out
}
