package tuning

import (
	"fmt"
	"math"
	"math/cmplx"

	"eha/strokewise/ident/plant"
	"eha/strokewise/tuning/loop"
)

// OpenLoop returns the open loop of a proposal's settings at a point of its
// grid, as Margins holds it, over increasing frequencies (rad/s). Of several
// process loads and outer delays there it is the one that comes nearest to -1. It returns an error if
// the proposal has no such loop or point.
func OpenLoop(p *plant.Plant, t *Proposal, at Margin) (omega []float64, open []complex128, err error) {
	d, err := respondDesign(p, t)
	if err != nil {
		return nil, nil, err
	}
	nearest := math.Inf(1)
	take := func(grid []float64, response func(float64) complex128) {
		curve, distance := make([]complex128, len(grid)), math.Inf(1)
		for i, w := range grid {
			curve[i] = response(w)
			distance = min(distance, cmplx.Abs(1+curve[i]))
		}
		if distance < nearest {
			omega, open, nearest = grid, curve, distance
		}
	}
	same := func(place loop.Place) bool {
		return place.Chamber == at.Chamber && place.Direction == at.Direction && math.Abs(place.Position-at.Position) < 1e-9 && math.Abs(place.MassFactor-at.MassFactor) < 1e-9
	}
	switch {
	case at.Loop == "force" && t.Loops.Force != nil:
		if press, _ := d.newPressing(); press != nil {
			for _, point := range press.grid(t.Loops.Force) {
				if same(point.at) {
					take(point.loop.Grid(loop.Fine), point.loop.Open)
				}
			}
		}
	case at.Loop == "position" && t.Loops.Position != nil:
		for _, c := range d.corners(&d.model, at.Direction, d.delays) {
			if same(c.place) {
				l := loopAt(&d.model, t.Loops.Position, c)
				take(l.Grid(loop.Fine), l.Open)
			}
		}
	}
	if open == nil {
		return nil, nil, fmt.Errorf("tuning: open loop: no %s loop at %.4g m with the %s side carrying in this proposal", at.Loop, at.Position, at.Chamber)
	}
	return omega, open, nil
}
