package main

import (
	"math"

	"eha/strokewise/ident/machine"
	"eha/strokewise/ident/plant"
	"eha/strokewise/samples/twin"
)

// exactPlant returns the compact model of the machine with true parameters and
// intervals of one percent: what a perfect fit would hand to the design. With it
// the loops are judged apart from the fit.
func exactPlant(m *twin.Machine) (*plant.Plant, error) {
	known, err := machine.Parse([]byte(twin.MachineFile(m)), "machine.toml")
	if err != nil {
		return nil, err
	}
	p := &plant.Plant{Machine: *known, Params: map[plant.Param]plant.Estimate{}, AreasKnown: true, MassKnown: true, PressuresSeen: true}
	truth := twin.TruthOf(m)
	for _, param := range plant.Params() {
		if want, ok := truth.Params[param.String()]; ok {
			v := want.Value / param.Info().Factor
			band := 0.01 * math.Abs(v)
			p.Params[param] = param.Found(v, v-band, v+band, "the simulator's own value")
		}
	}
	p.Model = exactModel(m)
	p.Seen = seenBy(m)
	return p, nil
}

func exactModel(m *twin.Machine) plant.Model {
	out, in := twin.TravelSlowly(m, 1), twin.TravelSlowly(m, -1)
	low := func(s twin.SlowTravel) float64 { return math.Min(s.Pressure[0], s.Pressure[1]) }
	model := plant.Model{
		Area: plant.PerChamber[float64]{Cap: m.AreaCap(), Rod: m.AreaRod()}, Stroke: m.Stroke,
		Displacement: m.Displacement, Leakage: m.Slip() * m.Displacement,
		Oil: plant.PerChamber[plant.Oil]{
			Cap: plant.Oil{Fixed: m.WallCap + m.DeadCap/m.Modulus, Modulus: m.Modulus, Air: m.Air, AirVolume: m.DeadCap},
			Rod: plant.Oil{Fixed: m.WallRod + m.DeadRod/m.Modulus, Modulus: m.Modulus, Air: m.Air, AirVolume: m.DeadRod},
		},
		LowPressure: (low(out) + low(in)) / 2, LowResistance: (out.LowResistance + in.LowResistance) / 2,
		Mass: m.Mass, Coulomb: plant.PerDirection[float64]{Extend: m.Coulomb, Retract: m.Coulomb},
		Viscous: m.Viscous, Breakaway: m.Static, StribeckSpeed: m.StribeckSpeed,
		AxialLoad: m.AxialLoad(), GravityShare: m.AxialLoad() - m.ProcessLoad,
		Drive: plant.Drive{NaturalFreq: m.DriveFreq, Damping: m.DriveDamping, DeadTime: m.DeadTime,
			AccelLimit: m.PeakTorque / m.Inertia, AccelMet: true, AccelPerPressure: m.Displacement / m.Inertia},
		TransducerDelay: m.Sensors.PositionDelay + m.Sensors.PositionLag, PressureLag: m.Sensors.PressureLag,
		OuterDelay: m.OuterDelay, ControllerPeriod: m.ControlPeriod,
	}
	if c := m.Contact; c != nil {
		model.Contact = &plant.Contact{Position: c.Position, Stiffness: c.Stiffness}
		if c.Sign < 0 {
			model.Contact.Presses = plant.Retract
		}
	}
	return model
}

// seenBy is the range that a survey of the machine covers.
func seenBy(m *twin.Machine) plant.Seen {
	full := m.MaxSpeed * m.Displacement / m.AreaCap()
	seen := plant.Seen{
		Position: [2]float64{0.04 * m.Stroke, 0.96 * m.Stroke}, RodSpeed: [2]float64{-0.7 * full, 0.7 * full},
		MotorSpeed: [2]float64{-0.7 * m.MaxSpeed, 0.7 * m.MaxSpeed},
		Accel:      m.PeakTorque / m.Inertia,
		Noise:      plant.Noise{Position: m.Sensors.PositionNoise, Pressure: m.Sensors.PressureNoise},
		Resolution: plant.Noise{Position: m.Sensors.PositionStep, Pressure: m.Sensors.PressureStep, MotorAngle: 2 * math.Pi / m.Sensors.CountsPerRev},
	}
	if m.Contact != nil {
		seen.PressForce = [2]float64{-m.AxialLoad(), 0.8 * m.ForceLimit()}
		if m.Contact.Sign < 0 {
			seen.PressForce = [2]float64{-0.8 * m.ForceLimit(), -m.AxialLoad()}
		}
		seen.Force = seen.PressForce
	}
	return seen
}
