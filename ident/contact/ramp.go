package contact

import (
	"math"

	"eha/strokewise/ident/plant"
	"eha/strokewise/ident/trace"
)

// ramp is one rise of the pressing force with all samples up to its release,
// smoothed. Gaps cut ramps.
type ramp struct {
	presses  plant.Direction
	period   float64 // s
	force    []float64
	position []float64 // m
	angle    []float64 // rad; nil without an encoder
	pressure []float64 // Pa, of the pressing chamber; nil without pressures
	across   []float64 // Pa, cap less rod; nil without pressures
}

// rise returns how far the force goes beyond its start (N), positive.
func (r *ramp) rise() float64 {
	most := 0.0
	for _, f := range r.force {
		most = math.Max(most, r.presses.Sign()*(f-r.force[0]))
	}
	return most
}

// force returns the force (N) of each sample, positive pushing the rod out: that
// of the pressures where they and the areas are known, else the load cell's.
func force(t *trace.Trace, area plant.PerChamber[float64]) ([]float64, bool) {
	p1, ok1 := t.Samples(trace.CapPressure)
	p2, ok2 := t.Samples(trace.RodPressure)
	if !ok1 || !ok2 || area.Cap <= 0 || area.Rod <= 0 {
		return t.Samples(trace.Force)
	}
	f := make([]float64, len(p1))
	for i := range f {
		f[i] = area.Cap*p1[i] - area.Rod*p2[i]
	}
	return f, true
}

// collect cuts the stretches into ramps.
func collect(presses []Press, known Known) []ramp {
	var ramps []ramp
	for _, p := range presses {
		f, ok := force(p.Trace, known.Area)
		x, okX := p.Trace.Samples(trace.RodPosition)
		if !ok || !okX {
			continue
		}
		half := int(math.Round(smoothing / p.Trace.Period()))
		ahead := int(math.Round(known.Lag / p.Trace.Period()))
		for _, s := range outside(p.Span, p.Trace.Gaps()) {
			if s.Len() < 4*half+bins {
				continue
			}
			f := smooth(f[s.From:s.To], half)
			ramps = append(ramps, cut(p.Trace, s, pressing(f, known.FreeForce), f, smooth(advanced(x, s, ahead), half))...)
		}
	}
	return ramps
}

// advanced returns the samples of the span read ahead samples later, the ends of y held.
func advanced(y []float64, s trace.Span, ahead int) []float64 {
	out := make([]float64, s.Len())
	for i := range out {
		out[i] = y[min(max(s.From+i+ahead, 0), len(y)-1)]
	}
	return out
}

// pressing returns the direction in which a stretch with the force f (N) presses:
// the side of free travel's force on which it lies on average; where that is
// unknown, the one in which the force goes further from where it starts.
func pressing(f []float64, free *plant.PerDirection[float64]) plant.Direction {
	low, high := extremes(f)
	beyond := high + low - 2*f[0]
	if free != nil {
		beyond = mean(f) - (free.Extend+free.Retract)/2
	}
	if beyond < 0 {
		return plant.Retract
	}
	return plant.Extend
}

// cut splits one stretch where the force has fallen back to under a fifth of its range.
func cut(t *trace.Trace, s trace.Span, presses plant.Direction, f, x []float64) []ramp {
	low, high := extremes(f)
	sign, span := presses.Sign(), high-low
	base := math.Min(sign*low, sign*high)
	var ramps []ramp
	from, risen := 0, false
	for i := range f {
		level := (sign*f[i] - base) / span
		risen = risen || level > 0.5
		if last := i == len(f)-1; risen && (level < 0.2 || last) {
			ramps = append(ramps, newRamp(t, s.From+from, presses, f[from:i+1], x[from:i+1]))
			from, risen = i, false
		}
	}
	return ramps
}

func newRamp(t *trace.Trace, from int, presses plant.Direction, f, x []float64) ramp {
	r := ramp{presses: presses, period: t.Period(), force: f, position: x}
	if angle, ok := t.Samples(trace.MotorPosition); ok {
		r.angle = angle[from : from+len(f)]
	}
	p1, ok1 := t.Samples(trace.CapPressure)
	p2, ok2 := t.Samples(trace.RodPressure)
	if !ok1 || !ok2 {
		return r
	}
	r.pressure = p1[from : from+len(f)]
	if presses == plant.Retract {
		r.pressure = p2[from : from+len(f)]
	}
	r.across = make([]float64, len(f))
	for i := range f {
		r.across[i] = p1[from+i] - p2[from+i]
	}
	return r
}

// binned returns mean force (X, N) and mean position (Y, m) of the loading
// samples in bins of equal width over the rise from low to high (N above the start).
func (r *ramp) binned(low, high float64) []plant.Point {
	var sum [bins]plant.Point
	var n [bins]float64
	r.loading(func(i int, rise float64) {
		b := int(math.Floor(bins * (rise - low) / (high - low)))
		if b >= 0 && b < bins {
			sum[b].X += r.force[i]
			sum[b].Y += r.position[i]
			n[b]++
		}
	})
	var points []plant.Point
	for b := range sum {
		if n[b] > 0 {
			points = append(points, plant.Point{X: sum[b].X / n[b], Y: sum[b].Y / n[b]})
		}
	}
	return points
}

// loading calls use for every sample in which the force exceeds all before it,
// with the rise above the ramp's start (N).
func (r *ramp) loading(use func(i int, rise float64)) {
	top := 0.0
	for i, f := range r.force {
		if rise := r.presses.Sign() * (f - r.force[0]); rise > top {
			top = rise
			use(i, rise)
		}
	}
}

// centre returns mean force and position of the loading samples above the rise low.
func (r *ramp) centre(low float64) (plant.Point, bool) {
	points := r.binned(low, math.Nextafter(r.rise(), math.Inf(1)))
	var c plant.Point
	for _, p := range points {
		c.X += p.X / float64(len(points))
		c.Y += p.Y / float64(len(points))
	}
	return c, len(points) > 0
}

// smooth returns the mean over half samples to either side, fewer at the ends.
func smooth(y []float64, half int) []float64 {
	sums := make([]float64, len(y)+1)
	for i, v := range y {
		sums[i+1] = sums[i] + v
	}
	out := make([]float64, len(y))
	for i := range y {
		h := min(half, i, len(y)-1-i)
		out[i] = (sums[i+h+1] - sums[i-h]) / float64(2*h+1)
	}
	return out
}

// outside returns the parts of the span outside the gaps, which are sorted.
func outside(s trace.Span, gaps []trace.Span) []trace.Span {
	var parts []trace.Span
	from := s.From
	for _, g := range gaps {
		if g.To <= from || g.From >= s.To {
			continue
		}
		if g.From > from {
			parts = append(parts, trace.Span{From: from, To: g.From})
		}
		from = g.To
	}
	if from < s.To {
		parts = append(parts, trace.Span{From: from, To: s.To})
	}
	return parts
}

func extremes(y []float64) (low, high float64) {
	low, high = math.Inf(1), math.Inf(-1)
	for _, v := range y {
		low, high = math.Min(low, v), math.Max(high, v)
	}
	return low, high
}
