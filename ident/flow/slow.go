package flow

import (
	"math"
	"slices"

	"eha/strokewise/ident/plant"
	"eha/strokewise/ident/window"
)

// fastestOf returns the 99th percentile of motor speed (rad/s) over all logs.
func fastestOf(logs []*means) float64 {
	var speeds []float64
	for _, m := range logs {
		for i, v := range m.speed {
			if !m.bad[i] {
				speeds = append(speeds, math.Abs(v))
			}
		}
	}
	return quantile(speeds, 0.99)
}

// slowReading is the pressure of the chamber that carries, at one place in slow steady travel.
type slowReading struct {
	chamber   plant.Chamber
	direction plant.Direction
	x, p      float64 // m, Pa
}

// travelBand is the travel that slowReadings accepts: motor speed as a share of
// the fastest, and its change from piece to piece as a share of itself.
type travelBand struct{ from, to, change float64 }

// slowTravel is above the rise of friction near rest and below what viscous
// friction and valves add. anyTravel stands in for it where a log, as a rule of
// usual running in closed loop, holds no slow steady travel.
var (
	slowTravel = travelBand{0.02, 0.15, 0.1}
	anyTravel  = travelBand{0.02, 0.6, 1}
)

// slowReadings gathers them from all logs. perTurn (m/rad) is the smaller of the
// strokes per turn: pressing, where the motor turns without much travel, is no travel.
func slowReadings(logs []*means, perTurn float64, band travelBand) []slowReading {
	fastest := fastestOf(logs)
	var readings []slowReading
	for _, m := range logs {
		for i := 2; i+2 < len(m.x); i++ {
			n := m.speed[i]
			if math.Abs(n) < band.from*fastest || math.Abs(n) > band.to*fastest ||
				math.Abs(m.speed[i+1]-m.speed[i-1]) > band.change*math.Abs(n) || m.travel[i]*math.Copysign(1, n) < 0.6*math.Abs(n)*perTurn {
				continue
			}
			// Near zero load the pressures of slow travel stay below oneSided; the
			// chamber that is higher carries then too.
			side := m.carrier(i-2, i+2, 0)
			if side == 0 {
				continue
			}
			r := slowReading{chamberOf(side), plant.Extend, m.x[i], m.cap[i]}
			if n < 0 {
				r.direction = plant.Retract
			}
			if side < 0 {
				r.p = m.rod[i]
			}
			readings = append(readings, r)
		}
	}
	return readings
}

// slowPressures returns each chamber's pressure while it carries in slow travel
// through the middle half of the stroke, or anywhere if the logs show it only
// there: a load may change along the stroke. A direction without slow steady
// travel takes the force that it would need, where given and clearly one-sided,
// else any travel in its place.
func slowPressures(logs []*means, s *Stroke, force *plant.PerDirection[Number]) plant.PerChamber[plant.PerDirection[slowPressure]] {
	perTurn := s.Displacement.Value / math.Max(s.Areas.Cap, s.Areas.Rod)
	steady := slowReadings(logs, perTurn, slowTravel)
	anyhow := slowReadings(logs, perTurn, anyTravel)
	var slow plant.PerChamber[plant.PerDirection[slowPressure]]
	for _, d := range []plant.Direction{plant.Extend, plant.Retract} {
		readings, guessed := middleOf(steady, d, s.Travel), false
		if enough := 2 * slowTime / meanTime; float64(len(readings.Cap)+len(readings.Rod)) < enough {
			if c, p, ok := s.pressureAt(force, d); ok {
				of := slow.At(c)
				of.Set(d, p)
				slow.Set(c, of)
				continue
			}
			readings, guessed = middleOf(anyhow, d, s.Travel), true
		}
		for _, c := range []plant.Chamber{plant.Cap, plant.Rod} {
			r, p := readings.At(c), slow.At(c)
			spread := (quantile(r, 0.84) - quantile(r, 0.16)) / 2
			p.Set(d, slowPressure{median(r), spread, float64(len(r)) * meanTime, guessed})
			slow.Set(c, p)
		}
	}
	return slow
}

// pressureAt returns the chamber that carries the force of slow travel in the
// direction and its pressure, the other side standing at the reservoir's; ok is
// false where the force is unknown or so small that the valves do not clamp.
func (s *Stroke) pressureAt(force *plant.PerDirection[Number], d plant.Direction) (plant.Chamber, slowPressure, bool) {
	if force == nil || s.Reservoir.Sigma == 0 {
		return 0, slowPressure{}, false
	}
	f, low := force.At(d), s.Reservoir.Value
	p := slowPressure{value: (f.Value + s.Areas.Rod*low) / s.Areas.Cap, time: slowTime}
	c := plant.Cap
	if p.value < low {
		c, p.value = plant.Rod, (s.Areas.Cap*low-f.Value)/s.Areas.Rod
	}
	// slowCompliance takes half the spread for its standard deviation.
	p.spread = 2 * math.Hypot(f.Sigma/s.Areas.At(c), s.Reservoir.Sigma*s.Areas.At(c.Other())/s.Areas.At(c))
	return c, p, p.value-low > oneSided+p.spread
}

// middleOf returns the pressures read in the direction in the middle half of the
// stroke, or all of them where these are few.
func middleOf(readings []slowReading, d plant.Direction, stroke float64) plant.PerChamber[[]float64] {
	var all, middle plant.PerChamber[[]float64]
	for _, r := range readings {
		if r.direction != d {
			continue
		}
		all.Set(r.chamber, append(all.At(r.chamber), r.p))
		if math.Abs(r.x-stroke/2) < stroke/4 {
			middle.Set(r.chamber, append(middle.At(r.chamber), r.p))
		}
	}
	if float64(len(middle.Cap)+len(middle.Rod))*meanTime < 2*slowTime {
		return all
	}
	return middle
}

