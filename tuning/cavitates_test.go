package tuning

import (
	"strings"
	"testing"

	"eha/strokewise/ident/plant"
)

// A valve so narrow that the low side falls at any gain must not cost all the gain.
func TestCavitationThatNoGainCures(t *testing.T) {
	p := invented(3)
	before := propose(t, p, DefaultOptions())
	p.Model.LowResistance = 1e12
	after := propose(t, p, DefaultOptions())
	for _, d := range []plant.Direction{plant.Extend, plant.Retract} {
		if was, is := before.Loops.Position.Kp.At(d), after.Loops.Position.Kp.At(d); is < was/4 {
			t.Errorf("%v: gain %.3g 1/s, %.3g 1/s with a wide valve", d, is, was)
		}
	}
	if !strings.Contains(strings.Join(after.Warnings, "\n"), "at any gain") {
		t.Errorf("no warning in %q", after.Warnings)
	}
}
