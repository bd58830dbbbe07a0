package motion

import (
	"math"

	"gonum.org/v1/gonum/floats"
	"gonum.org/v1/gonum/stat"

	"eha/strokewise/ident/trace"
)

// segments cuts the frames into segments and returns a first stroke per turn.
// Inside periodic excitation all is acceleration, or pressing.
func (f *frames) segments(excited []Periodic) ([]Segment, float64) {
	kinds := make([]Kind, len(f.motor))
	rest := f.restSpeed()
	for k, n := range f.motor {
		if math.Abs(n) > rest {
			kinds[k] = Accelerating
		}
	}
	if f.staysPut() {
		clear(kinds)
		return f.collect(kinds), 0
	}
	f.dropShortRests(kinds)
	f.markSteady(kinds)
	perTurn := f.strokePerTurn(kinds)
	if perTurn > 0 {
		f.markStill(kinds, perTurn)
	}
	for _, p := range excited {
		for k := (p.Extent.From + f.step - 1) / f.step; k < min(p.Extent.To/f.step, len(kinds)); k++ {
			kinds[k] = Accelerating
		}
	}
	if perTurn > 0 {
		f.markPressing(kinds, perTurn)
	}
	return f.collect(kinds), perTurn
}

// A log in which the rod stays within stillRange (m) and no pressure changes by more than
// stillPressure (Pa) holds no move (common practice, no source).
const stillRange, stillPressure = 0.2e-3, 10e5

// staysPut reports whether the rod stands all the time, whatever the motor does: a loop
// turns it against slip.
func (f *frames) staysPut() bool {
	if f.place == nil || !f.motorKnown || f.most(f.place) > stillRange {
		return false
	}
	return f.most(f.capSide) < stillPressure && f.most(f.rodSide) < stillPressure
}

// most returns the range of the frames' values, gaps and a hundredth at either end left out; 0 of none.
func (f *frames) most(y []float64) float64 {
	var good []float64
	for k, v := range y {
		if !f.broken[k] {
			good = append(good, v)
		}
	}
	return Quantile(good, 0.99) - Quantile(good, 0.01)
}

// restSpeed is the motor speed (rad/s) below which the motor counts as standing:
// its noise, or 0.3 % of top speed, far below any speed a test move uses.
func (f *frames) restSpeed() float64 { return max(3*f.noise, 0.003*f.top) }

// dropShortRests takes back rests of under 0.1 s: passing zero speed is not resting.
func (f *frames) dropShortRests(kinds []Kind) {
	for from := 0; from < len(kinds); {
		to := from + 1
		for to < len(kinds) && kinds[to] == kinds[from] && !f.broken[to] {
			to++
		}
		if kinds[from] == Rest && float64(to-from)*f.dt < 0.1-1e-9 && from > 0 && to < len(kinds) {
			for k := from; k < to; k++ {
				kinds[k] = Accelerating
			}
		}
		from = to
	}
}

// markSteady marks runs of constant speed: over the run, largest less smallest
// frame speed stays within 4 % of the mean or the noise.
func (f *frames) markSteady(kinds []Kind) {
	least := int(math.Ceil(MinSteady/f.dt - 1e-9))
	for from := 0; from < len(kinds); {
		if f.broken[from] || kinds[from] == Rest {
			from++
			continue
		}
		low, high := f.motor[from], f.motor[from]
		to := from + 1
		for ; to < len(kinds) && !f.broken[to] && kinds[to] != Rest; to++ {
			l, h := min(low, f.motor[to]), max(high, f.motor[to])
			if h-l > max(0.02*math.Abs(l+h), 6*f.noise) {
				break
			}
			low, high = l, h
		}
		if to-from < least {
			// The run may have begun in the tail of an acceleration.
			from++
			continue
		}
		f.begins[from] = true
		for k := from; k < to; k++ {
			kinds[k] = Steady
		}
		from = to
	}
}

