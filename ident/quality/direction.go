package quality

import (
	"math"

	"eha/strokewise/ident/lsq"
	"eha/strokewise/ident/trace"
)

// directionEffect is how a pressure depends on direction and place in steady travel.
type directionEffect struct {
	step        float64 // Pa, encoder counting up less counting down
	t           float64 // |step| over its standard error
	alongStroke float64 // Pa, from the smallest to the largest rod position
	tStroke     float64
}

// directionStep fits y = a + b·direction + c·x + d·n to the means of y over
// half-second pieces of steady travel, n the motor speed. The second result is false
// with fewer than three pieces each way.
func (v *view) directionStep(y, n []float64) (directionEffect, bool) {
	var one, way, place, speed, values []float64
	x := v.frame[trace.RodPosition]
	up, down := 0, 0
	v.steadyPieces(func(from, to int) {
		pace := mean(n[from:to])
		if math.Abs(pace) < 0.02*v.motion.TopSpeed {
			return
		}
		one, way, speed, values = append(one, 1), append(way, math.Copysign(0.5, pace)), append(speed, pace), append(values, mean(y[from:to]))
		if x != nil {
			place = append(place, mean(x[from:to]))
		}
		if pace > 0 {
			up++
		} else {
			down++
		}
	})
	if up < 3 || down < 3 {
		return directionEffect{}, false
	}
	columns := [][]float64{one, way, speed}
	normalise(speed)
	span := 0.0
	if x != nil {
		if span = normalise(place); span > 0 {
			columns = append(columns, place)
		}
	}
	fit, err := lsq.Linear{Columns: columns, Y: values}.Solve()
	if err != nil {
		return directionEffect{}, false
	}
	out := directionEffect{step: fit.X[1], t: math.Abs(fit.X[1]) / math.Max(fit.StdDev(1), 1)}
	if span > 0 {
		out.alongStroke, out.tStroke = fit.X[3], math.Abs(fit.X[3])/math.Max(fit.StdDev(3), 1)
	}
	return out, true
}

// normalise shifts and scales values to a range of one about zero and returns
// the range that they had.
func normalise(y []float64) float64 {
	low, high := extremes(y)
	if high <= low {
		return 0
	}
	for i := range y {
		y[i] = (y[i] - (low+high)/2) / (high - low)
	}
	return high - low
}
