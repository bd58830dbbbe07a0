package balance

import (
	"math"

	"eha/strokewise/ident/plant"
)

// riseDoubt is the share of Coulomb friction by which friction of slow travel may
// depart from the straight line where the curve does not reach down to it.
const riseDoubt = 0.1

// SlowForce returns the hydraulic force (N) of steady travel in the direction at
// the speed (m/s, positive) through x (m), with its standard deviation: friction
// there, from the friction curve where it reaches so far, less the load. ok is
// false where friction or load is not known. The offsets of the pressure sensors
// are in it, as they are in the pressures.
func (r *Result) SlowForce(d plant.Direction, speed, x float64) (force, sigma float64, ok bool) {
	if !r.Coulomb.Known() || !r.Load.Known() {
		return 0, 0, false
	}
	line := r.Coulomb.Value + r.Viscous.Value*speed
	friction, doubt := line, riseDoubt*r.Coulomb.Value
	if seen, found := between(r.Friction, d.Sign()*speed); found {
		friction, doubt = d.Sign()*seen, math.Max(doubt/3, math.Abs(d.Sign()*seen-line)/3)
	}
	return d.Sign()*friction - r.loadAt(x), math.Hypot(doubt, r.Coulomb.Sigma()), true
}

// between interpolates points sorted by X at x; false unless x lies between two
// neighbours of its own sign that are less than a factor of two apart.
func between(points []plant.Point, x float64) (float64, bool) {
	for i := 1; i < len(points); i++ {
		a, b := points[i-1], points[i]
		if a.X <= x && x <= b.X && a.X*b.X > 0 && math.Max(a.X/b.X, b.X/a.X) < 2 {
			return a.Y + (b.Y-a.Y)*(x-a.X)/(b.X-a.X), true
		}
	}
	return 0, false
}

// loadAt returns the axial load (N) at x (m) as the map gives it, the load of the
// whole travel without one.
func (r *Result) loadAt(x float64) float64 {
	p := r.Map.Position
	if len(p) == 0 {
		return r.Load.Value
	}
	i := 1
	for i < len(p)-1 && p[i] < x {
		i++
	}
	if len(p) == 1 {
		return r.Map.AxialLoad[0]
	}
	share := math.Min(math.Max((x-p[i-1])/(p[i]-p[i-1]), 0), 1)
	return r.Map.AxialLoad[i-1] + share*(r.Map.AxialLoad[i]-r.Map.AxialLoad[i-1])
}
