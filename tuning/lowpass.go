package tuning

import (
	"math"
	"slices"

	"eha/strokewise/ident/plant"
	"eha/strokewise/tuning/law"
	"eha/strokewise/tuning/loop"
	"eha/strokewise/tuning/sim"
)

// triedShares are the shares of the gain that the margins allow at which steps are
// simulated to choose the low-pass.
var triedShares = []float64{1, 0.9, 0.8, 0.7}

// slowestTried is the share of the best product of gains below which a low-pass is not simulated.
const slowestTried = 0.35

// quickest returns the one of searches whose steps arrive soonest in simulation
// at mid-stroke: the low-pass that allows the most gain may overshoot so much with
// it that another one settles sooner.
func (d *design) quickest(set law.Position, most search) search {
	var list []search
	for _, s := range d.searches(&d.model, set, loop.Coarse) {
		if s.product() > slowestTried*most.product() {
			list = append(list, s)
		}
	}
	n := len(triedShares)
	times := make([]float64, 2*n*len(list))
	sim.Each(len(times), func(i int) {
		if d.over() {
			return
		}
		s, dir, share := list[i/(2*n)], plant.Direction(i/n%2), triedShares[i%n]
		tried := set
		tried.Lowpass = s.lowpass
		tried.Kp = plant.PerDirection[float64]{Extend: share * s.limit.Extend.kp, Retract: share * s.limit.Retract.kp}
		run, from, to := d.stepRun(&d.model, tried, dir, d.clearPlace(), 1, arriveTime)
		times[i] = arrival(run, from, to)
	})
	best, soonest := most, math.Inf(1)
	for k, s := range list {
		sum := 0.0
		for dir := range 2 {
			at := (2*k + dir) * n
			sum += slices.Min(times[at : at+n])
		}
		if sum < soonest {
			best, soonest = s, sum
		}
	}
	return best
}

// arriveTime is how long after the step such a run goes on (s).
const arriveTime = 1.2

// arrival returns when (s) the step comes within bands about 2 % of where it comes
// to rest: droop is the integral's to cure, not the low-pass's.
func arrival(run sim.Run, from, to float64) float64 {
	y := run.From(sim.Rest)
	rest := y[len(y)-1]
	sum := 0.0
	for _, band := range arrivalBands {
		sum += math.Min(sim.StepFigures(y, run.Period, from, rest, band).Settling, arriveTime)
	}
	return sum
}