// slowTime is the least time (s) of slow travel that shows a chamber's pressure.
const slowTime = 0.4

// SlowPressure returns the pressure (Pa) of the chamber while it carries in slow
// travel in the direction, and whether it does so in these logs.
func (o *Oil) SlowPressure(c plant.Chamber, d plant.Direction) (float64, bool) {
	s := o.slow.At(c).At(d)
	return s.value, s.time >= slowTime && s.time > 0.1*(o.slow.Cap.At(d).time+o.slow.Rod.At(d).time)
}

// meanPressure returns the pressure (Pa) of the chamber in slow travel: the mean
// of the directions in which it carries. One that never carries stands at
// reservoir pressure.
func (o *Oil) meanPressure(c plant.Chamber) float64 {
	var sum, count float64
	for _, d := range []plant.Direction{plant.Extend, plant.Retract} {
		if p, ok := o.SlowPressure(c, d); ok {
			sum, count = sum+p, count+1
		}
	}
	if count == 0 {
		return o.stroke.Reservoir.Value
	}
	return sum / count
}

// valveSpeeds is the share of the fastest speed up to which travel tells the
// valves' resistance in slow travel: beyond it other valves open too.
const valveSpeeds = 0.6

// slowShare is the speed of slow travel, as a share of the fastest logged, at
// which the valve's resistance is taken.
const slowShare = 0.06

// minSteadyRows is the least number of pieces of steady travel for the valves' resistance.
const minSteadyRows = 150

// lowResistance returns the resistance of the valves that clamp the low side in
// slow travel (Pa·s/m³), by the chamber that carries, from steady travel at several speeds:
//
//	p_low = p_0 ∓ R·q ∓ c·q² + d·x,  q = (A_cap - A_rod)·|v|, - while extending
//
// d takes the reservoir's gas, c the turbulent part of the valve. It is the mean
// over the directions in which the chamber carries and travel tells it.
func lowResistance(logs []*means, s *Stroke, level float64) plant.PerChamber[Number] {
	var found plant.PerChamber[Number]
	fastest := fastestOf(logs)
	for _, side := range []int{1, -1} {
		var sum, variance, count float64
		for _, d := range []plant.Direction{plant.Extend, plant.Retract} {
			p := steadyLow(logs, side, d, level, fastest, s.Areas.Cap-s.Areas.Rod, slowTravel.change/2)
			if len(p.Y) < minSteadyRows {
				p = steadyLow(logs, side, d, level, fastest, s.Areas.Cap-s.Areas.Rod, anyTravel.change)
			}
			if len(p.Y) < minSteadyRows {
				continue
			}
			fit, err := window.Solve(p)
			if err != nil {
				continue
			}
			slow := slowShare * fastest * s.Displacement.Value / s.Areas.At(chamberOf(side)) * (s.Areas.Cap - s.Areas.Rod)
			// Extending draws the flow in, which lowers the pressure; retracting pushes it out.
			r := Number{-d.Sign() * (fit.Coef[0] + 2*slow*fit.Coef[1]), math.Sqrt(fit.Variance([]float64{1, 2 * slow, 0, 0}))}
			if r.Sigma < r.Value && r.Value < mostResistance(p.Y, p.X[0], slow/2) {
				sum, variance, count = sum+r.Value, variance+r.Sigma*r.Sigma, count+1
			}
		}
		if count > 0 {
			found.Set(chamberOf(side), Number{sum / count, math.Sqrt(variance) / count})
		}
	}
	// Both sides have valves of one kind: a side that was not seen takes the
	// other's resistance, good to its own size.
	for _, c := range []plant.Chamber{plant.Cap, plant.Rod} {
		if other := found.At(c.Other()).Value; found.At(c).Sigma == 0 && other > 0 {
			found.Set(c, Number{other, other})
		}
	}
	return found
}

// leastSpread (Pa) of the low side's pressure is none at all.
const leastSpread = 1e3

// mostResistance returns the resistance (Pa·s/m³) with which the flows q (m³/s)
// alone would make all of the low side's pressure y (Pa) change as it does, 0 where
// none reaches the flow least at which the resistance is asked. More comes of a
// closed loop's moves, in which flow and place go together.
func mostResistance(y, q []float64, least float64) float64 {
	most := slices.Max(q)
	if most < least {
		return 0
	}
	return (quantile(y, 0.98) - quantile(y, 0.02) + leastSpread) / most
}

// steadyLow gathers the low side's pressure in steady travel.
func steadyLow(logs []*means, side int, d plant.Direction, level, fastest, difference, change float64) window.Problem {
	p := window.Problem{X: make([][]float64, 4)}
	block := 0
	for _, m := range logs {
		perBlock := max(int(blockLength/m.dt), 1)
		for i := 3; i+3 < len(m.x); i++ {
			n := m.speed[i] * d.Sign()
			if n < slowTravel.from*fastest || n > valveSpeeds*fastest || m.travel[i]*d.Sign() <= 0 ||
				math.Abs(m.speed[i+2]-m.speed[i-2]) > change*n || m.carrier(i-3, i+3, level) != side {
				continue
			}
			low := m.rod[i]
			if side < 0 {
				low = m.cap[i]
			}
			p.Y = append(p.Y, low)
			q := difference * math.Abs(m.travel[i])
			p.X[0], p.X[1] = append(p.X[0], q), append(p.X[1], q*q)
			p.X[2], p.X[3] = append(p.X[2], m.x[i]), append(p.X[3], 1)
			p.Block = append(p.Block, block+i/perBlock)
		}
		block += len(m.x)/perBlock + 1
	}
	return p
}
