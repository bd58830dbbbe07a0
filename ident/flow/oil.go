package flow

import (
	"math"

	"gonum.org/v1/gonum/mat"

	"eha/strokewise/ident/machine"
	"eha/strokewise/ident/plant"
	"eha/strokewise/ident/trace"
	"eha/strokewise/ident/window"
)

const (
	// fewWindows and poorCapacity are the limits below which a chamber's own
	// capacity is not trusted and the other chamber's oil is borrowed.
	fewWindows   = 60
	poorCapacity = 0.08
	// borrowedSpan is the standard deviation of a borrowed chamber's capacity, as a share.
	borrowedSpan = 0.25
	// capacityInflation widens the regression's interval: windows of other
	// widths, the sensors' lag and the valves are not in it.
	capacityInflation = 1.5
	capacityFloor     = 0.01
)

// chamberFit is the capacity regression of one chamber:
//
//	C(V, p) = th0 + th1·V + th2·(0.9 V0 + V)·g(p)
type chamberFit struct {
	th       [3]float64
	cov      *mat.SymDense
	dead     float64 // m³, V0
	windows  int
	borrowed bool
	known    bool
}

// Oil is the compressibility of both chambers as fitted.
type Oil struct {
	stroke   *Stroke
	chambers plant.PerChamber[chamberFit]
	slow     plant.PerChamber[plant.PerDirection[slowPressure]]
	// LowResistance is the rise of the low side's pressure per flow through the
	// valve that clamps it (Pa·s/m³), by the chamber that carries; zero Sigma where unknown.
	LowResistance plant.PerChamber[Number]
	Params        map[plant.Param]plant.Estimate
}

// slowPressure is a chamber's pressure while it carries in slow travel one way.
type slowPressure struct {
	value, spread float64 // Pa
	time          float64 // s
}

// FitOil fits the compliance of both chambers from all logs together, with what
// FitStroke found. pressureLag (s) is that of the pressure sensors behind the
// encoder (first order).
//
// A chamber that hardly ever carries takes the other's oil, which Borrowed
// tells. Without pressures FitOil returns ErrNoPressures.
func FitOil(logs []*trace.Trace, m *machine.Machine, s *Stroke, pressureLag float64) (*Oil, error) {
	o := &Oil{stroke: s}
	var series []*flowSeries
	var averaged []*means
	var total float64
	held := hold(logs)
	for _, c := range held {
		total += c.log.Duration()
	}
	stride := math.Max(oilStride, total/maxOilWindows)
	for _, c := range held {
		if !c.pressures() {
			continue
		}
		series = append(series, slideFlow(c, s, pressureLag, stride, m.Limits.Relief))
		averaged = append(averaged, average(c, m.Limits.Relief))
	}
	if len(series) == 0 || !s.Pressures {
		return nil, ErrNoPressures
	}
	for _, c := range []plant.Chamber{plant.Cap, plant.Rod} {
		o.chambers.Set(c, fitChamber(rowsOf(series, s, c), s, s.Areas.At(c)*s.Travel))
	}
	o.slow = slowPressures(averaged, sideLevel(averaged), s.Displacement.Value/math.Max(s.Areas.Cap, s.Areas.Rod))
	o.borrow()
	o.LowResistance = lowResistance(averaged, s, sideLevel(averaged))
	o.estimates(m)
	return o, nil
}

// fitChamber solves the capacity equation of one chamber. full (m³) is the
// chamber's largest swept volume.
func fitChamber(r *flowRows, s *Stroke, full float64) chamberFit {
	f := chamberFit{windows: len(r.net), dead: 0.2 * full}
	if len(r.net) < fewWindows {
		return f
	}
	for range 3 {
		fit, err := window.Solve(r.problem(s, f.dead, full))
		if err != nil {
			return chamberFit{windows: len(r.net)}
		}
		f.known = true
		copy(f.th[:], fit.Coef)
		f.cov = mat.NewSymDense(3, nil)
		for i := range 3 {
			for j := i; j < 3; j++ {
				f.cov.SetSym(i, j, capacityInflation*capacityInflation*fit.Cov.At(i, j))
			}
		}
		f.dead = math.Min(math.Max(f.th[0]/f.th[1], 0), 3*full)
	}
	return f
}

