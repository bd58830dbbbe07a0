package tuning

import (
	"math"

	"eha/strokewise/ident/plant"
	"eha/strokewise/tuning/law"
)

// DefaultOptions returns the usual targets, sensitivity peak 1.5, gain margin 9 dB
// and phase margin 45 degrees, the whole of the gain that they allow, and
// everything else as the machine file says.
func DefaultOptions() Options {
	return Options{
		Targets:   law.Targets{SensitivityPeak: 1.5, GainMargin: fromDecibel(9), PhaseMargin: math.Pi / 4},
		GainShare: 1,
	}
}

func fromDecibel(dB float64) float64 { return math.Pow(10, dB/20) }

// Apply returns the model with the changes made. Mass counts only where the
// plant's mass is known; what of the load is gravity follows it.
func (w WhatIf) Apply(m plant.Model, massKnown bool) plant.Model {
	if w.Mass != nil && massKnown {
		factor := *w.Mass / m.Mass
		m.AxialLoad = m.LoadAt(factor)
		m.GravityShare *= factor
		m.Mass = *w.Mass
	}
	if w.Load != nil {
		m.AxialLoad += *w.Load
	}
	if w.ControllerPeriod != nil {
		m.ControllerPeriod = *w.ControllerPeriod
	}
	if w.OuterDelay != nil {
		m.OuterDelay = *w.OuterDelay
	}
	if w.LineVolume != nil {
		m.Oil.Cap = withVolume(m.Oil.Cap, *w.LineVolume)
		m.Oil.Rod = withVolume(m.Oil.Rod, *w.LineVolume)
	}
	return m
}

// withVolume adds a dead volume (m³), which may be negative; the fixed compliance
// stays above a tenth of what it was.
func withVolume(o plant.Oil, volume float64) plant.Oil {
	o.Fixed = max(o.Fixed+volume/o.Modulus, o.Fixed/10)
	o.AirVolume = max(o.AirVolume+volume, 0)
	return o
}
