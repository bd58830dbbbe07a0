package tuning

import (
	"context"
	"math"
	"slices"
	"sort"

	"eha/strokewise/ident/plant"
	"eha/strokewise/tuning/law"
	"eha/strokewise/tuning/loop"
	"eha/strokewise/tuning/sim"
)

// forceOvershoot is the share of the step that a proposed force step may show
// before the search looks for something else. It lies well inside the 2 % that
// count as settled: a step that grazes that edge settles now or a second later.
const forceOvershoot = 0.01

// forceLowpasses are the corners of the low-pass on the measured force that are
// tried, as shares of the lowest frequency of the mass between oil and contact; 0 is none.
// That mode is hardly damped while the rod slides, and limits kp without it.
var forceLowpasses = []float64{0, 1, 0.5, 0.25, 0.12}

// forceShares are the shares of the highest kp that are tried.
var forceShares = []float64{1, 0.7}

// proposeForce designs the force loop: on the stiffest contact of the range,
// gains, their ratio and low-pass chosen by simulation, limits so that neither an
// approach nor a position command that runs on passes the force limit. Where none is proposed, why says so.
func (d *design) proposeForce(ctx context.Context, position *law.Position) (found forceLoop, why string) {
	p, why := d.newPressing()
	if why != "" {
		return found, why
	}
	set := p.best(position)
	if ctx.Err() != nil {
		return found, "cancelled"
	}
	if set == nil || !p.secure(set) {
		return found, "no gain keeps the targets on the stiffest contact; shorten the delays, or ask for less margin"
	}
	p.slowDown(position, set)
	found.set = set
	found.margins, found.worst = p.margins(set, loop.Fine)
	found.steps = p.predict(position, set)
	found.events = p.events(law.Loops{Position: position, Force: set})
	p.remarks(position, set)
	return found, ""
}

// forceLoop is a force loop with all that stands behind it.
type forceLoop struct {
	set     *law.Force
	margins []Margin
	worst   Margin
	steps   []Step
	events  []PressEvent
}

// forceCandidate is a force loop to try with how it did.
type forceCandidate struct {
	set  law.Force
	cost float64
}

// best returns the candidate whose force steps settle soonest in simulation, nil
// where no gain keeps the targets.
func (p *pressing) best(position *law.Position) *law.Force {
	all := p.candidates(position)
	sim.Each(len(all), func(i int) {
		if !p.d.over() {
			all[i].cost = p.cost(position, &all[i].set)
		}
	})
	var best *forceCandidate
	for i := range all {
		if best == nil || all[i].cost < best.cost {
			best = &all[i]
		}
	}
	if best == nil {
		return nil
	}
	return &best.set
}

// candidates returns settings that keep the targets: for each ratio of the gains
// the low-pass that allows the highest kp, and shares of that kp.
func (p *pressing) candidates(position *law.Position) []forceCandidate {
	ratios, corners := p.ratios(), p.lowpasses()
	points := p.grid(&law.Force{})
	tops := make([]float64, len(ratios)*len(corners))
	sim.Each(len(tops), func(i int) {
		tops[i] = highestGain(points, ratios[i/len(corners)], corners[i%len(corners)], p.d.opt.Targets)
	})
	var all []forceCandidate
	for i, ratio := range ratios {
		top, corner := 0.0, 0.0
		for k, c := range corners {
			// A low-pass that brings next to nothing is one setting too many.
			if tops[i*len(corners)+k] > 1.05*top {
				top, corner = tops[i*len(corners)+k], c
			}
		}
		for _, share := range forceShares {
			set := p.limits(position)
			set.Lowpass = corner
			set.Kp = p.d.typed.down("force_kp", p.d.opt.GainShare*share*top, revPerSPerN)
			set.Ki = p.d.typed.down("force_ki", ratio*set.Kp, revPerSPerN)
			if set.Kp > 0 {
				all = append(all, forceCandidate{set: set})
			}
		}
	}
	return all
}

// highestGain returns the largest kp (rad/s per N) that keeps the targets at all
// points with ki = ratio·kp and the low-pass (rad/s), 0 where there is none. The search goes
// from the top: with an integral the permitted gains need not begin at zero.
func highestGain(points []pressPoint, ratio, lowpass float64, t law.Targets) float64 {
	var permitted []loop.Interval
	for i, point := range points {
		point.loop.Lowpass = lowpass
		here := point.loop.PermittedGains(ratio, t, loop.Coarse)
		if i > 0 {
			here = loop.Common(permitted, here)
		}
		if permitted = here; len(here) == 0 {
			return 0
		}
	}
	for i := len(permitted) - 1; i >= 0; i-- {
		if top := permitted[i].High; !math.IsInf(top, 1) {
			return top
		}
	}
	return 0
}

