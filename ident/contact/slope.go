package contact

import (
	"math"

	"eha/strokewise/ident/plant"
)

// slopeFit is least squares of Y on X with one slope for all groups of points
// and an intercept for each group.
type slopeFit struct {
	points [][]plant.Point // centred, by group
	groups int
	sxx    float64
	sxy    float64
}

func (s *slopeFit) add(points []plant.Point) {
	if len(points) < 2 {
		return
	}
	var mean plant.Point
	for _, p := range points {
		mean.X += p.X / float64(len(points))
		mean.Y += p.Y / float64(len(points))
	}
	centred := make([]plant.Point, len(points))
	for i, p := range points {
		centred[i] = plant.Point{X: p.X - mean.X, Y: p.Y - mean.Y}
		s.sxx += centred[i].X * centred[i].X
		s.sxy += centred[i].X * centred[i].Y
	}
	s.points = append(s.points, centred)
	s.groups++
}

// slope returns the slope and its standard deviation: the larger of what the
// scatter of the points gives, neighbours counted as one of two, and of what the
// spread between the groups gives. Without points the slope is 0.
func (s *slopeFit) slope() (slope, sigma float64) {
	if s.sxx == 0 {
		return 0, 0
	}
	slope = s.sxy / s.sxx
	var rss, between, n float64
	for _, group := range s.points {
		var score float64
		for _, p := range group {
			e := p.Y - slope*p.X
			rss += e * e
			score += e * p.X
			n++
		}
		between += score * score
	}
	free := math.Max(n-1-float64(s.groups), 1)
	sigma = math.Sqrt(2 * rss / free / s.sxx)
	if s.groups > 1 {
		g := float64(s.groups)
		sigma = math.Max(sigma, math.Sqrt(between*g/(g-1))/s.sxx)
	}
	return slope, sigma
}
