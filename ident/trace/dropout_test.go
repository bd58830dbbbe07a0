package trace

import (
	"math"
	"math/rand/v2"
	"testing"
)

// A swinging pressure whose plug is loose twice; once it jumps and stays, which is no dropout.
func TestDropOut(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 4))
	clean := make([]float64, 20000)
	for i := range clean {
		clean[i] = 50e5 + 5e5*math.Sin(float64(i)/30) + 1e4*rng.NormFloat64()
		if i >= 15000 {
			clean[i] += 40e5
		}
	}
	x := append([]float64(nil), clean...)
	for _, s := range []Span{{4000, 4200}, {9000, 9020}} {
		for i := s.From; i < s.To; i++ {
			x[i] = -62.5e5
		}
	}
	lost, gaps := dropOut(x, CapPressure, 1e-3, func(i int) float64 { return float64(i) * 1e-3 })
	if len(gaps) != 2 || gaps[0] != (Span{4000, 4200}) || gaps[1] != (Span{9000, 9020}) {
		t.Fatalf("found %v, want 4000 to 4200 and 9000 to 9020", gaps)
	}
	if l := lost[0]; l.Channel != CapPressure || l.From != 4 || l.To != 4.199 || l.Value != -62.5e5 {
		t.Errorf("first %+v", l)
	}
	for i, y := range x {
		if math.Abs(y-clean[i]) > 12e5 {
			t.Fatalf("sample %d is %g, not bridged", i, y)
		}
	}
	if lost, _ := dropOut(append([]float64(nil), clean...), MotorCurrent, 1e-3, nil); lost != nil {
		t.Error("a current jumps by itself")
	}
}

// An encoder that starts again at a count jumps back wherever the motor turns back there.
func TestWrapIsNoDropout(t *testing.T) {
	x := make([]float64, 10000)
	for i := range x {
		at := 30 * math.Sin(float64(i)/700)
		x[i] = at - 20*math.Floor(at/20)
	}
	if lost, _ := dropOut(x, MotorPosition, 1e-3, func(i int) float64 { return float64(i) }); lost != nil {
		t.Errorf("%d dropouts found in a wrapping encoder", len(lost))
	}
}