// ratios returns the ki/kp (1/s) to try: the corner at which slip stops storing
// force, for a rod that slides against the contact and for one that friction
// holds, and between them.
func (p *pressing) ratios() []float64 {
	at := p.place(0.5, 1)
	slides := loop.NewPressing(&p.model, at, p.contact.Stiffness, p.model.OuterDelay)
	sticks := loop.NewPressing(&p.model, at, math.Inf(1), p.model.OuterDelay)
	a, b := slides.LeakCorner(), sticks.LeakCorner()
	list := []float64{a, math.Cbrt(a * a * b), math.Cbrt(a * b * b), b}
	sort.Float64s(list)
	return distinct(list)
}

// lowpasses returns the corners (rad/s) of the low-pass on the measured force to try.
func (p *pressing) lowpasses() []float64 {
	lowest := math.Inf(1)
	for _, point := range p.grid(&law.Force{}) {
		if !math.IsInf(point.stiff, 1) {
			lowest = min(lowest, point.loop.Natural())
		}
	}
	var corners []float64
	for _, share := range forceLowpasses {
		corners = append(corners, p.d.typed.down("force_lowpass", share*lowest, inHz))
	}
	return corners
}

// secure lowers the gains until the margins, counted anew on the settings as they
// can be typed, hold at every point of the grid. It reports whether they do.
func (p *pressing) secure(set *law.Force) bool {
	ratio := set.Ki / set.Kp
	for range 60 {
		if margins, _ := p.margins(set, loop.Fine); keeps(margins, p.d.opt.Targets) {
			return set.Kp > 0
		}
		set.Kp = p.d.typed.down("force_kp", 0.985*set.Kp, revPerSPerN)
		set.Ki = p.d.typed.down("force_ki", ratio*set.Kp, revPerSPerN)
	}
	return false
}

// cost is what a candidate's force steps cost (s): their mean time to settle well
// inside the band, and a second for each per cent of overshoot beyond what is wanted.
func (p *pressing) cost(position *law.Position, set *law.Force) float64 {
	run := p.run(p.atStiffness(p.contact.Stiffness), law.Loops{Position: position, Force: set}, p.onContact(set, trialHold))
	sum := 0.0
	for _, o := range p.figures(&run) {
		sum += min(o.tight, trialHold)/2 + 50*max(0, o.Overshoot-forceOvershoot)
	}
	return sum
}

// slowDown lowers the speed limit, and the approach with it, until no approach
// passes the force limit in simulation; not below what slip asks for.
func (p *pressing) slowDown(position *law.Position, set *law.Force) {
	floor := p.d.typed.up("speed_limit", leastHolding*p.holdingSpeed(), inRPM)
	perTurn := p.model.StrokePerTurn(p.chamber)
	for set.SpeedLimit > floor && p.hardest(position, set) > p.limit {
		set.SpeedLimit = max(floor, p.d.typed.down("speed_limit", 0.75*set.SpeedLimit, inRPM))
		set.ApproachSpeed = min(set.ApproachSpeed, p.d.typed.down("approach_speed", set.SpeedLimit*perTurn, inMM))
	}
}

// hardest returns the largest force (N) on piston or work piece in an approach to the
// stiffest contact where the position command runs on beyond it, with the heaviest mass and
// the longest outer delay that the logs leave possible.
func (p *pressing) hardest(position *law.Position, set *law.Force) float64 {
	heaviest := p.d.factors[len(p.d.factors)-1]
	m := p.atStiffness(p.stiffest())
	m.OuterDelay = slices.Max(p.d.delays)
	on := p.play(m, law.Loops{Position: position, Force: set}, heaviest, p.runsOnPlay())
	return p.peak(&on, heaviest)
}

// sign returns the sign of the force while pressing.
func (p *pressing) sign() float64 { return p.contact.Presses.Sign() }

// holdingPressure returns the pressure (Pa) in the chamber that presses with the force limit.
func (p *pressing) holdingPressure() float64 {
	return p.model.PressureFor(p.chamber, p.sign()*p.limit)
}

// holdingSpeed returns the motor speed (rad/s) that slip takes at the force limit.
func (p *pressing) holdingSpeed() float64 {
	return p.model.Leakage * p.holdingPressure() / p.model.Displacement
}

// carries names the chamber that presses in the direction.
func carries(presses plant.Direction) plant.Chamber {
	if presses == plant.Retract {
		return plant.Rod
	}
	return plant.Cap
}
