package flow

import (
	"math"

	"gonum.org/v1/gonum/mat"

	"eha/strokewise/ident/machine"
	"eha/strokewise/ident/plant"
	"eha/strokewise/ident/trace"
)

const (
	// fewWindows and poorCapacity are the limits below which a chamber's own
	// capacity is not trusted and the other chamber's oil is borrowed.
	fewWindows   = 60
	poorCapacity = 0.08
	// borrowedDead is the standard deviation of a borrowed dead volume, as a share.
	borrowedDead = 0.5
	// usualOffset (Pa) is the standard deviation of the difference of two pressure
	// sensors, sensorDoubt that of what both are off by together (common practice, no source).
	usualOffset, sensorDoubt = 1e5, 0.4e5
)

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
	value   float64 // Pa
	spread  float64 // Pa, half of what two thirds of the readings span
	time    float64 // s
	guessed bool    // from travel that was not slow and steady
}

// FitOil fits the compliance of both chambers from all logs together, with what
// FitStroke found. pressureLag (s) is that of the pressure sensors behind the
// encoder (first order). slowForce is the hydraulic force (N) of slow travel in
// each direction, for logs that hold none; nil where unknown.
//
// A chamber that hardly ever carries takes the other's oil, which Borrowed
// tells. Without pressures FitOil returns ErrNoPressures.
func FitOil(logs []*trace.Trace, m *machine.Machine, s *Stroke, pressureLag float64, slowForce *plant.PerDirection[Number]) (*Oil, error) {
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
	o.slow = slowPressures(averaged, s, slowForce)
	o.borrow()
	o.LowResistance = lowResistance(averaged, s, sideLevel(averaged))
	o.estimates(m)
	return o, nil
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
	if f.borrowed {
		p += o.misread(c)
	}
	return f.compliance(o.swept(c, x), p), true
}

// misread is what to add to the pressure read in the chamber (Pa): half of what the
// sensors are known to differ by, as far as that is known. Another chamber's oil knows
// nothing of this one's sensor.
func (o *Oil) misread(c plant.Chamber) float64 {
	d := o.stroke.Offset
	half := d.Value / 2 / (1 + math.Pow(d.Sigma/usualOffset, 2))
	if c == plant.Rod {
		return -half
	}
	return half
}

// slowCompliance returns the compliance with the piston at x (m) at the pressure
// p (Pa) of slow travel. Readings of that pressure differ along the stroke, so
// half their spread widens the interval: near zero load air makes it count, and for
// another chamber's oil so does what the sensor may be off by.
func (o *Oil) slowCompliance(c plant.Chamber, x, p float64) (Number, bool) {
	n, ok := o.Compliance(c, x, p)
	if !ok {
		return n, false
	}
	var spread float64
	for _, d := range []plant.Direction{plant.Extend, plant.Retract} {
		if _, seen := o.SlowPressure(c, d); seen {
			spread = math.Max(spread, o.slow.At(c).At(d).spread/2)
		}
	}
	if o.Borrowed(c) {
		spread = math.Hypot(spread, math.Hypot(sensorDoubt, math.Min(o.stroke.Offset.Sigma, usualOffset)/2))
	}
	stiff, _ := o.Compliance(c, x, p+spread)
	soft, _ := o.Compliance(c, x, p-spread)
	n.Sigma = math.Hypot(n.Sigma, (soft.Value-stiff.Value)/2)
	return n, true
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
	return f.oil()
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
		lent.windows, lent.borrowed = own.windows, true
		lent.cov = mat.NewSymDense(len(lent.value), nil)
		lent.cov.CopySym(other.cov)
		// Half of the dead volume is not known to carry over.
		lent.cov.SetSym(deadVolume, deadVolume, lent.cov.At(deadVolume, deadVolume)+math.Pow(borrowedDead*other.value[deadVolume], 2))
		o.chambers.Set(c, lent)
	}
}

// poor reports whether the chamber's own capacity mid-stroke is too uncertain to use.
func (o *Oil) poor(c plant.Chamber) bool {
	f := o.chambers.At(c)
	if !f.known || f.windows < fewWindows {
		return true
	}
	p := o.meanPressure(c)
	n := f.compliance(o.swept(c, o.stroke.Travel/2), p)
	return !(n.Value > 0) || n.Sigma > poorCapacity*n.Value
}
