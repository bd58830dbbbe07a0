package balance

import (
	"math"
	"sort"

	"eha/strokewise/ident/plant"
)

const (
	curveBins = 24 // per direction, evenly spaced in the logarithm of speed
	curveLow  = 0.003
	mapBins   = 20
	leastRows = 5 // of a bin
)

// curves fills in friction over speed and load and friction along the stroke,
// from all windows in steady motion or not, what the mass takes taken out.
func (s *survey) curves(res *Result, l *line) {
	a := s.collect(lineWidth, curveLow*s.full, math.Inf(1))
	if len(a.force) == 0 {
		return
	}
	res.Friction, res.Map = nil, plant.LoadMap{}
	a.curve(res, s, l)
	a.along(res, s, l)
}

// rest returns the force at row i less inertia and line loss.
func (a *rows) rest(l *line, i int) float64 {
	rest := a.force[i] - l.coef(accel)*a.accel[i] - l.coef(jerk)*a.jerk[i]
	if c := l.coef(flow); c != 0 {
		rest -= c * a.flow[i]
	}
	return rest
}

func (a *rows) curve(res *Result, s *survey, l *line) {
	var forces, speeds [2][curveBins][]float64
	span := math.Log(1 / curveLow)
	for i, v := range a.speed {
		b := int(curveBins * math.Log(math.Abs(v)/(curveLow*s.full)) / span)
		if b < 0 || math.IsNaN(v) {
			continue
		}
		b = min(b, curveBins-1)
		d := a.direction[i]
		xi := (a.position[i] - s.center) / s.reach
		forces[d][b] = append(forces[d][b], a.rest(l, i)+l.load(xi))
		speeds[d][b] = append(speeds[d][b], v)
	}
	for d := range forces {
		for b := range forces[d] {
			if len(forces[d][b]) >= leastRows {
				res.Friction = append(res.Friction, plant.Point{X: median(speeds[d][b]), Y: median(forces[d][b])})
			}
		}
	}
	sort.Slice(res.Friction, func(i, j int) bool { return res.Friction[i].X < res.Friction[j].X })
}

// along fills in the map by position. Where both directions are there, half
// their difference is friction and half their sum the load; where only one is,
// the load is that of the fitted line.
func (a *rows) along(res *Result, s *survey, l *line) {
	var sums, counts [2][mapBins]float64
	low := 0.03 * s.full
	for i, v := range a.speed {
		if math.Abs(v) < low {
			continue
		}
		b := int(mapBins * (a.position[i] - (s.center - s.reach)) / (2 * s.reach))
		if b < 0 || b >= mapBins {
			continue
		}
		// The viscous part goes, so that bins travelled at unlike speeds compare.
		sums[a.direction[i]][b] += a.rest(l, i) - l.coef(speed)*v
		counts[a.direction[i]][b]++
	}
	for b := range mapBins {
		x := s.center + s.reach*(2*(float64(b)+0.5)/mapBins-1)
		extend, retract := sums[0][b]/counts[0][b], sums[1][b]/counts[1][b]
		both := counts[0][b] >= leastRows && counts[1][b] >= leastRows
		load := l.load((x - s.center) / s.reach)
		if both {
			load = -(extend + retract) / 2
		}
		friction := (extend - retract) / 2
		switch {
		case both:
		case counts[0][b] >= leastRows:
			friction = extend + load
		case counts[1][b] >= leastRows:
			friction = -(retract + load)
		default:
			continue
		}
		res.Map.Position = append(res.Map.Position, x)
		res.Map.AxialLoad = append(res.Map.AxialLoad, load)
		res.Map.Friction.Extend = append(res.Map.Friction.Extend, friction)
		res.Map.Friction.Retract = append(res.Map.Friction.Retract, friction)
	}
}

// Crossings returns the rod positions (m) at which the hydraulic force of slow
// travel in either direction passes the level (N): with level (A_cap - A_rod)·p_low
// the places where the chamber that carries changes.
func (r *Result) Crossings(level float64) []float64 {
	var places []float64
	for _, d := range []plant.Direction{plant.Extend, plant.Retract} {
		last := math.NaN()
		for i, x := range r.Map.Position {
			over := d.Sign()*r.Map.Friction.At(d)[i] - r.Map.AxialLoad[i] - level
			if i > 0 && over*last < 0 {
				before := r.Map.Position[i-1]
				places = append(places, before+(x-before)*last/(last-over))
			}
			last = over
		}
	}
	sort.Float64s(places)
	return places
}

func sortedMagnitude(y []float64) []float64 {
	sorted := make([]float64, len(y))
	for i, v := range y {
		sorted[i] = math.Abs(v)
	}
	sort.Float64s(sorted)
	return sorted
}
