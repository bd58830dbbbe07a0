package quality

import (
	"math"

	"eha/strokewise/ident/lsq"
	"eha/strokewise/ident/trace"
)

// currentVotes compares current or torque with what it does: hold the pressure
// across the pump, overcome the motor's friction, and speed the motor up. The parts
// are separated by regression; a part counts from a share of the whole on, friction
// from a larger one, since in an oscillating loop it is mixed up with the others.
func (v *view) currentVotes(n []float64) []vote {
	i := v.frame[trace.MotorCurrent]
	if i == nil {
		i = v.frame[trace.MotorTorque]
	}
	if i == nil {
		return nil
	}
	parts := []struct {
		wires wire
		text  string
		least float64 // share of the whole from which the part counts
		of    func(k int) float64
	}{
		{current | encoder, "the motor speeds up against its current", 0.1, func(k int) float64 { return n[k+1] - n[k-1] }},
		{current | encoder, "current opposes the motor's travel", 0.25, func(k int) float64 { return clip(n[k] / (0.02*v.motion.TopSpeed + 1e-9)) }},
		{current | swapped, "current falls while the pressure across the pump rises", 0.1, nil},
	}
	if v.has(trace.CapPressure, trace.RodPressure) {
		p1, p2 := v.frame[trace.CapPressure], v.frame[trace.RodPressure]
		parts[2].of = func(k int) float64 { return p1[k] - p2[k] }
	} else {
		parts = parts[:2]
	}
	columns := make([][]float64, len(parts)+1)
	var y []float64
	for k := 1; k+2 < len(i); k += 2 {
		if !v.good[k-1] || !v.good[k] || !v.good[k+1] {
			continue
		}
		y = append(y, i[k])
		columns[0] = append(columns[0], 1)
		for j, p := range parts {
			columns[j+1] = append(columns[j+1], p.of(k))
		}
	}
	fit, err := lsq.Linear{Columns: columns, Y: y}.Solve()
	if err != nil {
		return nil
	}
	var votes []vote
	whole := deviation(y)
	for j, p := range parts {
		if share := fit.X[j+1] * deviation(columns[j+1]) / whole; math.Abs(share) > p.least {
			votes = append(votes, vote{p.wires, 4 * clip(share/0.4), p.text})
		}
	}
	return votes
}

// deviation is the standard deviation.
func deviation(y []float64) float64 {
	m := mean(y)
	var sum float64
	for _, s := range y {
		sum += (s - m) * (s - m)
	}
	return math.Sqrt(sum / float64(max(len(y), 1)))
}
