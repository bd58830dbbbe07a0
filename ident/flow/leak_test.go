package flow

import (
	"testing"

	"eha/strokewise/ident/plant"
	"eha/strokewise/ident/trace"
)

// Neither a leak that rises with speed nor much oil outside the swept volume may
// be taken for stroke per turn, near what the other things in the equation leave open.
func TestStrokePerTurnBesideOtherLosses(t *testing.T) {
	rising, hoses, soft := plainMachine(), plainMachine(), plainMachine()
	rising.leakRise = 0.2 / 150
	hoses.oil = plant.Oil{Fixed: 8e-4 / oilModulus, Modulus: oilModulus, Air: 0.01, AirVolume: 8e-4}
	soft.oil.Modulus = 1.25e9
	for name, m := range map[string]plain{"leak rising with speed": rising, "as much oil in hoses as in the chamber": hoses, "soft oil": soft} {
		t.Run(name, func(t *testing.T) {
			s, err := FitStroke([]*trace.Trace{m.log(t, 60)}, m.file())
			if err != nil {
				t.Fatal(err)
			}
			near(t, "displacement", s.Displacement.Value, m.displacement, 1e-3)
			if low, high := s.Displacement.Interval(); m.displacement < low || m.displacement > high {
				t.Errorf("displacement %g lies outside its interval %g to %g", m.displacement, low, high)
			}
			near(t, "slip", s.Slip.Value, m.slip, 0.06)
		})
	}
}
