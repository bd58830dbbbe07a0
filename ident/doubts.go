package ident

import (
	"fmt"
	"math"

	"eha/strokewise/ident/plant"
	"eha/strokewise/ident/trace"
)

// oilParams are what the oil gives, and what follows from it.
var oilParams = []plant.Param{plant.BulkModulus, plant.BulkModulusCap, plant.BulkModulusRod, plant.ComplianceCap, plant.ComplianceRod}

// doubtClocks widens what the joining of two recordings leaves in doubt: the sensors'
// lags, and what the oil gives, which is turns less travel against pressure: turns that
// come δ late are off by ω·δ of themselves at the resonance ω. The fit itself goes on
// with the logs as they lie.
func (f *fitting) doubtClocks() {
	rod, pressures := f.clockDoubt(trace.RodPosition), f.clockDoubt(trace.CapPressure, trace.RodPressure)
	because := func(doubt float64) string {
		return fmt.Sprintf("; the joined recordings' clocks are in doubt by ± %.1f ms", 1e3*doubt)
	}
	f.widen(plant.TransducerDelay, rod, because(rod))
	f.widen(plant.PressureLag, pressures, because(pressures))
	if omega := f.params[plant.HydraulicFrequency]; omega.Known() {
		for _, p := range oilParams {
			f.widen(p, f.params[p].Value*math.Min(1, omega.Value*pressures), because(pressures))
		}
	}
}

// clockDoubt is by how much the channels may be off the encoder by joining alone (s).
func (f *fitting) clockDoubt(channels ...trace.Channel) float64 {
	doubt := 0.0
	for _, t := range f.given {
		for _, c := range channels {
			doubt = math.Max(doubt, t.ClockDoubt(trace.MotorPosition, c))
		}
	}
	return doubt
}

// doubtUpdates widens what channels that were updated now and then leave in doubt. The
// trace runs through them on cubic splines, which keep a swing of u of its period
// between updates up to
//
//	sinc(u)^4 / (1 - 2/3·sin²(πu))
//
// M. Unser, "Splines: a perfect fit for signal and image processing", IEEE Signal
// Processing Magazine 16(6), 1999 (the cardinal cubic spline's response; from memory).
func (f *fitting) doubtUpdates() {
	period := 0.0
	for _, t := range f.given {
		period = math.Max(period, math.Max(t.Update(trace.RodPosition), math.Max(t.Update(trace.CapPressure), t.Update(trace.RodPressure))))
	}
	omega := f.params[plant.HydraulicFrequency]
	if period == 0 || !omega.Known() {
		return
	}
	u := math.Min(0.5, omega.Value/(2*math.Pi)*period)
	sin := math.Sin(math.Pi * u)
	lost := 1 - math.Pow(sin/(math.Pi*u), 4)/(1-2./3*sin*sin)
	because := fmt.Sprintf("; a channel was updated every %.3g ms only", 1e3*period)
	const margin = 2 // what is lost at the resonance is more above it
	for _, p := range append([]plant.Param{plant.MovingMass, plant.HydraulicDamping, plant.HydraulicFrequency}, oilParams...) {
		f.widen(p, f.params[p].Value*math.Min(1, margin*lost), because)
	}
	for _, p := range []plant.Param{plant.TransducerDelay, plant.PressureLag} {
		f.widen(p, margin*lost/omega.Value, because)
	}
}

// widen adds so much doubt to a parameter's interval, and says why.
func (f *fitting) widen(p plant.Param, by float64, because string) {
	e := f.params[p]
	if by == 0 || !e.Known() {
		return
	}
	half := math.Hypot(e.HalfWidth(), by)
	wide := p.Found(e.Value, e.Value-half, e.Value+half, e.From+because)
	if e.Status != plant.Identified {
		wide.Status = e.Status
	}
	f.params[p] = wide
}
