package quality

import (
	"math"
	"strings"
	"testing"

	"eha/strokewise/ident/machine"
	"eha/strokewise/ident/trace"
)

// carrying makes 20 s of slow strokes with the load on the cap side (Pa above the
// rod side's 2 bar), taken off for the last stretch (s).
func carrying(t *testing.T, load, off float64) *trace.Reading {
	const n, period = 10000, 2e-3
	y := map[trace.Channel][]float64{}
	for _, c := range []trace.Channel{trace.MotorPosition, trace.RodPosition, trace.CapPressure, trace.RodPressure} {
		y[c] = make([]float64, n)
	}
	for i := range n {
		s := float64(i) * period
		theta := 200 * math.Sin(2*math.Pi*s/10)
		if s > 20-off {
			theta = 200 * math.Sin(2*math.Pi*(20-off)/10)
		}
		y[trace.MotorPosition][i] = theta
		y[trace.RodPosition][i] = 0.12 + 3.2e-4*theta
		y[trace.CapPressure][i] = 2e5 + load + 2e5*math.Cos(2*math.Pi*s/10)
		if s > 20-off {
			y[trace.CapPressure][i] = 3e5
		}
		y[trace.RodPressure][i] = 2e5 + 1e3*math.Sin(float64(i))
	}
	return reading(t, period, y)
}

// The zero of a pressure that always carries cannot be seen; it is asked for where it matters.
func TestUnseenPressureZero(t *testing.T) {
	m := &machine.Machine{}
	m.Cylinder.Bore, m.Cylinder.Rod, m.Cylinder.Stroke = 0.063, 0.036, 0.25
	for name, c := range map[string]struct {
		logs  []*trace.Reading
		known *machine.Machine
		want  bool
	}{
		"always carries":           {[]*trace.Reading{carrying(t, 20e5, 0)}, m, true},
		"in both logs":             {[]*trace.Reading{carrying(t, 20e5, 0), carrying(t, 20e5, 0)}, m, true},
		"relieved for 3 s":         {[]*trace.Reading{carrying(t, 20e5, 3)}, m, false},
		"relieved in another log":  {[]*trace.Reading{carrying(t, 20e5, 0), carrying(t, 20e5, 3)}, m, false},
		"error small beside it":    {[]*trace.Reading{carrying(t, 90e5, 0)}, m, false},
		"no load found, no matter": {[]*trace.Reading{carrying(t, 20e5, 0)}, nil, false},
		"hardly any load":          {[]*trace.Reading{carrying(t, 3e5, 0)}, m, false},
	} {
		report := Check(c.logs, c.known)
		asked := ""
		for _, q := range report.Questions {
			if strings.Contains(q, "zero of cap-side pressure") {
				asked = q
			}
		}
		if (asked != "") != c.want {
			t.Errorf("%s: asked %q, want %v", name, asked, c.want)
		}
		// 1 bar on the area of a bore of 63 mm: 1e5 · π/4 · 0.063² = 311.7 N.
		if asked != "" && (!strings.Contains(asked, "0.31 kN") || !strings.Contains(asked, "gauge")) {
			t.Errorf("%s: %s", name, asked)
		}
	}
}
