package sim

import "math"

// Figures are those of a step response.
type Figures struct {
	Rise      float64 // s, from 10 to 90 % of the step, +Inf where 90 % is not reached
	Settling  float64 // s, from the step to the last entry into the band, +Inf where it does not stay there
	Overshoot float64 // share of the step beyond its end
	PeakTime  float64 // s, of the largest excursion
}

// StepFigures returns the figures of the response y, sampled with the period (s)
// from the step on, that should go from one value to another. The band is a share of the
// step about its end, 0.02 as a rule. Crossings are interpolated linearly.
func StepFigures(y []float64, period, from, to, band float64) Figures {
	share := func(i int) float64 { return (y[i] - from) / (to - from) }
	f := Figures{Rise: math.Inf(1), Settling: math.Inf(1)}
	tenth, ninety := firstAt(len(y), share, 0.1), firstAt(len(y), share, 0.9)
	f.Rise = (ninety - tenth) * period
	if math.IsInf(ninety, 1) {
		f.Rise = math.Inf(1)
	}
	for i := range y {
		if over := share(i) - 1; over > f.Overshoot {
			f.Overshoot, f.PeakTime = over, float64(i)*period
		}
	}
	f.Settling = lastOutside(len(y), share, band) * period
	return f
}

// firstAt returns the first index, between samples, at which share reaches level.
func firstAt(n int, share func(int) float64, level float64) float64 {
	for i := range n {
		if share(i) < level {
			continue
		}
		if i == 0 {
			return 0
		}
		before := share(i - 1)
		return float64(i) - (share(i)-level)/(share(i)-before)
	}
	return math.Inf(1)
}

// lastOutside returns the index, between samples, at which share enters the band
// about 1 for good.
func lastOutside(n int, share func(int) float64, band float64) float64 {
	for i := n - 1; i >= 0; i-- {
		off := math.Abs(share(i) - 1)
		if off <= band {
			continue
		}
		if i == n-1 {
			return math.Inf(1)
		}
		next := share(i+1) - 1
		edge := math.Copysign(band, share(i)-1)
		return float64(i) + (share(i)-1-edge)/(share(i)-1-next)
	}
	return 0
}

// From returns the part of a run's position from the time t (s) on.
func (r Run) From(t float64) []float64 {
	return r.Position[min(int(math.Round(t/r.Period)), len(r.Position)-1):]
}
