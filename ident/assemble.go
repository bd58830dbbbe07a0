package ident

import (
	"math/cmplx"

	"eha/strokewise/ident/flow"
	"eha/strokewise/ident/plant"
	"eha/strokewise/ident/trace"
)

// assemble builds the plant from what the stages found.
func (f *fitting) assemble() *plant.Plant {
	f.fillParams()
	p := &plant.Plant{Machine: *f.machine, Params: f.params}
	for _, t := range f.given {
		p.Logs = append(p.Logs, plant.Log{File: t.Name(), Rows: t.Len(), Duration: t.Duration(), Period: t.Period()})
	}
	_, p.AreasKnown = areas(f.machine)
	p.PressuresSeen = f.stroke != nil && f.stroke.Pressures
	p.MassKnown = p.AreasKnown && f.params[plant.MovingMass].Known()
	if f.stroke != nil && !(f.stroke.Pressures && f.stroke.AreasKnown) {
		f.lostSpeed = f.lostSpeeds()
	}
	p.Model = f.buildModel()
	if f.refine(&p.Model) {
		p.Model = f.buildModel()
	}
	if f.stroke != nil {
		p.SlipThinning = f.stroke.Thinning
		p.StrokeMap = f.stroke.Map
	}
	if f.balance != nil {
		p.LoadMap = f.balance.Map
		p.ChamberChange = f.balance.Crossings((p.Model.Area.Cap - p.Model.Area.Rod) * p.Model.LowPressure)
	}
	p.Evidence = f.evidence()
	together([]func(){
		func() { p.Seen = f.whatWasSeen() },
		func() { p.Validation, p.Evidence.HoldOut = f.validate(&p.Model) },
	})
	p.Validation.Refinement = f.refinement
	f.doubt(p.Validation)
	fitResponses(&p.Model, p.Evidence.Responses)
	p.Warnings = f.warnings
	return p
}

// evidence gathers the points of the plots.
func (f *fitting) evidence() plant.Evidence {
	e := plant.Evidence{LostMotion: f.lost.Points, LostMotionForce: f.lost.Forces, Pressing: f.contact.Points, Responses: f.responses}
	if f.balance != nil {
		e.Friction = f.balance.Friction
	}
	if f.force != nil {
		e.Friction = f.force.Friction
	}
	if f.stroke != nil {
		e.Slip = f.stroke.SlipPoints
	}
	for _, r := range []*flow.Resonance{f.blind, f.resonance} {
		if r != nil {
			e.Resonance = r.Points
		}
	}
	return e
}

// fitResponses puts beside each measured response what the model gives for it.
func fitResponses(m *plant.Model, responses []plant.FrequencyResponse) {
	for i := range responses {
		r := &responses[i]
		if r.To == pressureOf(carrierOf(m, r).Other()).String() {
			continue // the low side stands at reservoir pressure: there is no fit
		}
		r.Fitted = make([]complex128, len(r.Omega))
		for k, omega := range r.Omega {
			r.Fitted[k] = modelResponse(m, r, complex(0, omega))
		}
	}
}

// modelResponse is the linear model's response at s: of the drive, or of one
// chamber with the mass on it, friction's Coulomb part left out.
//
//	v/n = D·A / (C·m·s² + (C·b + L·m)·s + L·b + A²),  p/n = D·(m·s + b)/(the same)
func modelResponse(m *plant.Model, r *plant.FrequencyResponse, s complex128) complex128 {
	if r.From == trace.SpeedCommand.String() {
		w := complex(m.Drive.NaturalFreq, 0)
		return w * w / (s*s + 2*complex(m.Drive.Damping, 0)*w*s + w*w) * cmplx.Exp(-s*complex(m.Drive.DeadTime, 0)) * hold(s, m.ControllerPeriod)
	}
	c := carrierOf(m, r)
	sign := complex(1-2*float64(c), 0)
	area := complex(m.Area.At(c), 0)
	pressure := m.PressureFor(c, -m.AxialLoad)
	compliance, leak := complex(m.Compliance(c, r.Position, pressure), 0), complex(m.Leakage, 0)
	low := m.Area.At(c.Other())
	mass, viscous, d := complex(m.Mass, 0), complex(m.Viscous+low*low*m.LowResistance, 0), complex(m.Displacement, 0)
	den := compliance*mass*s*s + (compliance*viscous+leak*mass)*s + leak*viscous + area*area
	if r.To == trace.RodPosition.String() {
		// Speed over speed is travel over angle.
		return d * area / den * cmplx.Exp(-s*complex(m.TransducerDelay, 0))
	}
	return sign * d * s * (mass*s + viscous) / den * cmplx.Exp(-s*complex(m.PressureLag, 0))
}

// carrierOf is the chamber under load while the response was taken, by the model
// where the log does not tell.
func carrierOf(m *plant.Model, r *plant.FrequencyResponse) plant.Chamber {
	if r.Chambers {
		return r.Chamber
	}
	return m.Carrier(m.SteadyForce(1e-3, 1))
}

// hold is the response of a command held for a period (s).
func hold(s complex128, period float64) complex128 {
	if period <= 0 || s == 0 {
		return 1
	}
	x := s * complex(period, 0)
	return (1 - cmplx.Exp(-x)) / x
}

func pressureOf(c plant.Chamber) trace.Channel {
	if c == plant.Rod {
		return trace.RodPressure
	}
	return trace.CapPressure
}
