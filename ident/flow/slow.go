package flow

import (
	"math"

	"eha/strokewise/ident/plant"
	"eha/strokewise/ident/window"
)

// slowBand is the range of motor speed, as a share of the fastest logged, that
// counts as slow travel: above the rise of friction near rest, below what
// viscous friction and valves add.
var slowBand = [2]float64{0.02, 0.15}

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

// slowReadings gathers them from all logs. perTurn (m/rad) is the smaller of the
// strokes per turn: pressing, where the motor turns without much travel, is no travel.
func slowReadings(logs []*means, perTurn float64) []slowReading {
	fastest := fastestOf(logs)
	var readings []slowReading
	for _, m := range logs {
		for i := 2; i+2 < len(m.x); i++ {
			n := m.speed[i]
			if math.Abs(n) < slowBand[0]*fastest || math.Abs(n) > slowBand[1]*fastest ||
				math.Abs(m.speed[i+1]-m.speed[i-1]) > 0.1*math.Abs(n) || m.travel[i]*math.Copysign(1, n) < 0.6*math.Abs(n)*perTurn {
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
// there: a load may change along the stroke.
func slowPressures(logs []*means, s *Stroke) plant.PerChamber[plant.PerDirection[slowPressure]] {
	readings := slowReadings(logs, s.Displacement.Value/math.Max(s.Areas.Cap, s.Areas.Rod))
	var slow plant.PerChamber[plant.PerDirection[slowPressure]]
	for _, d := range []plant.Direction{plant.Extend, plant.Retract} {
		var all, middle plant.PerChamber[[]float64]
		for _, r := range readings {
			if r.direction != d {
				continue
			}
			all.Set(r.chamber, append(all.At(r.chamber), r.p))
			if math.Abs(r.x-s.Travel/2) < s.Travel/4 {
				middle.Set(r.chamber, append(middle.At(r.chamber), r.p))
			}
		}
		if float64(len(middle.Cap)+len(middle.Rod))*meanTime < 2*slowTime {
			middle = all
		}
		for _, c := range []plant.Chamber{plant.Cap, plant.Rod} {
			p := slow.At(c)
			p.Set(d, slowPressure{median(middle.At(c)), float64(len(middle.At(c))) * meanTime})
			slow.Set(c, p)
		}
	}
	return slow
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

// minSteadyRows is the least number of pieces of steady travel for the valves' resistance.
const minSteadyRows = 150

// lowResistance returns the resistance of the valves that clamp the low side,
// from steady travel at several speeds:
//
//	p_low = p_0 + R·|A_cap - A_rod|·|v| (sign as the flow goes) + c·x
//
// c takes the reservoir's gas. Of the two directions the one with more rows stands.
func lowResistance(logs []*means, s *Stroke, level float64) plant.PerChamber[Number] {
	var found plant.PerChamber[Number]
	for _, side := range []int{1, -1} {
		var best Number
		rows := 0
		for _, d := range []plant.Direction{plant.Extend, plant.Retract} {
			p := steadyLow(logs, side, d, level)
			if len(p.Y) < max(minSteadyRows, rows+1) {
				continue
			}
			fit, err := window.Solve(p)
			if err != nil {
				continue
			}
			difference := s.Areas.Cap - s.Areas.Rod
			best = Number{math.Abs(fit.Coef[0]) / difference, fit.Sigma(0) / difference}
			rows = len(p.Y)
		}
		found.Set(chamberOf(side), best)
	}
	return found
}

// steadyLow gathers the low side's pressure in steady travel.
func steadyLow(logs []*means, side int, d plant.Direction, level float64) window.Problem {
	p := window.Problem{X: make([][]float64, 3)}
	fastest, block := fastestOf(logs), 0
	for _, m := range logs {
		perBlock := max(int(blockLength/m.dt), 1)
		for i := 3; i+3 < len(m.x); i++ {
			n := m.speed[i] * d.Sign()
			if n < slowBand[0]*fastest || m.travel[i]*d.Sign() <= 0 ||
				math.Abs(m.speed[i+2]-m.speed[i-2]) > 0.05*n || m.carrier(i-3, i+3, level) != side {
				continue
			}
			low := m.rod[i]
			if side < 0 {
				low = m.cap[i]
			}
			p.Y = append(p.Y, low)
			p.X[0] = append(p.X[0], math.Abs(m.travel[i]))
			p.X[1], p.X[2] = append(p.X[1], m.x[i]), append(p.X[2], 1)
			p.Block = append(p.Block, block+i/perBlock)
		}
		block += len(m.x)/perBlock + 1
	}
	return p
}
