package ident

import (
	"math"
	"slices"

	"eha/strokewise/ident/motion"
	"eha/strokewise/ident/plant"
	"eha/strokewise/ident/trace"
)

// survey of ranges: every thinBy-th sample will do, extremes but a few in ten
// thousand are kept.
const (
	thinBy     = 5
	rangeShare = 2e-4
)

// whatWasSeen gathers the ranges and the noise of all logs.
func (f *fitting) whatWasSeen() plant.Seen {
	s := plant.Seen{Accel: f.drive.Largest}
	s.Position = f.rangeOf(trace.RodPosition)
	s.Pressure.Cap, s.Pressure.Rod = f.rangeOf(trace.CapPressure), f.rangeOf(trace.RodPressure)
	s.Temperature = f.rangeOf(trace.OilTemperature)
	s.MotorSpeed = f.rateRange(motion.MotorSpeed)
	s.RodSpeed = f.rateRange(motion.RodSpeed)
	if f.stroke != nil {
		s.MismatchRate = f.stroke.MismatchRate
	}
	for _, t := range f.full {
		s.ClosedLoop = s.ClosedLoop || t.Has(trace.PositionCommand)
	}
	s.Force = f.forceRange()
	s.CellOffset = f.cellOffset()
	if f.contact.Contact.Known() || f.contact.Pressing.Known() {
		s.PressForce = f.contact.Force
	}
	s.Noise = plant.Noise{Position: f.restNoise(trace.RodPosition), Pressure: math.Max(f.restNoise(trace.CapPressure), f.restNoise(trace.RodPressure)), MotorAngle: f.restNoise(trace.MotorPosition)}
	s.Resolution = plant.Noise{Position: f.step(trace.RodPosition), Pressure: math.Max(f.step(trace.CapPressure), f.step(trace.RodPressure)), MotorAngle: f.step(trace.MotorPosition)}
	return s
}

// rangeOf returns smallest and largest sample of the channel over all logs, zeros
// without it.
func (f *fitting) rangeOf(c trace.Channel) [2]float64 { return f.ranges[c] }

// findRanges fills in the ranges of all channels.
func (f *fitting) findRanges() {
	f.ranges = map[trace.Channel][2]float64{}
	for _, c := range trace.Channels() {
		f.ranges[c] = f.extremes(c)
	}
}

func (f *fitting) extremes(c trace.Channel) [2]float64 {
	low, high := math.Inf(1), math.Inf(-1)
	for _, t := range f.full {
		x, ok := t.Samples(c)
		if !ok {
			continue
		}
		for _, part := range motion.Stretches(t, 1) {
			for _, v := range x[part.From:part.To] {
				low, high = min(low, v), max(high, v)
			}
		}
	}
	if low > high {
		return [2]float64{}
	}
	return [2]float64{low, high}
}

// rateRange returns the range of a speed over all logs, less the last few in
// ten thousand at each end, which are noise.
func (f *fitting) rateRange(of func(*trace.Trace) ([]float64, bool)) [2]float64 {
	var all []float64
	for _, t := range f.full {
		v, ok := of(t)
		if !ok {
			continue
		}
		for i := 0; i < len(v); i += thinBy {
			all = append(all, v[i])
		}
	}
	if len(all) == 0 {
		return [2]float64{}
	}
	slices.Sort(all)
	k := int(rangeShare * float64(len(all)))
	return [2]float64{math.Min(all[k], 0), math.Max(all[len(all)-1-k], 0)}
}

func (f *fitting) forceRange() [2]float64 {
	area, known := areas(f.machine)
	if !known {
		return [2]float64{}
	}
	low, high := math.Inf(1), math.Inf(-1)
	for _, t := range f.full {
		a, okA := t.Samples(trace.CapPressure)
		b, okB := t.Samples(trace.RodPressure)
		if !okA || !okB {
			continue
		}
		for i := 0; i < len(a); i += thinBy {
			v := a[i]*area.Cap - b[i]*area.Rod
			low, high = math.Min(low, v), math.Max(high, v)
		}
	}
	if low > high {
		return [2]float64{}
	}
	return [2]float64{low, high}
}

// restNoise is the standard deviation of the channel at rest, about a straight
// line over half a second, the median of all such pieces; 0 where unknown.
func (f *fitting) restNoise(c trace.Channel) float64 {
	var all []float64
	for i, t := range f.logs {
		x, ok := t.Samples(c)
		if !ok {
			continue
		}
		n := max(16, int(0.5/t.Period()))
		for _, s := range f.motion[i].Segments {
			for from := s.Span.From; s.Kind == motion.Rest && from+n <= s.Span.To; from += n {
				all = append(all, aboutLine(x[from:from+n]))
			}
		}
	}
	if len(all) == 0 {
		return 0
	}
	slices.Sort(all)
	return all[len(all)/2]
}

// aboutLine is the standard deviation about the least squares line.
func aboutLine(x []float64) float64 {
	n := float64(len(x))
	var sum, moment float64
	mid := (n - 1) / 2
	for i, v := range x {
		sum += v - x[0]
		moment += (float64(i) - mid) * (v - x[0])
	}
	mean, slope := sum/n, moment/(n*(n*n-1)/12)
	left := 0.0
	for i, v := range x {
		d := v - x[0] - mean - slope*(float64(i)-mid)
		left += d * d
	}
	return math.Sqrt(left / (n - 2))
}

// step is the smallest change of the channel between samples, its resolution as logged.
func (f *fitting) step(c trace.Channel) float64 {
	least := math.Inf(1)
	for _, t := range f.full {
		x, ok := t.Samples(c)
		if !ok {
			continue
		}
		r := f.rangeOf(c)
		floor := 1e-7 * (r[1] - r[0]) // rounding of the decimal text is no step
		for i := 1; i < min(len(x), 100_000); i++ {
			if d := math.Abs(x[i] - x[i-1]); d > floor && d < least {
				least = d
			}
		}
	}
	if math.IsInf(least, 1) {
		return 0
	}
	return least
}

// stretches returns the parts of a log between its gaps.
func stretches(t *trace.Trace) []trace.Span { return motion.Stretches(t, 2) }

// travelSeen is the largest rod position logged, or the travel where positions
// go below zero, for a machine file without a stroke; a metre without a rod position.
func (f *fitting) travelSeen() float64 {
	r := f.rangeOf(trace.RodPosition)
	if span := math.Max(r[1], r[1]-r[0]); span > 0 {
		return span
	}
	return 1
}
