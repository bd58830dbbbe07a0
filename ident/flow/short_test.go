package flow

import (
	"fmt"
	"testing"

	"eha/strokewise/ident/machine"
	"eha/strokewise/ident/trace"
)

// TestShortLogs fits logs of next to no samples: they are refused, never a panic.
func TestShortLogs(t *testing.T) {
	m := &machine.Machine{}
	m.Cylinder.Bore, m.Cylinder.Rod, m.Cylinder.Stroke = 0.063, 0.036, 0.3
	for n := 2; n < 60; n++ {
		for _, pressures := range []bool{true, false} {
			samples := map[trace.Channel][]float64{}
			channels := []trace.Channel{trace.MotorPosition, trace.RodPosition}
			if pressures {
				channels = append(channels, trace.CapPressure, trace.RodPressure)
			}
			for k, c := range channels {
				y := make([]float64, n)
				for i := range y {
					y[i] = float64(i) * float64(k+1) * 1e-4
				}
				samples[c] = y
			}
			log, err := trace.New("short", 1e-3, 0, samples, nil)
			if err != nil {
				t.Fatal(err)
			}
			t.Run(fmt.Sprintf("%d samples, pressures %v", n, pressures), func(t *testing.T) {
				logs := []*trace.Trace{log}
				if _, err := FitStroke(logs, m); err == nil {
					t.Error("stroke fitted from next to nothing")
				}
				s := &Stroke{Pressures: pressures, Travel: 0.3, AreasKnown: true, Displacement: Number{1e-6, 1e-9}}
				s.Areas.Cap, s.Areas.Rod = 3e-3, 2e-3
				s.PerTurn.Extend, s.PerTurn.Retract = Number{3e-4, 1e-7}, Number{3e-4, 1e-7}
				if o, err := FitOil(logs, m, s, 1e-3, nil); err == nil {
					o.Resonance(Number{100, 1}, Number{100, 1})
				}
				BlindResonance(logs, m, s)
			})
		}
	}
}
