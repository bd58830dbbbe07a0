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

// slowPressures returns each chamber's pressure while it carries in slow steady
// travel, by direction.
// perTurn (m/rad) is the smaller of the strokes per turn: pressing, where the
// motor turns without much travel, is no travel.
func slowPressures(logs []*means, level, perTurn float64) plant.PerChamber[plant.PerDirection[slowPressure]] {
	fastest := fastestOf(logs)
	readings := map[plant.Chamber]map[plant.Direction][]float64{plant.Cap: {}, plant.Rod: {}}
	for _, m := range logs {
		for i := 2; i+2 < len(m.x); i++ {
			n := m.speed[i]
			if math.Abs(n) < slowBand[0]*fastest || math.Abs(n) > slowBand[1]*fastest || n*m.travel[i] <= 0 ||
				math.Abs(m.speed[i+1]-m.speed[i-1]) > 0.1*math.Abs(n) || math.Abs(m.travel[i]) < 0.6*math.Abs(n)*perTurn {
				continue
			}
			side := m.carrier(i-2, i+2, level)
			if side == 0 {
				continue
			}
			d := plant.Extend
			if n < 0 {
				d = plant.Retract
			}
			p := m.cap[i]
			if side < 0 {
				p = m.rod[i]
			}
			readings[chamberOf(side)][d] = append(readings[chamberOf(side)][d], p)
		}
	}
	var slow plant.PerChamber[plant.PerDirection[slowPressure]]
	for c, byDirection := range readings {
		var s plant.PerDirection[slowPressure]
		for d, r := range byDirection {
			s.Set(d, slowPressure{median(r), (quantile(r, 0.84) - quantile(r, 0.16)) / 2, float64(len(r)) * meanTime})
		}
		slow.Set(c, s)
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
