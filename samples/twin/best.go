package twin

import "math"

// Targets are margins to keep: sensitivity peak, gain margin (ratio) and phase margin (rad).
type Targets struct{ Sensitivity, GainMargin, PhaseMargin float64 }

// UsualTargets are the default targets of CONTRACT 4: 1.5, 9 dB and 45 degrees.
func UsualTargets() Targets { return Targets{1.5, math.Pow(10, 9.0/20), math.Pi / 4} }

// Best returns the position loop that settles the standard steps soonest on the
// machine itself, of those that keep the targets at both ends and the middle of
// the stroke, both ways, at the mass factors: a search by brute force over
// low-pass, integral and gain, with the mean settling time (s) of both
// directions. A step that never settles counts as 6 s.
func Best(m *Machine, targets Targets, factors []float64) (best PositionLoop, settling float64) {
	base := *m.Loops.Position
	base.Window = math.Max(2*math.Max(m.Sensors.PositionNoise, m.Sensors.PositionStep)*1e3, 0.005)
	base.TurnsExtend, base.TurnsRetract = turnsPerMM(m, 1), turnsPerMM(m, -1)
	mode := TruthOf(m).Params["hydraulic_frequency"].Value
	settling = math.Inf(1)
	var sides [2]PositionLoop
	for i, sign := range []float64{1, -1} {
		plants := plantsOf(m, sign, factors)
		fastest := math.Inf(1)
		for _, corner := range []float64{0, 0.35, 0.5, 0.7, 1, 1.4, 2} {
			for _, ratio := range []float64{0, 0.015, 0.04} { // ki/kp²
				shape := base
				shape.Lowpass = corner * mode
				top := highestGain(plants, shape, sign, ratio, targets)
				for _, share := range []float64{1, 0.85, 0.7, 0.55} {
					l := withGain(shape, top*share, ratio)
					if t := settled(m, l, sign); t < fastest {
						fastest, sides[i] = t, l
					}
				}
			}
		}
	}
	// One low-pass serves both directions: the better of the two choices.
	for i := range sides {
		l := sides[i]
		for j, sign := range []float64{1, -1} {
			if j == i {
				continue
			}
			shape := l
			ratio := 0.0
			if o := sides[j]; sign > 0 && o.KpExtend > 0 {
				ratio = o.KiExtend / (o.KpExtend * o.KpExtend)
			} else if sign < 0 && o.KpRetract > 0 {
				ratio = o.KiRetract / (o.KpRetract * o.KpRetract)
			}
			top := highestGain(plantsOf(m, sign, factors), shape, sign, ratio, targets)
			other := withGain(shape, top, ratio)
			if sign > 0 {
				l.KpExtend, l.KiExtend = other.KpExtend, other.KiExtend
			} else {
				l.KpRetract, l.KiRetract = other.KpRetract, other.KiRetract
			}
		}
		if t := (settled(m, l, 1) + settled(m, l, -1)) / 2; t < settling {
			settling, best = t, l
		}
	}
	return best, settling
}

// turnsPerMM is the turns-to-stroke relation of the chamber that carries that way.
func turnsPerMM(m *Machine, sign float64) float64 {
	area := m.AreaCap()
	if Carries(m, m.Stroke/2, sign) == "rod" {
		area = m.AreaRod()
	}
	return area / m.Displacement / (2 * math.Pi) * 1e-3
}

type placedPlant struct {
	plant *Plant
	x     float64
}

// plantsOf linearises the machine over places and masses. Where slow travel is not
// steady its linearisation means little and is left out, unless it is so everywhere.
func plantsOf(m *Machine, sign float64, factors []float64) []placedPlant {
	var all, steady []placedPlant
	for _, factor := range factors {
		for _, share := range []float64{0.04, 0.5, 0.96} {
			x := share * m.Stroke
			p := placedPlant{Linearise(m.WithMass(factor), x, sign), x}
			all = append(all, p)
			if p.plant.steady {
				steady = append(steady, p)
			}
		}
	}
	if steady == nil {
		return all
	}
	return steady
}

func withGain(l PositionLoop, kp, ratio float64) PositionLoop {
	l.KpExtend, l.KpRetract = kp, kp
	l.KiExtend, l.KiRetract = ratio*kp*kp, ratio*kp*kp
	return l
}

// highestGain bisects for the largest kp that keeps the targets on every plant.
func highestGain(plants []placedPlant, shape PositionLoop, sign, ratio float64, targets Targets) float64 {
	keeps := func(kp float64) bool {
		l := withGain(shape, kp, ratio)
		for _, p := range plants {
			m := p.plant.positionMargins(&l, p.x, sign)
			if !m.Stable || m.Sensitivity > targets.Sensitivity || m.GainMargin < targets.GainMargin || m.PhaseMargin < targets.PhaseMargin {
				return false
			}
		}
		return true
	}
	low, high := 0.1, 200.0
	for range 10 {
		mid := math.Sqrt(low * high)
		if keeps(mid) {
			low = mid
		} else {
			high = mid
		}
	}
	return low
}

func settled(m *Machine, l PositionLoop, sign float64) float64 {
	return math.Min(StandardStep(m, Loops{Position: &l}, sign).Settling, 6)
}
