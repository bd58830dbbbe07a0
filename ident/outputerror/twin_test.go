package outputerror_test

import (
	"math"
	"testing"

	"eha/strokewise/ident/outputerror"
	"eha/strokewise/ident/plant"
	"eha/strokewise/samples/traces"
	"eha/strokewise/samples/twin"
)

// problemOf returns the simulated machine's own figures as the model to start
// from, for a machine on whose cap side the load rests.
func problemOf(m *twin.Machine) outputerror.Problem {
	model := plant.Model{
		Area: plant.PerChamber[float64]{Cap: m.AreaCap(), Rod: m.AreaRod()}, Stroke: m.Stroke,
		Displacement: m.Displacement, Leakage: m.Slip() * m.Displacement,
		Oil: plant.PerChamber[plant.Oil]{
			Cap: plant.Oil{Fixed: m.WallCap + m.DeadCap/m.Modulus, Modulus: m.Modulus, Air: m.Air, AirVolume: m.DeadCap},
			Rod: plant.Oil{Fixed: m.WallRod + m.DeadRod/m.Modulus, Modulus: m.Modulus, Air: m.Air, AirVolume: m.DeadRod},
		},
		LowPressure: m.Preload, Mass: m.Mass, Viscous: m.Viscous, AxialLoad: m.AxialLoad(), TransducerDelay: 1e-3, PressureLag: 1e-3,
	}
	return outputerror.Problem{Model: model, Chamber: plant.Cap, At: m.Stroke, Pressure: -m.AxialLoad() / m.AreaCap(), TopSpeed: m.MaxSpeed}
}

// TestTwin starts from oil a third too soft, friction half of what it is and no
// idea of the valve, on machines richer than the model, with pressures and
// without. Frequency must come out within 2 and 4 %, damping within 30 %, the
// transducer's delay, lag included, within 0.4 ms.
func TestTwin(t *testing.T) {
	for _, seed := range []uint64{402, 403} {
		m := twin.Random(twin.Resisting, seed)
		log := traces.Of(t, twin.Survey(m))
		truth := twin.TruthOf(m)
		for _, blind := range []bool{false, true} {
			p := problemOf(m)
			p.Model.Oil.Cap, p.Model.Viscous = p.Model.Oil.Cap.Scaled(1.33), p.Model.Viscous/2
			p.Stretches = outputerror.Pick(log, 2*math.Pi*15, 16)
			within := 0.02
			if blind {
				within = 0.04
				for i := range p.Stretches {
					p.Stretches[i].Cap, p.Stretches[i].Rod = nil, nil
				}
			}
			r, err := outputerror.Fit(p)
			if err != nil {
				t.Fatal(err)
			}
			for _, c := range []struct {
				name              string
				got, want, within float64
			}{
				{"frequency (Hz)", r.Frequency.Value / (2 * math.Pi), truth.Params["hydraulic_frequency"].Value, within * truth.Params["hydraulic_frequency"].Value},
				{"damping", r.Damping.Value, truth.Params["hydraulic_damping"].Value, 0.3 * truth.Params["hydraulic_damping"].Value},
				{"transducer delay (ms)", 1e3 * r.Delay.Value, truth.Params["transducer_delay"].Value, 0.4},
			} {
				if !(math.Abs(c.got-c.want) <= c.within) {
					t.Errorf("seed %d, blind %v: %s %.4g, want %.4g within %.2g (%v after %d steps)", seed, blind, c.name, c.got, c.want, c.within, r.Ending, r.Steps)
				}
			}
		}
	}
}
