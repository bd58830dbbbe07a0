package flow

import "math"

// innerKnots is how many points of the transducer's curve are free; more would
// follow noise of a survey log of a few strokes.
const innerKnots = 5

// Curve is the departure of the transducer from a straight line: what has to be
// added to its reading, at equally spaced knots, zero at both ends of the
// travel. Its mean slope cannot be told from the stroke per turn.
type Curve struct {
	From, To float64   // m, the travel it spans
	Add      []float64 // m at innerKnots+2 knots, first and last zero
}

// hat returns the weight of inner knot j (0 to innerKnots-1) at x.
func hat(from, to float64, j int, x float64) float64 {
	s := (x - from) / (to - from) * (innerKnots + 1)
	return math.Max(0, 1-math.Abs(s-float64(j+1)))
}

// At returns what has to be added to the reading x (m), zero beyond the ends.
func (c Curve) At(x float64) float64 {
	var sum float64
	for j := range innerKnots {
		if j+1 < len(c.Add) {
			sum += c.Add[j+1] * hat(c.From, c.To, j, x)
		}
	}
	return sum
}

// Slope returns the mean slope of the correction around x (m/m), over a knot's distance.
func (c Curve) Slope(x float64) float64 {
	if c.To <= c.From {
		return 0
	}
	half := (c.To - c.From) / (innerKnots + 1) / 2
	low, high := math.Max(x-half, c.From), math.Min(x+half, c.To)
	if high <= low {
		return 0
	}
	return (c.At(high) - c.At(low)) / (high - low)
}

// RMS returns the root mean square of the knots (m).
func (c Curve) RMS() float64 {
	var sum float64
	for _, v := range c.Add {
		sum += v * v
	}
	return math.Sqrt(sum / math.Max(float64(len(c.Add)), 1))
}
