package contact

import (
	"fmt"
	"math"

	"eha/strokewise/ident/plant"
)

// holdWindow is the length (s) of the pieces over which turns, pressure and
// force are balanced for slip and direct stiffness.
const holdWindow = 0.25

// gain finds the pressing stiffness: from capacity and contact where both are
// known, directly from the turns otherwise, each as a check on the other.
func (res *Result) gain(ramps []ramp, known Known) {
	res.fromTurns(ramps, known.Slip)
	area := known.Area.At(chamberOf(res.Presses))
	if known.Oil == nil || known.Displacement <= 0 || area <= 0 || !res.Contact.Known() {
		res.Pressing = res.Direct
		return
	}
	k := res.Contact.Value
	compliance, ok := res.capacity(ramps, known)
	if !ok {
		res.Pressing = res.Direct
		return
	}
	series := compliance + area*area/k
	gain := area * known.Displacement / series
	oil := known.OilDoubt.At(chamberOf(res.Presses)) * compliance / series
	contact := res.Contact.HalfWidth() / k * (area * area / k) / series
	relative := math.Hypot(math.Hypot(oil, contact), 0.03)
	res.Pressing = plant.PressingStiffness.Found(gain, gain/(1+relative), gain*(1+relative), "capacity of the pressing chamber and contact stiffness")
	if res.Direct.Known() && math.Abs(res.Direct.Value-gain) > res.Direct.HalfWidth()+res.Pressing.HalfWidth() {
		res.Pressing.Status = plant.Weak
		res.Warnings = append(res.Warnings, fmt.Sprintf("pressing stiffness %.3g kN/rev from capacity and contact, %.3g kN/rev from the turns",
			gain*plant.PressingStiffness.Info().Factor, res.Direct.Value*plant.PressingStiffness.Info().Factor))
	}
}

// chamberOf returns the chamber that presses in the direction.
func chamberOf(d plant.Direction) plant.Chamber {
	if d == plant.Retract {
		return plant.Rod
	}
	return plant.Cap
}

// capacity returns the compliance (m³/Pa) of the pressing chamber at the middle
// of the pressures seen while the force rose; false without pressures.
func (res *Result) capacity(ramps []ramp, known Known) (compliance float64, ok bool) {
	low, high := math.Inf(1), math.Inf(-1)
	var x, n float64
	for _, r := range ramps {
		if r.pressure == nil {
			continue
		}
		r.loading(func(i int, _ float64) {
			low, high = math.Min(low, r.pressure[i]), math.Max(high, r.pressure[i])
			x, n = x+r.position[i], n+1
		})
	}
	if n == 0 {
		return 0, false
	}
	chamber := chamberOf(res.Presses)
	swept := known.Area.At(chamber) * x / n
	if chamber == plant.Rod {
		swept = known.Area.Rod * (known.Stroke - x/n)
	}
	return known.Oil.At(chamber).Compliance(math.Max(swept, 0), (low+high)/2), true
}

// fromTurns fits, over pieces of the pressing stretches in which the force rose
// or held,
//
//	Δθ = slip·∫(p_cap - p_rod) dt + ΔF/K
//
// for the slip (rad/s per Pa) and the pressing stiffness K (N/rad). Rises alone
// give K with the slip given; with plateaux as well both follow.
func (res *Result) fromTurns(ramps []ramp, slip float64) {
	var both, rises pieces
	for _, r := range ramps {
		if r.angle == nil || r.across == nil {
			continue
		}
		r.pieces(func(turns, push, gained float64, fresh bool) {
			both.add(turns, push, gained)
			if fresh && gained*r.presses.Sign() > 0.02*r.rise() {
				rises.add(turns-slip*push, 0, gained)
			}
		})
	}
	if k, sigma, ok := rises.stiffness(); ok {
		half := 2*sigma + 0.1*k
		res.Direct = plant.PressingStiffness.Found(k, k-half, k+half, "turns against force while it rises")
	}
	if c, sigma, ok := both.slip(); ok {
		half := 2*sigma + 0.05*c
		res.Slip = plant.Slip.Found(c, c-half, c+half, "turns needed to hold the force")
	}
}

// pieces calls use with the motor angle (rad), the pressure integral (Pa·s) and
// the force gained (N) of successive pieces in which the force does not ease off.
// They are fresh if the force starts at the highest yet: after easing off, seals
// that stick make it rise more per turn.
func (r *ramp) pieces(use func(turns, push, gained float64, fresh bool)) {
	step := max(int(holdWindow/r.period), 8)
	half := step / 8
	angle, across := smooth(r.angle, half), r.across
	sign, rise := r.presses.Sign(), r.rise()
	top := 0.0
	for a := 0; a+step < len(r.force); a += step {
		b := a + step
		for _, f := range r.force[max(a-step, 0):a] {
			top = math.Max(top, sign*(f-r.force[0]))
		}
		gained := r.force[b] - r.force[a]
		above := sign * (r.force[a] - r.force[0])
		if above < lowShare*rise || sign*gained < -0.005*rise {
			continue
		}
		push := 0.0
		for i := a; i < b; i++ {
			push += (across[i] + across[i+1]) / 2 * r.period
		}
		use(angle[b]-angle[a], push, gained, above > top-0.01*rise)
	}
}

// pieces sums the normal equations of turns on push and gain.
type pieces struct{ pp, pg, gg, tp, tg, tt, n float64 }

func (s *pieces) add(turns, push, gained float64) {
	s.pp += push * push
	s.pg += push * gained
	s.gg += gained * gained
	s.tp += turns * push
	s.tg += turns * gained
	s.tt += turns * turns
	s.n++
}

// stiffness returns gain per turn (N/rad) with its standard deviation, from rises alone.
func (s *pieces) stiffness() (k, sigma float64, ok bool) {
	if s.n < 4 || s.tg <= 0 {
		return 0, 0, false
	}
	perForce := s.tg / s.gg
	rss := math.Max(s.tt-perForce*s.tg, 0)
	k = 1 / perForce
	return k, k * math.Sqrt(rss/(s.n-1)/s.gg) / perForce, true
}

// slip returns the slip (rad/s per Pa) with its standard deviation, unless push
// and gain cannot be parted.
func (s *pieces) slip() (c, sigma float64, ok bool) {
	det := s.pp*s.gg - s.pg*s.pg
	if s.n < 6 || det <= 0.02*s.pp*s.gg {
		return 0, 0, false
	}
	c = (s.tp*s.gg - s.tg*s.pg) / det
	g := (s.tg*s.pp - s.tp*s.pg) / det
	rss := math.Max(s.tt-c*s.tp-g*s.tg, 0)
	return c, math.Sqrt(rss / (s.n - 2) * s.gg / det), c > 0
}
