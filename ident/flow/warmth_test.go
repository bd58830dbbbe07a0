package flow

import (
	"math"
	"testing"

	"eha/strokewise/ident/trace"
	"eha/strokewise/samples/twin"
)

// Slip and how it follows the oil's temperature, against the simulator's own law of
// viscosity at the log's mean temperature.
func TestSlipFollowsTheOilsTemperature(t *testing.T) {
	if testing.Short() {
		t.Skip("simulates a survey")
	}
	m := twin.Random(twin.Warming, 23703)
	s, err := FitStroke([]*trace.Trace{traceOf(t, twin.Survey(m))}, fileOf(m))
	if err != nil {
		t.Fatal(err)
	}
	w := s.Thinning
	if !w.PerKelvin.Known() {
		t.Fatal("no rise with temperature found")
	}
	want := math.Log(m.Warmth.Thinned(w.Temperature+1)/m.Warmth.Thinned(w.Temperature-1)) / 2
	near(t, "rise per kelvin", w.PerKelvin.Value, want, 0.1)
	if w.PerKelvin.Low > want || w.PerKelvin.High < want {
		t.Errorf("rise per kelvin %.4f to %.4f, want %.4f within", w.PerKelvin.Low, w.PerKelvin.High, want)
	}
	leak := (m.LeakInternal*(1+m.LeakSpeed/2) + m.LeakCase) / m.Displacement
	near(t, "slip", s.Slip.Value, leak*m.Warmth.Thinned(w.Temperature), 0.08)
}

// A log without a temperature, or in which it hardly varies, has one slip.
func TestSlipIsOneNumberWithoutWarming(t *testing.T) {
	for name, warmth := range map[string]float64{"not logged": 0, "constant": 318} {
		moves := make([]move, 50)
		for i := range moves {
			moves[i].warmth = warmth
			if warmth > 0 {
				moves[i].warmth += 0.05 * float64(i%2)
			}
		}
		w := warmthOf(moves)
		if w.varies || w.thinned(moves[0]) != 1 {
			t.Errorf("%s: %+v", name, w)
		}
	}
}

// Viscosities of the oil at the temperatures of its name and of its data sheet:
// class 46 of ISO 3448 is 46 mm²/s at 40 °C; 6.8 at 100 °C (common practice, no source).
func TestOilThinsByItsDataSheet(t *testing.T) {
	w := twin.Warmth{Start: 300, Rise: 10, Time: 100}
	near(t, "leak at 100 °C over that at 40 °C", w.Thinned(373.15), 46/6.8, 1e-9)
	near(t, "leak at 40 °C", w.Thinned(313.15), 1, 1e-12)
}
