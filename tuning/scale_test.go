package tuning

import (
	"context"
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"eha/strokewise/ident/machine"
	"eha/strokewise/ident/plant"
)

// The convergents 22/7 and 355/113 of pi are in every number theory text (value
// from memory); 245/78 is the best with both parts below 256, by trying all.
func TestRatioKnownFractions(t *testing.T) {
	for _, c := range []struct {
		value    float64
		limit    int64
		num, den int64
	}{
		{math.Pi, 50, 22, 7},
		{math.Pi, 400, 355, 113},
		{math.Pi, 255, 245, 78},
		{0.5, 100, 1, 2},
		{3, 100, 3, 1},
		{1e-9, 100, 1, 100}, // nearest that is not zero
		{1e9, 100, 100, 1},
	} {
		num, den := Ratio(c.value, c.limit)
		if num != c.num || den != c.den {
			t.Errorf("Ratio(%g, %d) = %d/%d, want %d/%d", c.value, c.limit, num, den, c.num, c.den)
		}
	}
}

// Ratio must be as near as the best of all fractions, found by trying every denominator.
func TestRatioIsBest(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 2))
	const limit = 127
	for range 2000 {
		value := math.Exp(rng.Float64()*8 - 4)
		best := math.Inf(1)
		for den := int64(1); den <= limit; den++ {
			for _, num := range []int64{int64(value * float64(den)), int64(value*float64(den)) + 1} {
				if num >= 1 && num <= limit {
					best = math.Min(best, math.Abs(float64(num)/float64(den)-value))
				}
			}
		}
		num, den := Ratio(value, limit)
		if got := math.Abs(float64(num)/float64(den) - value); num < 1 || num > limit || den < 1 || den > limit || got > best*(1+1e-9)+1e-15 {
			t.Fatalf("Ratio(%g, %d) = %d/%d is off by %g, the best is off by %g", value, limit, num, den, got, best)
		}
	}
}

// Nothing may be proposed on the typical travel per turn that a model holds for want of a fitted one.
func TestNoProposalWithoutTravelPerTurn(t *testing.T) {
	p := invented(7)
	p.AreasKnown = false
	for _, param := range []plant.Param{plant.StrokePerTurnExtend, plant.StrokePerTurnRetract, plant.StrokePerTurnCap, plant.StrokePerTurnRod} {
		delete(p.Params, param)
	}
	out, err := Propose(context.Background(), p, DefaultOptions())
	if err != nil {
		t.Fatal(err)
	}
	if out.Loops.Position != nil || !strings.Contains(out.NotProposed["position"], "slow_strokes") {
		t.Errorf("proposed %+v, reason %q", out.Loops.Position, out.NotProposed["position"])
	}
}

// A resolution of next to nothing, as a plant file may hold, gave infinite counts a turn,
// and with integers asked for a panic.
func TestNoCountsFromAResolutionOfNothing(t *testing.T) {
	p := invented(3)
	p.Seen.Resolution.MotorAngle, p.Machine.Controller.RatioBits = 1e-308, 16
	for _, f := range scaleForms(p, &p.Model) {
		if f.Form == "integers" || f.Form == "counts per mm" {
			t.Errorf("%s: %s", f.Form, f.Text)
		}
	}
}

// Logs of one direction leave zeros in the other's map, and a table of their inverses
// held no numbers.
func TestNoTableFromOneDirection(t *testing.T) {
	p := invented(3)
	one := p.Est(plant.StrokePerTurnExtend).Value
	p.StrokeMap = plant.StrokeMap{Position: []float64{0, 0.1, 0.2}, PerTurn: plant.PerDirection[[]float64]{Extend: []float64{one, one, one}, Retract: []float64{0, 0, 0}}}
	opt := DefaultOptions()
	opt.Scale = machine.ScaleTable
	out := propose(t, p, opt)
	if out.Loops.Position.Table != nil || !strings.Contains(strings.Join(out.Warnings, " "), "No map along the stroke") {
		t.Errorf("table %+v, warnings %q", out.Loops.Position.Table, out.Warnings)
	}
}
