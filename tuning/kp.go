package tuning

import (
	"math"
	"sort"

	"eha/strokewise/ident/plant"
	"eha/strokewise/tuning/law"
	"eha/strokewise/tuning/loop"
	"eha/strokewise/tuning/sim"
)

// lowpassShares are the corners of the low-pass on the demand that are tried, as
// shares of the lowest hydraulic frequency on the grid. None is tried too.
var lowpassShares = []float64{0, 0.35, 0.5, 0.7, 1, 1.4, 2}

// gainLimit is the largest kp at which the targets hold and what sets it.
type gainLimit struct {
	kp    float64 // 1/s
	at    corner
	omega float64 // rad/s, where the target is met
}

// gainLimits returns the limit for each low-pass (rad/s) over the corners of one direction.
func gainLimits(m *plant.Model, set law.Position, corners []corner, lowpasses []float64, t law.Targets, f loop.Fineness) []gainLimit {
	each := make([][]gainLimit, len(corners))
	sim.Each(len(corners), func(i int) { each[i] = limitsAt(m, set, corners[i], lowpasses, t, f) })
	limits := make([]gainLimit, len(lowpasses))
	for k := range limits {
		limits[k].kp = math.Inf(1)
		for i := range corners {
			if each[i][k].kp < limits[k].kp {
				limits[k] = each[i][k]
			}
		}
	}
	return limits
}

// limitsAt returns the limits at one corner. The plant is sampled once for all low-passes.
func limitsAt(m *plant.Model, set law.Position, c corner, lowpasses []float64, t law.Targets, f loop.Fineness) []gainLimit {
	l := loopAt(m, &set, c)
	limits := make([]gainLimit, len(lowpasses))
	if set.PressureDamping != 0 && !l.DampingStable(loop.Coarse) {
		return limits
	}
	grid := l.Grid(f)
	response := func() []complex128 { return make([]complex128, len(grid)) }
	plainOuter, plainInner, back := response(), response(), response()
	for i, omega := range grid {
		plainOuter[i], plainInner[i] = l.Parts(omega)
		back[i] = l.Hold.Back(omega)
	}
	outer, inner, filter := response(), response(), response()
	for k, corner := range lowpasses {
		l.Hold.Filter(filter, back, corner)
		for i, at := range filter {
			outer[i], inner[i] = plainOuter[i]*at, plainInner[i]*at
		}
		limits[k].at = c
		if set.PressureDamping == 0 {
			limits[k].kp, limits[k].omega = loop.MaxGain(grid, outer, t)
		} else {
			limits[k].kp, limits[k].omega = loop.MaxDampedGain(grid, outer, inner, t)
		}
	}
	return limits
}

// search is the outcome of the search for the fastest gains.
type search struct {
	lowpass float64
	limit   plant.PerDirection[gainLimit]
}

// searches returns, for each low-pass, the gains at which the targets hold over
// the grid on the model.
func (d *design) searches(m *plant.Model, set law.Position, f loop.Fineness) []search {
	corners := plant.PerDirection[[]corner]{Extend: d.corners(m, plant.Extend, d.delays), Retract: d.corners(m, plant.Retract, d.delays)}
	lowpasses := d.lowpasses(m, corners)
	extend := gainLimits(m, set, corners.Extend, lowpasses, d.opt.Targets, f)
	retract := gainLimits(m, set, corners.Retract, lowpasses, d.opt.Targets, f)
	list := make([]search, len(lowpasses))
	for k := range list {
		list[k] = search{lowpasses[k], plant.PerDirection[gainLimit]{Extend: extend[k], Retract: retract[k]}}
	}
	return list
}

// fastest returns the one of searches with the best product of both directions' gains.
func (d *design) fastest(m *plant.Model, set law.Position, f loop.Fineness) search {
	var best search
	for i, s := range d.searches(m, set, f) {
		if i == 0 || s.product() > best.product() {
			best = s
		}
	}
	return best
}

// lowpasses returns the corners to try (rad/s), as they can be typed.
func (d *design) lowpasses(m *plant.Model, corners plant.PerDirection[[]corner]) []float64 {
	if !d.p.Machine.Controller.SpeedLowpass.Or(true) {
		return []float64{0}
	}
	lowest := d.lowestMode(m, corners)
	tried := []float64{}
	for _, share := range lowpassShares {
		tried = append(tried, d.typed.down("speed_lowpass", share*lowest, inHz))
	}
	sort.Float64s(tried)
	return distinct(tried)
}

// lowestMode returns the lowest hydraulic frequency (rad/s) over the corners.
func (d *design) lowestMode(m *plant.Model, corners plant.PerDirection[[]corner]) float64 {
	lowest := math.Inf(1)
	for _, dir := range []plant.Direction{plant.Extend, plant.Retract} {
		for _, c := range corners.At(dir) {
			axis := loop.NewAxis(m, c.place)
			lowest = min(lowest, c.mode.frequency*axis.Natural())
		}
	}
	return lowest
}

// drawnLimit returns the kp (1/s) that nine of ten models drawn from the fit's
// uncertainty bear with slightly weaker targets. The targets themselves hold on
// the fitted plant; this takes speed only where parameters are weak.
func (d *design) drawnLimit(set law.Position, dir plant.Direction) float64 {
	if len(d.draws) == 0 {
		return math.Inf(1)
	}
	weaker := law.Targets{
		SensitivityPeak: 1 + 1.2*(d.opt.Targets.SensitivityPeak-1),
		GainMargin:      1 + (d.opt.Targets.GainMargin-1)/1.2,
		PhaseMargin:     d.opt.Targets.PhaseMargin / 1.1,
	}
	limits := make([]float64, len(d.draws))
	sim.Each(len(d.draws), func(i int) {
		m := &d.draws[i]
		corners := d.corners(m, dir, []float64{m.OuterDelay})
		limits[i] = gainLimits(m, set, corners, []float64{set.Lowpass}, weaker, loop.Coarse)[0].kp
	})
	sort.Float64s(limits)
	return limits[len(limits)/10]
}

// tune fills in the low-pass found and the largest gains that keep the targets over
// the grid, with the share that is asked for, as they can be typed.
func (d *design) tune(set *law.Position, found search) search {
	set.Lowpass = found.lowpass
	for _, dir := range []plant.Direction{plant.Extend, plant.Retract} {
		corners := d.corners(&d.model, dir, d.delays)
		limit := gainLimits(&d.model, *set, corners, []float64{set.Lowpass}, d.opt.Targets, loop.Fine)[0]
		limit.kp = min(limit.kp, d.drawnLimit(*set, dir))
		found.limit.Set(dir, limit)
		set.Kp.Set(dir, d.opt.GainShare*limit.kp)
	}
	d.sameGains(set)
	return found
}

// sameGains makes both directions' gains one where the controller holds only
// one, and rounds them down.
func (d *design) sameGains(set *law.Position) {
	for _, pair := range []struct {
		name string
		gain *plant.PerDirection[float64]
	}{{"kp", &set.Kp}, {"ki", &set.Ki}} {
		if d.p.Machine.Controller.OneGain {
			least := min(pair.gain.Extend, pair.gain.Retract)
			*pair.gain = plant.PerDirection[float64]{Extend: least, Retract: least}
		}
		pair.gain.Extend = d.typed.down(pair.name, pair.gain.Extend, 1)
		pair.gain.Retract = d.typed.down(pair.name, pair.gain.Retract, 1)
	}
}
