package tuning

import (
	"math"
	"sort"

	"eha/strokewise/ident/plant"
	"eha/strokewise/tuning/law"
	"eha/strokewise/tuning/sim"
)

// gainShares are the shares of the kp reached so far that are tried: a little less
// often arrives with less overshoot and settles sooner.
var gainShares = []float64{1, 0.95, 0.9, 0.85, 0.8, 0.7, 0.6}

// finalists is the number of candidates that are tried at more places and on drawn models.
const finalists = 5

// polishDraws is the number of drawn models that they are tried on.
const polishDraws = 4

// candidate is a set of gains with what its steps cost.
type candidate struct {
	gains gains
	set   law.Position
	cost  float64 // s
}

// gains are shares of the kp reached and the integral's share of it.
type gains struct {
	extend, retract float64
	ratio           float64 // ki over kp², of the geometric mean of both kp
	uneven          float64 // extend's ki over kp by retract's
}

// Holding a load that pushes one way, the error at rest has one sign, and the
// pair of that sign may gather more than the other. But then each step out and back
// leaves the integral something, and repeated steps walk from the reference: as
// far as the integral leaks in between, (u - 1)/(kp·time) of the step for gains uneven by
// u. They stay within walkShare of it with steps every walkTime (s) each way.
const (
	walkShare = 0.015
	walkTime  = 1.5
)

// mostUneven returns the largest ratio between both directions' ki over kp.
func mostUneven(set *law.Position) float64 {
	return 1 + walkShare*math.Sqrt(set.Kp.Extend*set.Kp.Retract)*2*walkTime
}

// apply returns the settings with the gains, as they can be typed.
func (d *design) apply(set law.Position, g gains) law.Position {
	set.Kp.Extend, set.Kp.Retract = g.extend*set.Kp.Extend, g.retract*set.Kp.Retract
	rate, uneven := g.ratio*math.Sqrt(set.Kp.Extend*set.Kp.Retract), math.Sqrt(g.uneven)
	set.Ki = plant.PerDirection[float64]{Extend: rate * uneven * set.Kp.Extend, Retract: rate / uneven * set.Kp.Retract}
	d.sameGains(&set)
	return set
}

// polish chooses share of kp of each direction and integral by the simulated
// steps both ways: one after the other in turn at mid-stroke, and of the best found at
// both ends too and on models drawn from the fit's uncertainty.
func (d *design) polish(set law.Position, ratios []float64) law.Position {
	known := map[gains]float64{}
	middle := []stepCase{{&d.model, d.clearPlace()}}
	best := gains{1, 1, ratios[len(ratios)/2], 1}
	vary := func(n int, change func(g *gains, i int)) {
		best = d.cheapest(set, known, middle, n, func(i int) gains {
			g := best
			change(&g, i)
			return g
		})
	}
	most := mostUneven(&set)
	for range 2 {
		vary(len(ratios), func(g *gains, i int) { g.ratio = ratios[i] })
		vary(len(gainShares), func(g *gains, i int) { g.extend = gainShares[i] })
		vary(len(gainShares), func(g *gains, i int) { g.retract = gainShares[i] })
		if best.ratio > 0 {
			vary(3, func(g *gains, i int) { g.uneven = math.Pow(most, float64(i-1)) })
		}
	}
	list := make([]candidate, 0, len(known))
	for g, cost := range known {
		list = append(list, candidate{g, d.apply(set, g), cost})
	}
	sort.Slice(list, func(i, j int) bool { return list[i].before(list[j]) })
	list = list[:min(finalists, len(list))]
	d.price(list, d.moreCases())
	return list[0].set
}

// before orders candidates by cost, and by gains where that does not decide.
func (c candidate) before(o candidate) bool {
	switch {
	case c.cost != o.cost:
		return c.cost < o.cost
	case c.gains.extend != o.gains.extend:
		return c.gains.extend < o.gains.extend
	case c.gains.retract != o.gains.retract:
		return c.gains.retract < o.gains.retract
	case c.gains.ratio != o.gains.ratio:
		return c.gains.ratio < o.gains.ratio
	}
	return c.gains.uneven < o.gains.uneven
}

// cheapest returns the gains with the lowest cost of n, and keeps what it finds in known.
func (d *design) cheapest(set law.Position, known map[gains]float64, cases []stepCase, n int, of func(i int) gains) gains {
	var list []candidate
	for i := range n {
		if _, done := known[of(i)]; !done {
			list = append(list, candidate{gains: of(i), set: d.apply(set, of(i))})
		}
	}
	d.price(list, cases)
	for _, c := range list {
		known[c.gains] = c.cost
	}
	best := of(0)
	for i := range n {
		if known[of(i)] < known[best] {
			best = of(i)
		}
	}
	return best
}

// stepCase is a model and a place (m) to run the standard step at.
type stepCase struct {
	model *plant.Model
	x     float64
}

// moreCases returns the model at all places of the grid and a few drawn models at mid-stroke.
func (d *design) moreCases() []stepCase {
	var cases []stepCase
	for _, x := range d.places {
		cases = append(cases, stepCase{&d.model, x})
	}
	for i := range min(polishDraws, len(d.draws)) {
		cases = append(cases, stepCase{&d.draws[i], d.model.Stroke / 2})
	}
	return cases
}

// price fills in the mean cost of steps both ways over the cases and sorts the
// candidates, cheapest first.
func (d *design) price(list []candidate, cases []stepCase) {
	each := 2 * len(cases)
	costs := make([]float64, len(list)*each)
	sim.Each(len(costs), func(i int) {
		if d.over() {
			return
		}
		c, set := cases[i%each/2], list[i/each].set
		run, from, to := d.stepRun(c.model, set, plant.Direction(i%2), c.x, 1, polishTime)
		costs[i] = stepCost(run, from, to)
	})
	for i := range list {
		list[i].cost = 0
		for _, c := range costs[i*each : (i+1)*each] {
			list[i].cost += c / float64(each)
		}
	}
	sort.SliceStable(list, func(i, j int) bool { return list[i].before(list[j]) })
}

// arrivalBands are the bands (share of the step) that a step is priced by: what
// comes to rest near the edge of 2 % arrives on one machine and not on the next.
var arrivalBands = []float64{0.023, 0.02, 0.017}

// polishTime is how long after the step a priced run goes on (s).
const polishTime = 2.5

// stepCost weighs a step (s): settling to bands about 2 %, overshoot beyond what
// settings should keep from, and an error left that no acceptable window takes in.
func stepCost(run sim.Run, from, to float64) float64 {
	y := run.From(sim.Rest)
	cost := 0.0
	for _, band := range arrivalBands {
		f := sim.StepFigures(y, run.Period, from, to, band)
		cost += math.Min(f.Settling, 1.5*polishTime)/3 + math.Max(f.Overshoot-usualOvershoot, 0)/3
	}
	left := math.Abs(to-y[len(y)-1]) / math.Abs(to-from)
	return cost + leftCost*math.Max(left-windowShare, 0)
}

// leftCost is the cost (s) of an error left as large as the step.
const leftCost = 20
