package ident

import (
	"eha/strokewise/ident/flow"
	"eha/strokewise/ident/plant"
)

// oilDoubt is the relative half-width of each compliance.
func (f *fitting) oilDoubt() plant.PerChamber[float64] {
	doubt := func(p plant.Param) float64 {
		if e := f.oil.Params[p]; e.Known() && e.Value > 0 {
			return e.HalfWidth() / e.Value
		}
		return 1
	}
	return plant.PerChamber[float64]{Cap: doubt(plant.ComplianceCap), Rod: doubt(plant.ComplianceRod)}
}

// pressureLag is the lag of the pressure sensors behind the encoder.
func (f *fitting) pressureLag() plant.Estimate {
	if f.balance == nil || f.stroke == nil {
		return plant.MissingFrom("pulses")
	}
	return f.balance.PressureLag(f.stroke.Params[plant.TransducerDelay])
}

// mass is the moving mass as fitted, else as the machine file gives it.
func (f *fitting) mass() plant.Estimate {
	var e plant.Estimate
	switch {
	case f.balance != nil:
		e = f.balance.Mass
	case f.force != nil:
		e = f.force.Mass
	default:
		e = plant.MissingFrom("pulses: speed steps while the rod moves, both directions, with both pressures logged")
	}
	if given := f.machine.Load.Mass; given > 0 && e.Status != plant.Identified {
		return plant.Estimate{Value: given, Low: given, High: given, Status: plant.Given, From: "machine file"}
	}
	return e
}

func (f *fitting) viscous() plant.Estimate {
	if f.balance != nil {
		return f.balance.Viscous
	}
	if f.force != nil {
		return f.force.Viscous
	}
	return plant.Estimate{}
}

func number(e plant.Estimate) flow.Number { return flow.Number{Value: e.Value, Sigma: e.Sigma()} }
