package outputerror

import (
	"cmp"
	"math"
	"slices"

	"eha/strokewise/ident/trace"
)

// Stretch is a piece of log in which the rod keeps moving one way. All slices
// have one entry per sample; Cap and Rod are nil where not logged.
type Stretch struct {
	Log      string
	Start    float64   // s on the log's clock
	Period   float64   // s
	Angle    []float64 // rad
	Position []float64 // m
	Cap, Rod []float64 // Pa
}

// Duration returns the stretch's length (s).
func (s *Stretch) Duration() float64 { return float64(len(s.Angle)) * s.Period }

const (
	// A stretch holds some periods of the resonance, within limits (s): load and
	// slip drift along a straight line over a short one.
	periods, shortest, longest = 5, 0.4, 0.8
	fewestSamples              = 50
	// Shares of the fastest rod speed between which stretches are taken: above
	// the rise of friction near rest, below what opens further valves.
	slowest, swiftest = 0.05, 0.6
	// oneSided (Pa) across the pump keeps one chamber carrying.
	oneSided = 4e5
	// calmTime (s) is what the motor's speed is averaged over to tell liveliness
	// from a change of speed as a whole.
	calmTime  = 0.1
	speedHalf = 0.01 // s, to both sides of a rod speed
)

// candidate is a stretch that may be taken.
type candidate struct {
	from    int
	extends bool
	lively  float64
}

// Pick returns up to most stretches of the log, the liveliest: those in which the
// motor's speed changes most within a tenth of a second, half of them in each
// direction of travel. Gaps, reversals, slow travel and, where pressures are
// logged, changes of the chamber that carries are left out. omega (rad/s) is about
// the resonance's.
func Pick(t *trace.Trace, omega float64, most int) []Stretch {
	angle, okAngle := t.Samples(trace.MotorPosition)
	x, okRod := t.Samples(trace.RodPosition)
	if !okAngle || !okRod {
		return nil
	}
	cap, okCap := t.Samples(trace.CapPressure)
	rod, okPressures := t.Samples(trace.RodPressure)
	if okPressures = okPressures && okCap; !okPressures {
		cap, rod = nil, nil
	}
	n := int(math.Min(math.Max(periods*2*math.Pi/omega, shortest), longest) / t.Period())
	if n < fewestSamples {
		return nil
	}
	usable := usableSamples(t, x, cap, rod)
	lively := liveliness(angle, t.Period())
	var found []candidate
	for from := 0; from+n <= t.Len(); from += n / 4 {
		if c, ok := assess(from, n, usable, lively); ok {
			found = append(found, c)
		}
	}
	var picked []Stretch
	for _, from := range liveliest(found, n, most) {
		s := Stretch{Log: t.Name(), Start: t.TimeAt(from), Period: t.Period(), Angle: angle[from : from+n], Position: x[from : from+n]}
		if okPressures {
			s.Cap, s.Rod = cap[from:from+n], rod[from:from+n]
		}
		picked = append(picked, s)
	}
	return picked
}

// usableSamples returns +1 or -1 by direction where a sample may lie in a stretch, else 0.
func usableSamples(t *trace.Trace, x, cap, rod []float64) []int8 {
	usable := make([]int8, len(x))
	half := max(1, int(speedHalf/t.Period()))
	speed := make([]float64, len(x))
	var sizes []float64
	for i := half; i+half < len(x); i++ {
		speed[i] = (x[i+half] - x[i-half]) / (2 * float64(half) * t.Period())
		if i%10 == 0 {
			sizes = append(sizes, math.Abs(speed[i]))
		}
	}
	if len(sizes) == 0 {
		return usable
	}
	slices.Sort(sizes)
	fastest := sizes[len(sizes)*99/100]
	for i, v := range speed {
		size := math.Abs(v)
		if size < slowest*fastest || size > swiftest*fastest || cap != nil && math.Abs(cap[i]-rod[i]) < oneSided {
			continue
		}
		usable[i] = int8(math.Copysign(1, v))
	}
	for _, g := range t.Gaps() {
		clear(usable[g.From:g.To])
	}
	return usable
}

// liveliness returns the squared departure of the motor's speed from its own
// mean over calmTime, summed from the start of the log.
func liveliness(angle []float64, period float64) []float64 {
	sum := make([]float64, len(angle)+1)
	half := max(1, int(calmTime/2/period))
	for i := range angle {
		d := 0.0
		if i >= half && i+half < len(angle) {
			d = (angle[i+1]-angle[i-1])/(2*period) - (angle[i+half]-angle[i-half])/(2*float64(half)*period)
		}
		sum[i+1] = sum[i] + d*d
	}
	return sum
}

func assess(from, n int, usable []int8, lively []float64) (candidate, bool) {
	way := usable[from]
	if way == 0 {
		return candidate{}, false
	}
	for _, u := range usable[from : from+n] {
		if u != way {
			return candidate{}, false
		}
	}
	return candidate{from, way > 0, lively[from+n] - lively[from]}, true
}

// liveliest returns the starts of up to most candidates that do not overlap, in
// the order of the log.
func liveliest(found []candidate, n, most int) []int {
	slices.SortStableFunc(found, func(a, b candidate) int { return cmp.Compare(b.lively, a.lively) })
	var picked []int
	count := map[bool]int{}
	for _, c := range found {
		apart := !slices.ContainsFunc(picked, func(p int) bool { return c.from < p+n && p < c.from+n })
		if apart && count[c.extends] < (most+1)/2 {
			picked = append(picked, c.from)
			count[c.extends]++
		}
	}
	slices.Sort(picked)
	return picked
}
