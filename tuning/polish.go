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
var gainShares = []float64{1, 0.9, 0.8, 0.7, 0.6}

// finalists is the number of candidates that are tried at more places and on drawn models.
const finalists = 6

// polishDraws is the number of drawn models that they are tried on.
const polishDraws = 4

// candidate is one pair of gains for one direction with what its steps cost.
type candidate struct {
	set  law.Position
	cost float64 // s
}

// polish chooses share of kp and integral of each direction by the simulated
// steps: all candidates at mid-stroke, the best of them at both ends too and on
// models drawn from the fit's uncertainty.
func (d *design) polish(set law.Position, ratios []float64) law.Position {
	for _, dir := range []plant.Direction{plant.Extend, plant.Retract} {
		var list []candidate
		for _, ratio := range ratios {
			for _, share := range gainShares {
				tried := set
				kp := share * set.Kp.At(dir)
				tried.Kp.Set(dir, kp)
				tried.Ki.Set(dir, ratio*kp*kp)
				d.sameGains(&tried)
				list = append(list, candidate{set: tried})
			}
		}
		middle := []stepCase{{&d.model, d.model.Stroke / 2}}
		d.price(list, dir, middle)
		list = list[:min(finalists, len(list))]
		d.price(list, dir, d.moreCases())
		set = list[0].set
	}
	if len(ratios) > 1 {
		set = d.matchIntegrals(set, ratios)
	}
	return set
}

// mostUneven is the largest ratio between both directions' ki over kp². Holding a
// load that pushes one way, the error at rest has one sign, and the pair of that
// sign should gather more than the other; with less of the other the integral would
// not come back.
const mostUneven = 4.0

// matchIntegrals chooses both directions' integrals together, with the steps of both.
func (d *design) matchIntegrals(set law.Position, ratios []float64) law.Position {
	best, lowest := set, math.Inf(1)
	var list []law.Position
	for _, extend := range ratios {
		for _, retract := range ratios {
			if max(extend, retract) > mostUneven*min(extend, retract)*(1+1e-9) {
				continue
			}
			tried := set
			tried.Ki = plant.PerDirection[float64]{Extend: extend * set.Kp.Extend * set.Kp.Extend, Retract: retract * set.Kp.Retract * set.Kp.Retract}
			d.sameGains(&tried)
			list = append(list, tried)
		}
	}
	cases := []stepCase{{&d.model, d.model.Stroke / 2}}
	for i := range min(2, len(d.draws)) {
		cases = append(cases, stepCase{&d.draws[i], d.model.Stroke / 2})
	}
	costs := make([][2]float64, len(list)*len(cases))
	sim.Each(2*len(costs), func(i int) {
		if d.over() {
			return
		}
		c, tried, dir := cases[i/2%len(cases)], list[i/2/len(cases)], plant.Direction(i%2)
		run, from, to := d.stepRun(c.model, tried, dir, c.x, 1, polishTime)
		costs[i/2][dir] = stepCost(run, from, to)
	})
	for i := range list {
		sum := 0.0
		for _, c := range costs[i*len(cases) : (i+1)*len(cases)] {
			sum += c[0] + c[1]
		}
		if sum < lowest {
			best, lowest = list[i], sum
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

// price fills in the mean cost over the cases and sorts the candidates, cheapest first.
func (d *design) price(list []candidate, dir plant.Direction, cases []stepCase) {
	costs := make([]float64, len(list)*len(cases))
	sim.Each(len(costs), func(i int) {
		if d.over() {
			return
		}
		c, set := cases[i%len(cases)], list[i/len(cases)].set
		run, from, to := d.stepRun(c.model, set, dir, c.x, 1, polishTime)
		costs[i] = stepCost(run, from, to)
	})
	for i := range list {
		list[i].cost = 0
		for k := range cases {
			list[i].cost += costs[i*len(cases)+k] / float64(len(cases))
		}
	}
	sort.SliceStable(list, func(i, j int) bool { return list[i].cost < list[j].cost })
}

// polishTime is how long after the step a priced run goes on (s).
const polishTime = 2.5

// stepCost weighs a step (s): settling to bands about 2 %, so that the edge of
// the band decides nothing alone, overshoot beyond what settings should keep from,
// and an error left that no acceptable window takes in.
func stepCost(run sim.Run, from, to float64) float64 {
	y := run.From(sim.Rest)
	cost := 0.0
	for _, band := range []float64{0.022, 0.02, 0.018} {
		f := sim.StepFigures(y, run.Period, from, to, band)
		cost += math.Min(f.Settling, 1.5*polishTime)/3 + math.Max(f.Overshoot-usualOvershoot, 0)/3
	}
	left := math.Abs(to-y[len(y)-1]) / math.Abs(to-from)
	return cost + leftCost*math.Max(left-windowShare, 0)
}

// leftCost is the cost (s) of an error left as large as the step.
const leftCost = 20
