package balance

import (
	"fmt"
	"math"

	"eha/strokewise/ident/plant"
	"eha/strokewise/ident/window"
)

const (
	restTime = 0.20 // s without travel that counts as rest
	// A start that reaches more than startSpeed (share of full speed) within
	// startTime (s) is too quick: its force rises through breakaway unseen.
	startSpeed = 0.15
	startTime  = 0.10
	leastStart = 3
	// startDoubt is how far breakaway seen at a start is off beside their spread, and
	// stribeckFactor the factor that the speed is known to: as found on simulated machines.
	startDoubt, stribeckFactor = 0.2, 1.7
)

// breakaway looks for the friction to be overcome from rest and for the speed
// below which friction rises. Starts out of rest give the first; the friction
// curve below the straight line's range gives the second:
//
//	F(v) = F_c + b·v + (F_s - F_c)·exp(-(v/v_s)²)
//
// Both are weak at best: the bristles of the seals bend differently at every start.
func (s *survey) breakaway(res *Result, l *line) {
	if !res.Coulomb.Known() {
		return
	}
	var peaks []float64
	for _, r := range s.records {
		peaks = append(peaks, r.starts(s, l)...)
	}
	rise, stribeck, found := lowSpeedRise(res.Friction, l, s.low)
	fc := res.Coulomb.Value
	value, half, from := fc+rise, rise, "friction curve at low speed, extended to rest"
	if len(peaks) >= leastStart {
		center, spread := middle(peaks)
		value, half, from = math.Max(center, fc), spread+startDoubt*center, fmt.Sprintf("%d starts out of rest", len(peaks))
		found = found || center > fc
	}
	if !found {
		return
	}
	res.Breakaway = plant.BreakawayForce.Found(value, math.Max(value-half, fc), math.Max(value+half, fc), from)
	weaken(&res.Breakaway, true)
	if rise > 0 {
		res.Stribeck = plant.StribeckSpeed.Found(stribeck, stribeck/stribeckFactor, stribeck*stribeckFactor, "friction curve at low speed")
		weaken(&res.Stribeck, true)
	}
}

// starts returns the largest friction force (N, positive) about each slow start out of rest.
func (r *record) starts(s *survey, l *line) []float64 {
	still, moving := 0.003*s.full, 0.01*s.full
	least, reach := int(restTime/r.period), int(startTime/r.period)
	force := window.Smooth(r.force, r.period, math.Max(0.003, r.period))
	var peaks []float64
	resting := 0
	for i := range r.speed {
		v := math.Abs(r.speed[i])
		if v < still && !r.mask.Bad(i) {
			resting++
			continue
		}
		if v < moving {
			continue // neither: keeps the count of rest before the start
		}
		if resting >= least && i+reach < len(force) && !r.mask.Bad(i) && math.Abs(r.speed[i+reach]) < startSpeed*s.full {
			peaks = append(peaks, r.peak(s, l, force, i, reach))
		}
		resting = 0
	}
	return peaks
}

// peak returns the largest friction force from just before sample i to the end of the start.
func (r *record) peak(s *survey, l *line, force []float64, i, reach int) float64 {
	direction := math.Copysign(1, r.speed[i])
	largest := math.Inf(-1)
	for k := max(i-reach/2, 1); k < i+reach && k+1 < len(force); k++ {
		inertia := l.coef(accel) * (r.speed[k+1] - r.speed[k-1]) / (2 * r.period)
		xi := (r.position[k] - s.center) / s.reach
		largest = math.Max(largest, direction*(force[k]-inertia+l.load(xi))-l.coef(speed)*math.Abs(r.speed[k]))
	}
	return largest
}

// lowSpeedRise fits rise F_s - F_c (N) and speed v_s (m/s) over the fitted line to
// the points of the friction curve slower than limit (m/s); false where there are few or they do not rise.
func lowSpeedRise(curve []plant.Point, l *line, limit float64) (rise, stribeck float64, found bool) {
	fc, b := l.coef(sign), l.coef(speed)
	var v, extra []float64
	for _, p := range curve {
		if a := math.Abs(p.X); a < limit {
			v = append(v, a)
			extra = append(extra, math.Copysign(1, p.X)*p.Y-fc-b*a)
		}
	}
	if len(v) < 6 {
		return 0, 0, false
	}
	best := math.Inf(1)
	total := 0.0
	for _, e := range extra {
		total += e * e
	}
	for k := range 60 { // a grid suffices: the answer is within a factor of two at best
		try := limit * math.Pow(10, -2*float64(k)/59)
		var ee, ey float64
		for i := range v {
			e := math.Exp(-v[i] * v[i] / (try * try))
			ee, ey = ee+e*e, ey+e*extra[i]
		}
		if ee == 0 {
			continue
		}
		if rss := total - ey*ey/ee; rss < best {
			best, rise, stribeck = rss, ey/ee, try
		}
	}
	if rise < 0.03*fc || best > 0.5*total {
		return 0, 0, false
	}
	return rise, stribeck, true
}
