package flow

import (
	"math"

	"gonum.org/v1/gonum/mat"

	"eha/strokewise/ident/plant"
	"eha/strokewise/ident/window"
)

// Indices of the unknowns of one chamber's capacity
//
//	C(V, p) = e·(V0 + V) + w + a·(0.9 V0 + V)·g(p)
//
// with V the swept volume: dead volume V0 (m³), compressibility e of the oil
// itself (1/Pa), share of free air a, give of line and walls w (m³/Pa); and two
// that only take up what the turns equation left: a share of D and a flow (m³/s).
const (
	deadVolume = iota
	compressibility
	freeAir
	give
	displacementError
	flowError
	numOil
)

const (
	// capacityInflation widens the regression's interval: windows of other
	// widths, the sensors' lag and the valves are not in it.
	capacityInflation = 1.3
	capacityFloor     = 0.0065
	// A survey holds at least half of surveyTime of each chamber that carries;
	// shorter logs hold fewer kinds of motion, and the model's own error then
	// grows by shortPower of their share, up to mostShort times.
	shortPower, mostShort = 1.25, 4.0
	// Dead volume and give as shares of the largest swept volume and of its
	// compliance, before the logs speak (common practice, no source).
	usualDead, usualDeadSpan = 0.2, 0.25
	usualGiveSpan            = 0.05
)

// chamberFit is the fitted capacity of one chamber.
type chamberFit struct {
	value    [numOil]float64
	cov      *mat.SymDense
	windows  int
	time     float64 // s, that the windows cover
	borrowed bool
	known    bool
}

// fitChamber fits the capacity of one chamber. full (m³) is the chamber's
// largest swept volume.
//
// The flow is linear in six products of the unknowns; these are fitted first,
// by window.Solve, and the unknowns with their priors are then fitted to the
// products, weighed by the information that the rows hold on them. That is the
// same as fitting the unknowns to the rows, at a fraction of the time.
func fitChamber(r *flowRows, s *Stroke, full float64) chamberFit {
	f := chamberFit{windows: len(r.net), time: r.time}
	if len(r.net) < fewWindows {
		return f
	}
	products, err := window.Solve(r.problem(s))
	if err != nil {
		return f
	}
	var fastest float64
	for i, t := range r.turn {
		fastest = math.Max(fastest, math.Abs(t/r.span[i]))
	}
	e := 1 / oilModulus
	prior := [numOil]window.Prior{
		deadVolume:        {Mean: usualDead * full, Sigma: usualDeadSpan * full},
		compressibility:   {Mean: e, Sigma: oilModulusSpan * e},
		freeAir:           {Mean: s.Air.Value, Sigma: 0.005},
		give:              {Sigma: usualGiveSpan * full * e},
		displacementError: {Sigma: 0.002},
		flowError:         {Sigma: 0.01 * s.Displacement.Value * fastest},
	}
	f.known = f.fitProducts(products, prior)
	return f
}

// problem returns the regression of the net flow on the six products.
func (r *flowRows) problem(s *Stroke) window.Problem {
	x := make([][]float64, numOil)
	for j := range x {
		x[j] = make([]float64, len(r.net))
	}
	for i := range r.net {
		x[0][i], x[1][i] = r.gain[i], r.gain[i]*r.swept[i]
		x[2][i], x[3][i] = r.air[i], r.air[i]*r.swept[i]
		x[4][i], x[5][i] = s.Displacement.Value*r.turn[i], r.span[i]
	}
	u := make([][]float64, numOil)
	for j := range u {
		u[j] = make([]float64, len(r.net))
	}
	for i, e := range r.noise {
		u[0][i], u[1][i] = e, e*r.swept[i]
		u[2][i], u[3][i] = e*r.soft[i], e*r.soft[i]*r.swept[i]
	}
	return window.Problem{Y: r.net, X: x, Noise: u, Block: r.block}
}

// products returns the coefficients of problem's columns for the unknowns, and
// their derivatives, one row per product.
func (f *chamberFit) products() ([numOil]float64, *mat.Dense) {
	v := &f.value
	p := [numOil]float64{
		v[compressibility]*v[deadVolume] + v[give], v[compressibility],
		deadAirShare * v[freeAir] * v[deadVolume], v[freeAir],
		v[displacementError], v[flowError],
	}
	d := mat.NewDense(numOil, numOil, nil)
	d.Set(0, deadVolume, v[compressibility])
	d.Set(0, compressibility, v[deadVolume])
	d.Set(0, give, 1)
	d.Set(1, compressibility, 1)
	d.Set(2, deadVolume, deadAirShare*v[freeAir])
	d.Set(2, freeAir, deadAirShare*v[deadVolume])
	d.Set(3, freeAir, 1)
	d.Set(4, displacementError, 1)
	d.Set(5, flowError, 1)
	return p, d
}

