package balance

import (
	"fmt"
	"math"
	"slices"

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
	startDoubt, stribeckFactor = 0.2, 1.6
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
	for _, rec := range s.records {
		peaks = append(peaks, rec.starts(s, l)...)
	}
	r, found := lowSpeedRise(res.Friction, l, s.low)
	fc := res.Coulomb.Value
	value, half, from := fc+r.force, r.force, "friction curve at low speed, extended to rest"
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
	if r.force > 0 {
		res.Stribeck = plant.StribeckSpeed.Found(r.stribeck, r.span[0]/stribeckFactor, r.span[1]*stribeckFactor, "friction curve at low speed")
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

// rise is how friction rises over the fitted line towards rest.
type rise struct {
	force    float64    // N, F_s - F_c
	stribeck float64    // m/s
	span     [2]float64 // m/s, the speeds v_s that explain the curve hardly worse
}

// profileLoss is the likelihood's loss at the ends of a 95 % interval, chi² of one unknown.
const profileLoss = 3.84

// lowSpeedRise fits the rise over the fitted line to the points of the friction
// curve slower than limit (m/s); false where there are few or they do not rise.
func lowSpeedRise(curve []plant.Point, l *line, limit float64) (rise, bool) {
	fc, b := l.coef(sign), l.coef(speed)
	var v, extra []float64
	for _, p := range curve {
		if a := math.Abs(p.X); a < limit {
			v = append(v, a)
			extra = append(extra, math.Copysign(1, p.X)*p.Y-fc-b*a)
		}
	}
	if len(v) < 6 {
		return rise{}, false
	}
	total := 0.0
	for _, e := range extra {
		total += e * e
	}
	var r rise
	best, slowest := math.Inf(1), slices.Min(v)
	var tried [stribeckGrid]struct{ speed, left float64 }
	for k := range tried { // a grid suffices: the answer is within a factor of two at best
		try := limit * math.Pow(10, -2*float64(k)/(stribeckGrid-1))
		if try < slowest {
			// Extended to rest from travel no slower, the rise could be any size.
			tried[k].left = math.Inf(1)
			continue
		}
		var ee, ey float64
		for i := range v {
			e := math.Exp(-v[i] * v[i] / (try * try))
			ee, ey = ee+e*e, ey+e*extra[i]
		}
		left := total - ey*ey/ee
		tried[k].speed, tried[k].left = try, left
		if left < best {
			best, r.force, r.stribeck = left, ey/ee, try
		}
	}
	if r.force < 0.03*fc || best > 0.5*total {
		return rise{}, false
	}
	r.span = [2]float64{r.stribeck, r.stribeck}
	for _, t := range tried {
		if t.left < best*(1+profileLoss/float64(len(v)-2)) {
			r.span[0], r.span[1] = math.Min(r.span[0], t.speed), math.Max(r.span[1], t.speed)
		}
	}
	return r, true
}

// stribeckGrid is how many speeds over two decades are tried.
const stribeckGrid = 60
