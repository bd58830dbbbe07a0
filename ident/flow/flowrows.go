package flow

import (
	"math"

	"eha/strokewise/ident/plant"
	"eha/strokewise/ident/window"
)

const (
	// oilWindow is the width (s) of the windows of the capacity equation: long
	// enough for coarse position sensors, short enough for 60 Hz.
	oilWindow = 0.08
	oilStride = 0.01 // s
	// maxOilWindows bounds the windows of all logs together; the stride grows with the logs.
	maxOilWindows = 12000
	// speedHalf is the half-width (s) over which the motor's direction is told.
	speedHalf = 0.005
)

// flowRows are the windows of the capacity equation in which one chamber
// carries, over all logs, one entry per window.
type flowRows struct {
	net   []float64 // m³, ∫φ·(D(n - n_comp) - L·Δp - A_h·v) dt, + into the chamber
	gain  []float64 // Pa, ∫φ·p_h' dt, sensor's lag taken out
	air   []float64 // ∫φ·d(-airTerm)/dt dt
	swept []float64 // m³, volume opened by the piston in the chamber
	turn  []float64 // rad, ∫φ·n dt
	span  []float64 // s, ∫φ dt
	noise []float64 // Pa, one standard deviation of gain
	soft  []float64 // 1/Pa, g at the window's pressure
	time  float64   // s, that all windows cover
	block []int
}

// flowSeries holds the inner products of one log with the bump, one entry per window.
type flowSeries struct {
	slider           *window.Slider
	turn, turnRate   []float64 // ∫φ·n, ∫φ·n'
	driven           []float64 // ∫φ·n_comp
	across           []float64
	travel, position []float64
	gain, air        plant.PerChamber[[]float64]
	level            plant.PerChamber[[]float64] // ∫φ·p
	noise            plant.PerChamber[float64]   // of gain
	side             []int
	usable           []bool
	unit             float64 // ∫φ dt
}

// slideFlow computes the series of one log.
func slideFlow(c channels, s *Stroke, lag, stride, relief float64) *flowSeries {
	f := &flowSeries{slider: window.NewSlider(4, oilWindow, stride, c.period, len(c.x))}
	mask := window.NewMask(c.log)
	if relief > 0 {
		mask.MarkWhere(0, func(i int) bool { return math.Max(c.cap[i], c.rod[i]) > 0.95*relief })
	}
	f.usable = mask.Usable(f.slider)
	across := make([]float64, len(c.x))
	for i := range across {
		across[i] = c.cap[i] - c.rod[i]
	}
	table := newAirTable(c.cap, c.rod)
	airCap, airRod := table.over(c.cap), table.over(c.rod)
	f.side = window.Side(f.slider, window.Smooth(across, c.period, speedHalf), oneSidedLevel(across))
	f.turn, f.turnRate = f.slider.Slide(c.angle, 1), f.slider.Slide(c.angle, 2)
	f.driven = f.slider.Slide(compressed(c, across, airCap, airRod, s.Air.Value), 1)
	f.across = f.slider.Slide(across, 0)
	x := s.straight(c.x)
	f.travel, f.position = f.slider.SlideAhead(x, 1, s.Delay.Value), f.slider.Slide(x, 0)
	f.unit = f.slider.Unit()
	f.gain.Cap, f.gain.Rod = rate(f.slider, c.cap, lag), rate(f.slider, c.rod, lag)
	f.level.Cap, f.level.Rod = f.slider.Slide(c.cap, 0), f.slider.Slide(c.rod, 0)
	kernel := f.slider.Noise(1, lag)
	f.noise.Cap, f.noise.Rod = kernel*whiteNoise(c.cap), kernel*whiteNoise(c.rod)
	f.air.Cap, f.air.Rod = rate(f.slider, airCap, lag), rate(f.slider, airRod, lag)
	return f
}

// oneSidedLevel returns the pressure difference (Pa) beyond which one chamber carries.
func oneSidedLevel(across []float64) float64 {
	step := max(len(across)/5000, 1)
	var some []float64
	for i := 0; i < len(across); i += step {
		some = append(some, math.Abs(across[i]))
	}
	return math.Min(oneSided, 0.4*quantile(some, 0.9))
}

// rate returns ∫φ·(y' + lag·y”) dt: the rate of what a sensor with a first-order lag (s) hides.
func rate(s *window.Slider, y []float64, lag float64) []float64 {
	out, second := s.Slide(y, 1), s.Slide(y, 2)
	for i := range out {
		out[i] += lag * second[i]
	}
	return out
}