// fitProducts fits the unknowns to the products by Gauss-Newton steps from the
// priors' means and reports whether it ended at a chamber that can be.
func (f *chamberFit) fitProducts(fit *window.Fit, prior [numOil]window.Prior) bool {
	for j, p := range prior {
		f.value[j] = p.Mean
	}
	scale := mat.NewDiagDense(numOil, nil)
	for j, p := range prior {
		scale.SetDiag(j, p.Sigma)
	}
	for range 20 {
		// Unknowns are scaled by their priors' sigma: sizes differ by 1e15.
		p, d := f.products()
		var jac, weighed, hessian mat.Dense
		jac.Mul(d, scale)
		weighed.Mul(fit.Info, &jac)
		hessian.Mul(jac.T(), &weighed)
		off := mat.NewVecDense(numOil, nil)
		for j := range numOil {
			off.SetVec(j, fit.Coef[j]-p[j])
		}
		var gradient, step mat.VecDense
		gradient.MulVec(weighed.T(), off)
		for j := range numOil {
			hessian.Set(j, j, hessian.At(j, j)+1)
			gradient.SetVec(j, gradient.AtVec(j)-(f.value[j]-prior[j].Mean)/prior[j].Sigma)
		}
		if err := step.SolveVec(&hessian, &gradient); err != nil {
			return false
		}
		f.covariance(fit.Cov, &weighed, &hessian, scale)
		for j := range numOil {
			f.value[j] += step.AtVec(j) * prior[j].Sigma
		}
		// A dead volume or air content of nothing would stop the search there.
		f.value[deadVolume] = math.Max(f.value[deadVolume], 0.02*prior[deadVolume].Mean)
		f.value[freeAir] = math.Max(f.value[freeAir], airLow/4)
		if mat.Norm(&step, 2) < 1e-6 {
			break
		}
	}
	return f.value[compressibility] > 0
}

// covariance sets f.cov from the sandwich of the products and the priors.
func (f *chamberFit) covariance(products *mat.SymDense, weighed, hessian *mat.Dense, scale *mat.DiagDense) {
	var inverse, half, middle, full mat.Dense
	if err := inverse.Inverse(hessian); err != nil {
		return
	}
	half.Mul(products, weighed)
	middle.Mul(weighed.T(), &half)
	for j := range numOil {
		for k := range numOil {
			middle.Set(j, k, middle.At(j, k)*capacityInflation*capacityInflation)
		}
		middle.Set(j, j, middle.At(j, j)+1)
	}
	full.Product(scale, &inverse, &middle, inverse.T(), scale)
	f.cov = mat.NewSymDense(numOil, nil)
	for j := range numOil {
		for k := range j + 1 {
			f.cov.SetSym(j, k, (full.At(j, k)+full.At(k, j))/2)
		}
	}
}

// compliance returns dV/dp (m³/Pa) at swept volume V (m³) and gauge pressure p (Pa).
func (f *chamberFit) compliance(swept, p float64) Number {
	g := airSlope(p)
	v := &f.value
	gradient := mat.NewVecDense(numOil, nil)
	gradient.SetVec(deadVolume, v[compressibility]+deadAirShare*v[freeAir]*g)
	gradient.SetVec(compressibility, v[deadVolume]+swept)
	gradient.SetVec(freeAir, (deadAirShare*v[deadVolume]+swept)*g)
	gradient.SetVec(give, 1)
	value := v[compressibility]*(v[deadVolume]+swept) + v[give] + v[freeAir]*gradient.AtVec(freeAir)
	sigma := math.Sqrt(math.Max(mat.Inner(gradient, f.cov, gradient), 0))
	short := math.Pow(math.Max(surveyTime/2/f.time, 1), shortPower)
	return Number{value, math.Hypot(sigma, math.Min(short, mostShort)*capacityFloor*value)}
}

// oil returns the fit in the form of the plant model.
func (f *chamberFit) oil() plant.Oil {
	v := &f.value
	return plant.Oil{Fixed: v[compressibility]*v[deadVolume] + v[give], Modulus: 1 / v[compressibility],
		Air: v[freeAir], AirVolume: deadAirShare * v[deadVolume]}
}
