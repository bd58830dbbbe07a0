package balance

import (
	"math"
	"testing"

	"eha/strokewise/ident/plant"
	"eha/strokewise/ident/window"
)

// A friction curve whose slowest point lies beyond the rise tells no breakaway: what
// noise is left there must not be extended to rest by any factor.
func TestLowSpeedRiseWithoutSlowTravel(t *testing.T) {
	l := &line{index: map[term]int{speed: 0, sign: 1}, fit: &window.Fit{Coef: []float64{1e4, 1000}}}
	curve := func(from float64) []plant.Point {
		var points []plant.Point
		for k := range 12 {
			v := from + 1e-3*float64(k)
			f := 1000 + 1e4*v + 300*math.Exp(-v*v/(4e-3*4e-3)) + 2*math.Sin(7*float64(k))
			points = append(points, plant.Point{X: v, Y: f}, plant.Point{X: -v, Y: -f})
		}
		return points
	}
	if r, found := lowSpeedRise(curve(1e-3), l, 0.02); !found || math.Abs(r.force-300) > 15 || math.Abs(r.stribeck-4e-3) > 5e-4 {
		t.Errorf("slow travel: rise %.4g N below %.3g m/s, %v", r.force, r.stribeck, found)
	}
	if r, found := lowSpeedRise(curve(0.012), l, 0.03); found && r.force > 100 {
		t.Errorf("no slow travel: rise %.4g N", r.force)
	}
}
