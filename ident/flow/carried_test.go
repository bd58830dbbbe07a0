package flow

import (
	"testing"

	"eha/strokewise/ident/plant"
)

// Under a constant load one chamber carries both ways: both directions tell its
// travel per turn, and the interval spans what slip parts them by.
func TestCarriedBothWays(t *testing.T) {
	s := &Stroke{}
	s.PerTurn = plant.PerDirection[Number]{Extend: Number{0.99e-3, 1e-7}, Retract: Number{1.01e-3, 2e-7}}
	s.Carrier = plant.PerDirection[int]{Extend: 1, Retract: 1}
	n := s.carriedBy(1)
	near(t, "travel per turn", n.Value, 1e-3, 1e-12)
	if low, high := n.Value-1.96*n.Sigma, n.Value+1.96*n.Sigma; low > 0.991e-3 || high < 1.009e-3 {
		t.Errorf("interval %g to %g leaves out a direction", low, high)
	}
	if n := s.carriedBy(-1); n.Value != 0 {
		t.Errorf("the rod side never carries: %v", n)
	}
}