// problem sets up the regression with dead volume dead (m³).
func (r *flowRows) problem(s *Stroke, dead, full float64) window.Problem {
	n := len(r.net)
	x := make([][]float64, 5)
	for j := range x {
		x[j] = make([]float64, n)
	}
	for i := range n {
		x[0][i], x[1][i] = r.gain[i], r.gain[i]*r.swept[i]
		x[2][i] = (deadAirShare*dead + r.swept[i]) * r.air[i]
		x[3][i], x[4][i] = s.Displacement.Value*r.turn[i], r.span[i]
	}
	airSigma := math.Max(s.Air.Sigma, 0.003)
	var fastest float64
	for i := range n {
		fastest = math.Max(fastest, math.Abs(r.turn[i]/r.span[i]))
	}
	return window.Problem{Y: r.net, X: x, Z: r.instrument, Block: r.block, Priors: []window.Prior{
		{Mean: 0.3 * full / oilModulus, Sigma: 3 * full / oilModulus},
		{Mean: 1 / oilModulus, Sigma: oilModulusSpan / oilModulus},
		{Mean: s.Air.Value, Sigma: airSigma},
		{Sigma: 0.002},
		{Sigma: 0.01 * s.Displacement.Value * fastest},
	}}
}

// compliance returns dV/dp (m³/Pa) at swept volume V (m³) and gauge pressure p (Pa).
func (f *chamberFit) compliance(swept, p float64) Number {
	abs := math.Max(p+plant.AtmosphericPressure, 0.1*plant.AtmosphericPressure)
	g := airTerm(p) / (plant.PolytropicIndex * abs)
	gradient := []float64{1, swept, (deadAirShare*f.dead + swept) * g}
	value := f.th[0] + f.th[1]*swept + f.th[2]*gradient[2]
	v := mat.NewVecDense(3, gradient)
	sigma := math.Sqrt(math.Max(mat.Inner(v, f.cov, v), 0))
	return Number{value, math.Hypot(sigma, capacityFloor*value)}
}

// swept returns the volume (m³) that the piston at x (m) opens in the chamber.
func (o *Oil) swept(c plant.Chamber, x float64) float64 {
	if c == plant.Rod {
		return o.stroke.Areas.Rod * math.Max(o.stroke.Travel-x, 0)
	}
	return o.stroke.Areas.Cap * math.Max(x, 0)
}

// Compliance returns dV/dp (m³/Pa) of the chamber with the piston at x (m) and
// the chamber at gauge pressure p (Pa), and whether the logs tell it.
func (o *Oil) Compliance(c plant.Chamber, x, p float64) (Number, bool) {
	f := o.chambers.At(c)
	if !f.known {
		return Number{}, false
	}
	return f.compliance(o.swept(c, x), p), true
}

// Borrowed reports whether the chamber's oil was taken from the other one.
func (o *Oil) Borrowed(c plant.Chamber) bool { return o.chambers.At(c).borrowed }

// Windows returns how many windows of the logs had the chamber carrying.
func (o *Oil) Windows(c plant.Chamber) int { return o.chambers.At(c).windows }

// Model returns the chamber's oil in the form of the plant model.
func (o *Oil) Model(c plant.Chamber) plant.Oil {
	f := o.chambers.At(c)
	if !f.known {
		return plant.Oil{Modulus: oilModulus}
	}
	return plant.Oil{Fixed: f.th[0], Modulus: 1 / f.th[1], Air: f.th[2], AirVolume: deadAirShare * f.dead}
}

// borrow replaces the fit of a chamber that hardly carries by the other's oil
// with that one's dead volume, widened.
func (o *Oil) borrow() {
	for _, c := range []plant.Chamber{plant.Cap, plant.Rod} {
		own, other := o.chambers.At(c), o.chambers.At(c.Other())
		if own.known && !o.poor(c) || !other.known || o.poor(c.Other()) {
			continue
		}
		lent := other
		lent.windows, lent.borrowed, lent.cov = own.windows, true, mat.NewSymDense(3, nil)
		lent.cov.CopySym(other.cov)
		// Half of the fixed part and the spread of the modulus are not known to carry over.
		lent.cov.SetSym(0, 0, lent.cov.At(0, 0)+math.Pow(0.5*other.th[0], 2))
		lent.cov.SetSym(1, 1, lent.cov.At(1, 1)+math.Pow(oilModulusSpan*other.th[1], 2))
		o.chambers.Set(c, lent)
	}
}

// poor reports whether the chamber's own capacity mid-stroke is too uncertain to use.
func (o *Oil) poor(c plant.Chamber) bool {
	f := o.chambers.At(c)
	if !f.known || f.windows < fewWindows {
		return true
	}
	p := o.ownPressure(c)
	n := f.compliance(o.swept(c, o.stroke.Travel/2), p)
	return n.Value <= 0 || f.th[1] <= 0 || n.Sigma > poorCapacity*n.Value
}
