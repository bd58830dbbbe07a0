package flow

import (
	"math"
	"sort"

	"eha/strokewise/ident/plant"
)

// moveTime is the length (s) of the windows of the turns equation.
const moveTime = 0.25

// move is one window of the turns equation: what each quantity gained in it.
type move struct {
	side         int     // +1 cap side carries, -1 rod side, 0 without pressures
	turn         float64 // rad
	from, to     float64 // m, rod position at both ends
	driven       float64 // rad·Pa, ∫|Δp| dθ while pumping
	airLost      float64 // rad, ∫c dθ while pumping
	leaked       float64 // Pa·s, ∫Δp dt
	leakedFast   float64 // Pa·rad, ∫Δp·|n| dt
	duration     float64 // s
	pressureGain float64 // Pa, of the chamber that carries
	airGain      float64 // what its free air shrank by, relative to that at atmospheric pressure
	speedGain    float64 // rad/s, of the motor
	across       float64 // Pa, mean Δp
	speed        float64 // rad/s, mean
	warmth       float64 // K, of the oil; 0 where not logged
	block        int
}

func (v move) travel() float64 { return v.to - v.from }
func (v move) middle() float64 { return (v.from + v.to) / 2 }

// collectMoves cuts the logs into overlapping windows of moveTime in which one
// chamber carries (the pressure difference stays beyond level on one side).
// firstBlock is the number of the first block.
func collectMoves(logs []*means, level float64) []move {
	var moves []move
	block := 0
	for _, m := range logs {
		length := max(int(math.Round(moveTime/m.dt)), 2)
		perBlock := max(int(blockLength/m.dt), 1)
		settled := int(math.Ceil(changeover / m.dt))
		for from := settled; from+length+1 < len(m.x); from++ {
			to := from + length
			v := move{turn: m.angle[to] - m.angle[from], from: m.x[from], to: m.x[to],
				duration: float64(length) * m.dt, speedGain: m.speed[to] - m.speed[from], block: block + from/perBlock}
			v.speed = v.turn / v.duration
			if m.warmth != nil {
				v.warmth = m.warmth[(from+to)/2]
			}
			if m.cap == nil {
				if !m.clear(from, to) {
					continue
				}
				moves = append(moves, v)
				continue
			}
			if v.side = m.carrier(from-settled, to+1, level); v.side == 0 {
				continue
			}
			v.driven, v.airLost, v.leaked = m.driven[to]-m.driven[from], m.airLost[to]-m.airLost[from], m.leaked[to]-m.leaked[from]
			v.leakedFast = m.leakedFast[to] - m.leakedFast[from]
			v.across = v.leaked / v.duration
			p := m.cap
			if v.side < 0 {
				p = m.rod
			}
			v.pressureGain = p[to] - p[from]
			v.airGain = airTerm(p[from]) - airTerm(p[to])
			moves = append(moves, v)
		}
		block += len(m.x)/perBlock + 1
	}
	return moves
}

// clear reports whether pieces from to to are good and their speed keeps its sign.
func (m *means) clear(from, to int) bool {
	for i := from - 1; i <= to+1; i++ {
		if m.bad[i] || m.travel[i]*m.travel[from] <= 0 {
			return false
		}
	}
	return true
}

// thin keeps every k-th entry so that about limit remain.
func thin[T any](all []T, limit int) []T {
	k := (len(all) + limit - 1) / limit
	if k <= 1 {
		return all
	}
	kept := make([]T, 0, len(all)/k+1)
	for i := 0; i < len(all); i += k {
		kept = append(kept, all[i])
	}
	return kept
}

// span returns the lowest and highest rod position of the moves.
func span(moves []move) (low, high float64) {
	low, high = math.Inf(1), math.Inf(-1)
	for _, v := range moves {
		low, high = math.Min(low, math.Min(v.from, v.to)), math.Max(high, math.Max(v.from, v.to))
	}
	return low, high
}

// travelBy returns the travel (m) of the moves in direction d with the given side.
func travelBy(moves []move, side int, d plant.Direction, low, high float64) float64 {
	var sum float64
	for _, v := range moves {
		if v.side == side && v.travel()*d.Sign() > 0 && v.middle() >= low && v.middle() <= high {
			sum += math.Abs(v.travel())
		}
	}
	return sum
}

// median returns the median of values, which it sorts; zero for none.
func median(values []float64) float64 { return quantile(values, 0.5) }

// quantile returns the value below which the share q of values lies; it sorts them.
func quantile(values []float64, q float64) float64 {
	if len(values) == 0 {
		return 0
	}
	sort.Float64s(values)
	return values[min(int(q*float64(len(values))), len(values)-1)]
}
