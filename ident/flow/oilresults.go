package flow

import (
	"math"

	"eha/strokewise/ident/machine"
	"eha/strokewise/ident/plant"
)

// remoteVolume is the dead volume (m³) of a chamber beyond which hoses are
// likely: their give cannot be told from more oil, and the modulus is only weak.
const remoteVolume = 1.2e-4

// modulusSpan and remoteSpan are half-widths of the bulk modulus as shares,
// for what dead volume and walls leave open.
const (
	modulusSpan = 0.05
	remoteSpan  = 0.35
)

// estimates sets Params: compliance and modulus of both chambers, mid-stroke, at
// their own pressures of slow travel.
func (o *Oil) estimates(m *machine.Machine) {
	o.Params = map[plant.Param]plant.Estimate{}
	compliance := plant.PerChamber[plant.Param]{Cap: plant.ComplianceCap, Rod: plant.ComplianceRod}
	modulus := plant.PerChamber[plant.Param]{Cap: plant.BulkModulusCap, Rod: plant.BulkModulusRod}
	for _, c := range []plant.Chamber{plant.Cap, plant.Rod} {
		p := o.meanPressure(c)
		n, ok := o.slowCompliance(c, o.stroke.Travel/2, p)
		if !ok || !(n.Value > 0) {
			o.Params[compliance.At(c)] = plant.MissingFrom("multisine")
			o.Params[modulus.At(c)] = plant.MissingFrom("multisine")
			continue
		}
		from := "flow against pressure rate while the " + c.String() + " side carries"
		if o.Borrowed(c) {
			from = "oil of the " + c.Other().String() + " side, this chamber hardly ever carries in these logs"
		}
		e := n.estimate(compliance.At(c), from)
		b := o.modulus(c, n).estimate(modulus.At(c), from)
		if o.Borrowed(c) || o.guessed(c) {
			e.Status, b.Status = plant.Weak, plant.Weak
		}
		if !o.stroke.AreasKnown {
			e, b = plant.MissingFrom("bore and rod in the machine file"), plant.MissingFrom("bore and rod in the machine file")
		}
		o.Params[compliance.At(c)], o.Params[modulus.At(c)] = e, b
	}
	o.Params[plant.BulkModulus] = o.eitherModulus(o.Params[plant.BulkModulusCap], o.Params[plant.BulkModulusRod])
}

// eitherModulus returns the modulus of the chamber that carries. Where the
// chamber changes with the direction either may be meant: then it is the mean,
// with an interval that holds both, and weak.
func (o *Oil) eitherModulus(cap, rod plant.Estimate) plant.Estimate {
	carrier := o.stroke.Carrier
	if carrier.Extend*carrier.Retract >= 0 || !cap.Known() || !rod.Known() {
		if o.mainChamber() == plant.Rod {
			return rod
		}
		return cap
	}
	return plant.Estimate{
		Value: (cap.Value + rod.Value) / 2, Low: math.Min(cap.Low, rod.Low), High: math.Max(cap.High, rod.High),
		Status: plant.Weak, From: "mean of both chambers, which carry in turn",
	}
}

// guessed reports whether the logs hold no slow steady travel in which the
// chamber carries, in either direction.
func (o *Oil) guessed(c plant.Chamber) bool {
	for _, d := range []plant.Direction{plant.Extend, plant.Retract} {
		if _, ok := o.SlowPressure(c, d); ok && !o.slow.At(c).At(d).guessed {
			return false
		}
	}
	return true
}

// mainChamber returns the chamber that carries for longer.
func (o *Oil) mainChamber() plant.Chamber {
	if o.Windows(plant.Rod) > o.Windows(plant.Cap) {
		return plant.Rod
	}
	return plant.Cap
}

// modulus returns V/(dV/dp) mid-stroke, V with the dead volume that the fit gives.
func (o *Oil) modulus(c plant.Chamber, compliance Number) Number {
	f := o.chambers.At(c)
	volume := f.value[deadVolume] + o.swept(c, o.stroke.Travel/2)
	span := modulusSpan
	if f.value[deadVolume] > remoteVolume {
		span = remoteSpan
	}
	if o.Borrowed(c) {
		span = math.Max(span, remoteSpan)
	}
	b := volume / compliance.Value
	return Number{b, b * math.Hypot(compliance.Sigma/compliance.Value, span/1.96)}
}