// strokePerTurn is the median of rod over motor speed in the faster steady
// travel, where slip and noise weigh little; where that is less than half a second or
// a fifth of the travel, in all motion as fast. Each frame counts by its travel:
// holding against slip, the motor turns steadily and the rod stands.
func (f *frames) strokePerTurn(kinds []Kind) float64 {
	if f.rod == nil || !f.motorKnown {
		return 0
	}
	var steady, all ratios
	for k, kind := range kinds {
		if f.broken[k] || math.Abs(f.motor[k]) < 0.2*f.top || kind == Rest {
			continue
		}
		all.add(f.rod[k], f.motor[k])
		if kind == Steady {
			steady.add(f.rod[k], f.motor[k])
		}
	}
	if float64(len(steady.value))*f.dt < 0.5 || floats.Sum(steady.weight) < 0.2*floats.Sum(all.weight) {
		steady = all
	}
	return math.Abs(steady.median())
}

// ratios holds ratios of rod to motor speed (m/rad), each with the rod speed (m/s) as its weight.
type ratios struct{ value, weight []float64 }

func (r *ratios) add(rod, motor float64) {
	r.value = append(r.value, rod/motor)
	r.weight = append(r.weight, math.Abs(rod))
}

// median returns the weighted median, 0 of nothing or where nothing moved.
func (r *ratios) median() float64 {
	if floats.Sum(r.weight) == 0 {
		return 0
	}
	stat.SortWeighted(r.value, r.weight)
	return stat.Quantile(0.5, stat.Empirical, r.value, r.weight)
}

// markStill turns to rest what holds the rod against slip: the motor turns
// slowly, the rod does not. A steady run counts as a whole: one in which the rod sets
// off late is the other half of a reversal, not a rest.
func (f *frames) markStill(kinds []Kind, perTurn float64) {
	noise := f.rodNoise(kinds)
	for from := 0; from < len(kinds); {
		if kinds[from] == Rest {
			from++
			continue
		}
		to := from
		for to < len(kinds) && !f.broken[to] && kinds[to] == kinds[from] && (to == from || !f.begins[to]) &&
			(kinds[from] == Steady || f.stillAt(to, perTurn, noise)) {
			to++
		}
		slow := math.Abs(mean(f.motor[from:max(to, from+1)])) < 0.1*f.top
		// Against noise: the travel over the stretch must be small too.
		if float64(to-from)*f.dt >= MinSteady && slow && f.travelShare(from, to, perTurn) < 0.1 {
			for k := from; k < to; k++ {
				kinds[k] = Rest
			}
		}
		from = max(to, from+1)
	}
}

// stillAt reports whether in frame k the rod stands, by its noise, while the motor turns slowly.
func (f *frames) stillAt(k int, perTurn, noise float64) bool {
	return math.Abs(f.rod[k]) < 0.1*perTurn*math.Abs(f.motor[k])+2*noise && math.Abs(f.motor[k]) < 0.1*f.top
}

// travelShare is the rod's travel over what the motor's turns should give, over frames [from, to).
func (f *frames) travelShare(from, to int, perTurn float64) float64 {
	var travel, turns float64
	for k := from; k < to; k++ {
		travel += f.rod[k]
		turns += f.motor[k]
	}
	if turns == 0 {
		return 0
	}
	return math.Abs(travel / (turns * perTurn))
}

// rodNoise is the noise (m/s) of the frames' rod speed, from its changes between
// frames that share no sample.
func (f *frames) rodNoise(kinds []Kind) float64 {
	var change []float64
	for k := 6; k < len(kinds); k++ {
		if kinds[k] == kinds[k-6] && kinds[k] != Accelerating && !f.broken[k] && !f.broken[k-6] {
			change = append(change, math.Abs(f.rod[k]-f.rod[k-6]))
		}
	}
	return Quantile(change, 0.5) / (0.6745 * math.Sqrt2)
}

// collect joins frames of one kind into segments.
func (f *frames) collect(kinds []Kind) []Segment {
	var found []Segment
	for from := 0; from < len(kinds); {
		if f.broken[from] {
			from++
			continue
		}
		to := from + 1
		for to < len(kinds) && !f.broken[to] && kinds[to] == kinds[from] && !f.begins[to] {
			to++
		}
		s := Segment{Kind: kinds[from], Span: trace.Span{From: from * f.step, To: to * f.step}}
		if f.motorKnown {
			s.MotorSpeed = mean(f.motor[from:to])
		}
		if f.rod != nil {
			s.RodSpeed = mean(f.rod[from:to])
		}
		found = append(found, s)
		from = to
	}
	return found
}

func mean(values []float64) float64 {
	var sum float64
	for _, v := range values {
		sum += v
	}
	return sum / float64(len(values))
}
