package law

import "math"

// Lowpass is the first-order filter of the law, y += (1 - e^(-ωT))·(u - y).
type Lowpass struct {
	Share float64 // 1 - e^(-ωT), the part of the difference taken up per period
	Out   float64
}

// NewLowpass returns a filter at rest with corner omega (rad/s) run every period
// (s). A corner of zero or less lets everything through.
func NewLowpass(omega, period float64) Lowpass {
	if omega <= 0 {
		return Lowpass{Share: 1}
	}
	return Lowpass{Share: -math.Expm1(-omega * period)}
}

// Next advances the filter by one period with input u and returns its output.
func (f *Lowpass) Next(u float64) float64 {
	f.Out = f.Peek(u)
	return f.Out
}

// Peek returns what Next would, and leaves the filter as it is.
func (f *Lowpass) Peek(u float64) float64 { return f.Out + f.Share*(u-f.Out) }

func clamp(v, limit float64) float64 { return min(max(v, -limit), limit) }
