package loop

import (
	"cmp"
	"math"
	"math/cmplx"
	"slices"

	"eha/strokewise/tuning/law"
)

// Interval is a range of gains, or of anything else, from Low to High.
type Interval struct{ Low, High float64 }

// MaxGain returns the largest k such that every gain from zero to k on the
// response g keeps the targets, in one pass over the frequencies:
//
//   - sensitivity: the smaller root of 1 + 2k·Re G + k²|G|² = 1/Ms², where Re G < 0;
//   - phase: 1/|G| where G is nearer to -180 degrees than the target;
//   - gain: 1/(GM·|Re G|) where G crosses the negative real axis.
//
// The response must be that of a loop that is stable at small gains. Omega serves
// only to say where the limit is met (rad/s). Without any limit it returns +Inf.
func MaxGain(omega []float64, g []complex128, t law.Targets) (k, at float64) {
	k = math.Inf(1)
	lower := func(limit, where float64) {
		if limit < k {
			k, at = limit, where
		}
	}
	c := 1 - 1/(t.SensitivityPeak*t.SensitivityPeak)
	cosine := math.Cos(t.PhaseMargin)
	for i, v := range g {
		re, im := real(v), imag(v)
		if i > 0 {
			if size, crosses := crossing(g[i-1], v); crosses {
				lower(1/(t.GainMargin*size), omega[i])
			}
		}
		if re >= 0 {
			continue
		}
		square := re*re + im*im
		if disc := re*re - square*c; disc >= 0 {
			lower((-re-math.Sqrt(disc))/square, omega[i])
		}
		if re*re > square*cosine*cosine {
			lower(1/math.Sqrt(square), omega[i])
		}
	}
	return k, at
}

// crossing returns |Re| where the line from a to b crosses the negative real axis.
func crossing(a, b complex128) (size float64, crosses bool) {
	ia, ib := imag(a), imag(b)
	if math.Signbit(ia) == math.Signbit(ib) {
		return 0, false
	}
	re := real(a)
	if ia != ib {
		re += (real(b) - re) * ia / (ia - ib)
	}
	return -re, re < 0
}

// PermittedGains returns the gains k on the response g that keep the targets and
// leave the loop stable, as disjoint intervals from small to large. Unlike
// MaxGain it serves loops that need a least gain, as those with two poles at the
// origin or an integral in a loop with slip. The last interval may end at +Inf;
// gains so small that |L| passes 1 below the first frequency are left out.
func PermittedGains(omega []float64, g []complex128, integrators int, t law.Targets) []Interval {
	forbidden := append(forbiddenByDisc(g, t), forbiddenByPhase(g, t)...)
	if integrators > 0 { // gains that cross 1 below the grid cannot be judged
		forbidden = append(forbidden, Interval{0, 1 / cmplx.Abs(g[0])})
	}
	for i := 1; i < len(g); i++ {
		if size, crosses := crossing(g[i-1], g[i]); crosses {
			forbidden = append(forbidden, Interval{1 / (t.GainMargin * size), 1 / size})
		}
	}
	var permitted []Interval
	for _, free := range gaps(forbidden) {
		if stableAt(omega, g, integrators, middle(free)) {
			permitted = append(permitted, free)
		}
	}
	return permitted
}

// forbiddenByDisc returns the gains at which the loop enters the disc round -1
// that the sensitivity peak forbids.
func forbiddenByDisc(g []complex128, t law.Targets) []Interval {
	c := 1 - 1/(t.SensitivityPeak*t.SensitivityPeak)
	return runs(len(g), func(i int) (Interval, bool) {
		re, square := real(g[i]), real(g[i])*real(g[i])+imag(g[i])*imag(g[i])
		disc := re*re - square*c
		if re >= 0 || disc < 0 {
			return Interval{}, false
		}
		return Interval{(-re - math.Sqrt(disc)) / square, (-re + math.Sqrt(disc)) / square}, true
	})
}

// forbiddenByPhase returns the gains at which |L| is 1 too near to -180 degrees.
func forbiddenByPhase(g []complex128, t law.Targets) []Interval {
	cosine := math.Cos(t.PhaseMargin)
	return runs(len(g), func(i int) (Interval, bool) {
		re, square := real(g[i]), real(g[i])*real(g[i])+imag(g[i])*imag(g[i])
		if re >= 0 || re*re <= square*cosine*cosine {
			return Interval{}, false
		}
		size := math.Sqrt(square)
		return Interval{1 / size, 1 / size}, true
	})
}

// runs joins the intervals of neighbouring indices, so that no gain slips through
// between two points of the grid.
func runs(n int, at func(int) (Interval, bool)) []Interval {
	var all []Interval
	joins := false
	for i := range n {
		now, has := at(i)
		switch {
		case has && joins:
			last := &all[len(all)-1]
			last.Low, last.High = min(last.Low, now.Low), max(last.High, now.High)
		case has:
			all = append(all, now)
		}
		joins = has
	}
	return all
}

// gaps returns what the intervals leave free between 0 and +Inf.
func gaps(taken []Interval) []Interval {
	slices.SortFunc(taken, func(a, b Interval) int { return cmp.Compare(a.Low, b.Low) })
	var free []Interval
	end := 0.0
	for _, t := range taken {
		if t.Low > end {
			free = append(free, Interval{end, t.Low})
		}
		end = max(end, t.High)
	}
	return append(free, Interval{end, math.Inf(1)})
}

func middle(i Interval) float64 {
	switch {
	case i.Low == 0 && math.IsInf(i.High, 1):
		return 1
	case math.IsInf(i.High, 1):
		return 2 * i.Low
	case i.Low == 0:
		return i.High / 2
	}
	return math.Sqrt(i.Low * i.High)
}

// stableAt counts on the samples alone, which is enough away from the forbidden gains.
func stableAt(omega []float64, g []complex128, integrators int, k float64) bool {
	return unstablePoles(Loop{Integrators: integrators}, samples{omega, g}, k) == 0
}
