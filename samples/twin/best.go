package twin

import "math"

// Targets are margins to keep: sensitivity peak, gain margin (ratio) and phase margin (rad).
type Targets struct{ Sensitivity, GainMargin, PhaseMargin float64 }

// UsualTargets are the targets that the program starts with: 1.5, 9 dB and 45 degrees.
func UsualTargets() Targets { return Targets{1.5, math.Pow(10, 9.0/20), math.Pi / 4} }

// What Best tries: corners of the low-pass as shares of the hydraulic frequency,
// ki over kp², and shares of the highest gain that the targets allow.
var (
	triedCorners = []float64{0, 0.35, 0.5, 0.7, 1, 1.4, 2}
	triedRatios  = []integral{{}, {ratio: 0.015}, {ratio: 0.04}}
	triedShares  = []float64{1, 0.85, 0.7, 0.55}
)

// integral is the share of integral action: ki = ratio·kp² + rate·kp, rate in 1/s.
type integral struct{ ratio, rate float64 }

// Best returns the position loop that settles the standard steps soonest on the
// machine itself, of those that keep the targets at both ends and the middle of
// the stroke, both ways, at the mass factors: a search by brute force over
// low-pass, integral and gain, with the mean settling time (s) of both
// directions. A step that never settles counts as 6 s. Both directions share one
// integral time: with two, every step out and back leaves the integral something,
// and repeated steps walk away from the reference.
func Best(m *Machine, targets Targets, factors []float64) (best PositionLoop, settling float64) {
	s := newSearch(m, targets, factors)
	settling = math.Inf(1)
	for _, led := range []int{0, 1} {
		// One low-pass and one integral time serve both directions; either may choose them.
		first := s.fastest(led, triedCorners, triedRatios, s.base)
		rate := 0.0 // 1/s, ki over kp
		if first.KpExtend > 0 {
			rate = first.KiExtend / first.KpExtend
		}
		second := s.fastest(1-led, []float64{first.Lowpass / s.mode}, []integral{{rate: rate}}, first)
		both, retract := first, second
		if led == 1 {
			both, retract = second, first
		}
		both.KpRetract, both.KiRetract = retract.KpRetract, retract.KiRetract
		if t := (settled(m, both, 1) + settled(m, both, -1)) / 2; t < settling {
			settling, best = t, both
		}
	}
	return best, settling
}

// search is what every trial of Best shares. Index 0 is extending, 1 retracting.
type search struct {
	m       *Machine
	targets Targets
	base    PositionLoop
	mode    float64 // Hz, hydraulic frequency
	plants  [2][]placedPlant
}

type placedPlant struct {
	plant *Plant
	x     float64
}

var signs = [2]float64{1, -1}

func newSearch(m *Machine, targets Targets, factors []float64) *search {
	s := &search{m: m, targets: targets, base: *m.Loops.Position, mode: TruthOf(m).Params["hydraulic_frequency"].Value}
	s.base.Window = math.Max(2*math.Max(m.Sensors.PositionNoise, m.Sensors.PositionStep)*1e3, 0.005)
	s.base.TurnsExtend, s.base.TurnsRetract = turnsPerMM(m, 1), turnsPerMM(m, -1)
	for i, sign := range signs {
		s.plants[i] = plantsOf(m, sign, factors)
	}
	return s
}

// turnsPerMM is the turns-to-stroke relation of the chamber that carries that way.
func turnsPerMM(m *Machine, sign float64) float64 {
	area := m.AreaCap()
	if Carries(m, m.Stroke/2, sign) == "rod" {
		area = m.AreaRod()
	}
	return area / m.Displacement / (2 * math.Pi) * 1e-3
}

// plantsOf linearises the machine over places and masses.
func plantsOf(m *Machine, sign float64, factors []float64) []placedPlant {
	var all []placedPlant
	for _, factor := range factors {
		for _, share := range []float64{0.04, 0.5, 0.96} {
			x := share * m.Stroke
			all = append(all, placedPlant{Linearise(m.WithMass(factor), x, sign), x})
		}
	}
	return all
}

// fastest returns the loop of the shape that settles soonest one way, over the
// corners (shares of the hydraulic frequency) and integrals; both directions get its gains.
func (s *search) fastest(way int, corners []float64, integrals []integral, shape PositionLoop) (best PositionLoop) {
	fastest := math.Inf(1)
	for _, corner := range corners {
		shape.Lowpass = corner * s.mode
		for _, i := range integrals {
			top := s.highestGain(way, shape, i)
			for _, share := range triedShares {
				l := withGain(shape, top*share, i)
				if t := settled(s.m, l, signs[way]); t < fastest {
					fastest, best = t, l
				}
			}
		}
	}
	return best
}

func withGain(l PositionLoop, kp float64, i integral) PositionLoop {
	ki := i.ratio*kp*kp + i.rate*kp
	l.KpExtend, l.KpRetract, l.KiExtend, l.KiRetract = kp, kp, ki, ki
	return l
}

// highestGain bisects for the largest kp that keeps the targets on every plant.
func (s *search) highestGain(way int, shape PositionLoop, i integral) float64 {
	keeps := func(kp float64) bool {
		l := withGain(shape, kp, i)
		for _, p := range s.plants[way] {
			m := p.plant.positionMargins(&l, p.x, signs[way])
			if !m.Stable || m.Sensitivity > s.targets.Sensitivity || m.GainMargin < s.targets.GainMargin || m.PhaseMargin < s.targets.PhaseMargin {
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

// GainLimit returns the highest kp (1/s, geometric mean of both directions) that
// keeps the targets on the machine with the low-pass that serves it best, without an integral.
func GainLimit(m *Machine, targets Targets, factors []float64) float64 {
	s := newSearch(m, targets, factors)
	most := 0.0
	for _, corner := range triedCorners {
		shape := s.base
		shape.Lowpass = corner * s.mode
		most = math.Max(most, math.Sqrt(s.highestGain(0, shape, integral{})*s.highestGain(1, shape, integral{})))
	}
	return most
}
