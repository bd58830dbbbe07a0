package lostmotion

import (
	"math"
	"testing"

	"eha/strokewise/ident/plant"
)

// Near zero load the valves stand half open on the way, which the calculation does
// not know: what travel shows must rule, and the interval hold it.
func TestTravelRulesNearZeroLoad(t *testing.T) {
	at := func(cap, rod float64) plant.PerChamber[float64] { return plant.PerChamber[float64]{Cap: cap, Rod: rod} }
	near0 := []Place{
		{Measured: 1, Calculated: 0.6, weight: 1, toMiddle: 1, direction: 1, start: at(2e5, 7e5), end: at(5e5, 2e5)},
		{Measured: 1.1, Calculated: 0.7, weight: 1, toMiddle: 1, direction: -1, start: at(5e5, 2e5), end: at(2e5, 7e5)},
	}
	var res Result
	res.Places = near0
	res.conclude(measured(near0, Known{}), calculated(near0, Known{}))
	e := res.LostMotion
	if e.Value < 1 || e.Low > 1.05 || e.High < 1.05 {
		t.Errorf("%+v, want near 1.05 as travel has it", e)
	}
	loaded := []Place{near0[0], near0[1]}
	for i := range loaded {
		loaded[i].start, loaded[i].end = at(40e5, 2e5), at(30e5, 2e5)
	}
	res.conclude(measured(loaded, Known{}), calculated(loaded, Known{}))
	if w := res.LostMotion.HalfWidth(); w < (1.05-0.65)/2 {
		t.Errorf("half-width %g under load, want it to hold both 1.05 and 0.65", w)
	}
	if len(res.Warnings) == 0 {
		t.Error("no warning though both ways exclude each other")
	}
}

// The transducer's delay shows as lost motion of twice the speed times the delay, and
// slip cancels only between both kinds of reversal: their doubts are the value's.
func TestDoubtsOfDelayAndSlip(t *testing.T) {
	both := []Place{
		{Measured: 1, Speed: 8, push: 2e6, weight: 1, toMiddle: 1, direction: 1, start: plant.PerChamber[float64]{Cap: 1}},
		{Measured: 1, Speed: 8, push: 2e6, weight: 1, toMiddle: 1, direction: -1, start: plant.PerChamber[float64]{Cap: 1}},
	}
	k := Known{DelayDoubt: 0.01, SlipDoubt: 1e-7}
	got := measured(both, k).sigma
	near(t, "both ways", got, math.Hypot(ownMeasured, 2*8*0.01), 1e-9)
	near(t, "one way", measured(both[:1], k).sigma, math.Hypot(got, 0.2), 1e-9)
}

// Each point comes with the force it was seen at: lost motion depends on both.
func TestPointsComeWithPositionAndForce(t *testing.T) {
	r := usualRig()
	res := Fit([]Log{r.log(t)}, usualKnown())
	if len(res.Points) == 0 || len(res.Forces) != len(res.Points) {
		t.Fatalf("%d points, %d forces", len(res.Points), len(res.Forces))
	}
	for i, f := range res.Forces {
		// The mean of both branches is the load, friction apart.
		near(t, "force", f, -r.load, 0.05)
		near(t, "position", res.Points[i].X, r.place, 0.05)
	}
}
