package flow

import (
	"errors"
	"math"
	"math/rand/v2"
	"testing"

	"eha/strokewise/ident/trace"
)

// A rod that only presses on a spring moves in proportion to the turns too, but by
// the give of oil and spring, not by the stroke per turn.
func TestPressingAloneTellsNoRatio(t *testing.T) {
	m := plainMachine()
	const period, stiffness, mean, swing = 1e-3, 1e6, 50e5, 30e5
	samples := map[trace.Channel][]float64{}
	put := func(c trace.Channel, v float64) { samples[c] = append(samples[c], v) }
	compliance, lost := m.oil.Compliance(m.area.Cap*0.12, mean), 0.0
	rng := rand.New(rand.NewPCG(3, 4))
	for i := range 40000 {
		s := float64(i) * period
		level, within := int(s/2), math.Mod(s, 2)
		p := mean + swing*(step(level-1)+(step(level)-step(level-1))*math.Min(within/0.3, 1))
		x := 0.12 + m.area.Cap*(p-mean)/stiffness
		lost += m.slip * (p - m.low) * period
		put(trace.CapPressure, p)
		put(trace.RodPressure, m.low)
		put(trace.RodPosition, x+2e-6*rng.NormFloat64())
		put(trace.MotorPosition, (m.area.Cap*x+compliance*p)/m.displacement+lost)
	}
	log, err := trace.New("press.csv", period, 0, samples, nil)
	if err != nil {
		t.Fatal(err)
	}
	if s, err := FitStroke([]*trace.Trace{log}, m.file()); !errors.Is(err, ErrTooLittle) {
		t.Errorf("error %v, want ErrTooLittle", err)
		if err == nil {
			t.Logf("displacement %g of %g", s.Displacement.Value, m.displacement)
		}
	}
}

// step is a staircase between -1 and 1.
func step(k int) float64 { return math.Sin(float64(2 * k)) }
