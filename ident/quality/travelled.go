package quality

import (
	"math"

	"eha/strokewise/ident/motion"
	"eha/strokewise/ident/plant"
	"eha/strokewise/ident/trace"
)

// travelled is travel of the rod in the logs that hold some channels together.
type travelled struct {
	low, high  float64                                       // m, its ends; low above high where there is none
	time       plant.PerDirection[float64]                   // s
	carried    plant.PerDirection[plant.PerChamber[float64]] // m, with that chamber clearly higher
	even       plant.PerDirection[float64]                   // s, of even travel
	seconds    int                                           // of the logs that hold even travel
	slow, fast float64                                       // m/s, 2 % and 98 % of the speeds of even travel
	force      plant.PerDirection[float64]                   // N, median of the hydraulic force in even travel
	fastest    float64                                       // m/s
}

// Travel one way is faster than onewayShare of the fastest and lasts for onewayTime (s)
// and more; it is even where it is faster than evenShare for so long, and counts from
// then on. These are what the balance of forces takes mass and friction from.
const (
	onewayShare = 0.03
	evenShare   = 0.08
	onewayTime  = 0.12
)

// travelSum adds up what makes a travelled.
type travelSum struct {
	travelled
	speeds []float64
	forces plant.PerDirection[[]float64]
}

// travelOf gathers the travel of the logs.
func travelOf(views []*view) travelled {
	t := travelSum{}
	t.low, t.high = math.Inf(1), math.Inf(-1)
	speeds := make([][]float64, len(views))
	for i, v := range views {
		speeds[i] = v.speed()
		size := make([]float64, len(speeds[i]))
		for k, s := range speeds[i] {
			size[k] = math.Abs(s)
		}
		t.fastest = max(t.fastest, quantile(size, 0.999))
	}
	for i, v := range views {
		for from := 0; from < len(speeds[i]); {
			to := v.oneWay(speeds[i], from, onewayShare*t.fastest)
			if float64(to-from)*v.dt > onewayTime-1e-9 {
				t.add(v, speeds[i], from, to)
			}
			from = max(to, from+1)
		}
		t.addEven(v, speeds[i])
	}
	t.slow, t.fast = quantile(t.speeds, 0.02), quantile(t.speeds, 0.98)
	t.force = plant.PerDirection[float64]{Extend: median(t.forces.Extend), Retract: median(t.forces.Retract)}
	return t.travelled
}

// speed returns the frames' rod speed (m/s), 0 where it means nothing.
func (v *view) speed() []float64 {
	x := v.frame[trace.RodPosition]
	out := make([]float64, len(x))
	for k := 1; k+1 < len(x); k++ {
		if v.good[k-1] && v.good[k] {
			out[k] = (x[k+1] - x[k-1]) / (2 * v.dt)
		}
	}
	return out
}

// oneWay returns the frame at which the travel one way ends that begins at from, from
// itself where none does.
func (v *view) oneWay(speed []float64, from int, least float64) int {
	to := from
	for to < len(speed) && speed[to]*speed[from] > 0 && math.Abs(speed[to]) > least && v.kind[to] != motion.Pressing && v.kind[to] != motion.Rest {
		to++
	}
	return to
}

// addEven adds the even travel of a log.
func (t *travelSum) addEven(v *view, speed []float64) {
	p1, p2 := v.frame[trace.CapPressure], v.frame[trace.RodPressure]
	areaCap, areaRod := v.areas()
	lead := int(math.Round(onewayTime / v.dt))
	last := -1 // the second that was counted
	for from := 0; from < len(speed); {
		to := v.oneWay(speed, from, evenShare*t.fastest)
		d := extendOrRetract(speed[from])
		forces := t.forces.At(d)
		for k := from + lead; k < to; k++ {
			t.even.Set(d, t.even.At(d)+v.dt)
			t.speeds = append(t.speeds, math.Abs(speed[k]))
			if p1 != nil && p2 != nil {
				forces = append(forces, areaCap*p1[k]-areaRod*p2[k])
			}
			if second := int(float64(k) * v.dt); second != last {
				t.seconds, last = t.seconds+1, second
			}
		}
		t.forces.Set(d, forces)
		from = max(to, from+1)
	}
}

// add adds frames from to to, which travel one way.
func (t *travelSum) add(v *view, speed []float64, from, to int) {
	x, p1, p2 := v.frame[trace.RodPosition], v.frame[trace.CapPressure], v.frame[trace.RodPressure]
	d := extendOrRetract(speed[from])
	t.low, t.high = min(t.low, x[from], x[to-1]), max(t.high, x[from], x[to-1])
	t.time.Set(d, t.time.At(d)+float64(to-from)*v.dt)
	if p1 == nil || p2 == nil {
		return
	}
	by := t.carried.At(d)
	for k := from; k < to; k++ {
		switch across := p1[k] - p2[k]; {
		case across > clearlyHigh:
			by.Cap += math.Abs(speed[k]) * v.dt
		case across < -clearlyHigh:
			by.Rod += math.Abs(speed[k]) * v.dt
		}
	}
	t.carried.Set(d, by)
}