// compressed returns the running angle (rad) that the compression of the oil
// inside the pump takes away.
func compressed(c channels, across, airCap, airRod []float64, air float64) []float64 {
	speed := window.Rate(c.angle, c.period, speedHalf)
	lost := make([]float64, len(across))
	for i := 1; i < len(lost); i++ {
		lost[i] = lost[i-1]
		if speed[i]*across[i] > 0 {
			share := math.Abs(across[i])/oilModulus + air*math.Abs(airCap[i]-airRod[i])
			lost[i] += share * (c.angle[i] - c.angle[i-1])
		}
	}
	return lost
}

// straight returns the positions with the transducer's curve taken out.
func (s *Stroke) straight(x []float64) []float64 {
	out := make([]float64, len(x))
	step := (s.Curve.To - s.Curve.From) / (innerKnots + 1)
	for i, v := range x {
		out[i] = v
		k := int(math.Floor((v - s.Curve.From) / step))
		if step > 0 && k >= 0 && k < innerKnots+1 && len(s.Curve.Add) == innerKnots+2 {
			part := (v-s.Curve.From)/step - float64(k)
			out[i] += s.Curve.Add[k] + part*(s.Curve.Add[k+1]-s.Curve.Add[k])
		}
	}
	return out
}

// rowsOf gathers the windows of all logs in which the chamber carries.
func rowsOf(series []*flowSeries, s *Stroke, chamber plant.Chamber) *flowRows {
	r := &flowRows{}
	side, area := 1, s.Areas.At(chamber)
	if chamber == plant.Rod {
		side = -1
	}
	block := 0
	for _, f := range series {
		stride := float64(f.slider.Stride()) * f.period()
		perBlock := max(int(blockLength/stride), 1)
		settled := int(math.Ceil(changeover / stride))
		for w := range f.side {
			if !f.usable[w] || !f.carried(w, side, settled) {
				continue
			}
			x := f.position[w] / f.unit
			swept := area * x
			if chamber == plant.Rod {
				swept = area * (s.Travel - x)
			}
			into := s.Displacement.Value*(f.turn[w]-f.driven[w]) -
				s.Leakage()*(1+s.LeakRise*math.Abs(f.turn[w]/f.unit))*(f.across[w]+s.Offset.Value*f.unit) - area*f.travel[w]
			r.net = append(r.net, float64(side)*into)
			r.time += stride
			r.gain, r.air = append(r.gain, f.gain.At(chamber)[w]), append(r.air, -f.air.At(chamber)[w])
			r.swept, r.turn, r.span = append(r.swept, swept), append(r.turn, f.turn[w]), append(r.span, f.unit)
			r.noise, r.soft = append(r.noise, f.noise.At(chamber)), append(r.soft, airSlope(f.level.At(chamber)[w]/f.unit))
			r.block = append(r.block, block+w/perBlock)
		}
		block += len(f.side)/perBlock + 1
	}
	return r
}

// carried reports whether the side carries in window w and did so in the ones
// before, back to the valves' last change.
func (f *flowSeries) carried(w, side, before int) bool {
	for k := max(w-before, 0); k <= w; k++ {
		if f.side[k] != side {
			return false
		}
	}
	return true
}

// stack appends columns to those gathered so far, as many as both have.
func stack(sofar, more [][]float64) [][]float64 {
	if sofar == nil {
		return more
	}
	if len(more) < len(sofar) {
		sofar = sofar[:len(more)]
	}
	for j := range sofar {
		sofar[j] = append(sofar[j], more[j]...)
	}
	return sofar
}

func (f *flowSeries) period() float64 { return f.slider.Period() }

// whiteNoise returns the standard deviation (Pa) of a channel's noise from its
// second differences, at least what its steps make: most of a log is slow
// against the sample period.
func whiteNoise(y []float64) float64 {
	skip := max(len(y)/20000, 1)
	var second []float64
	step := math.Inf(1)
	for i := 1; i+1 < len(y); i += skip {
		second = append(second, math.Abs(y[i-1]-2*y[i]+y[i+1]))
		if d := math.Abs(y[i] - y[i-1]); d > 0 {
			step = math.Min(step, d)
		}
	}
	noise := 1.4826 * median(second) / math.Sqrt(6)
	if math.IsInf(step, 1) {
		return noise
	}
	return math.Max(noise, step/math.Sqrt(12))
}
