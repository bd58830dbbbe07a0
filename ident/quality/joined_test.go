package quality

import (
	"math"
	"strings"
	"testing"

	"eha/strokewise/ident/trace"
)

// What was found of two recorders' clocks is told with its intervals.
func TestJoinedClocksAreTold(t *testing.T) {
	const offset, drift, n = 0.37, 200e-6, 40000
	recording := func(mapped func(s float64) float64, channels map[trace.Channel]func(s float64) float64) *trace.Reading {
		y := map[trace.Channel][]float64{}
		for c, f := range channels {
			y[c] = make([]float64, n)
			for i := range y[c] {
				y[c][i] = f(mapped(float64(i) * 1e-3))
			}
		}
		return reading(t, 1e-3, y)
	}
	theta := func(s float64) float64 { return 60*math.Sin(s) + 20*math.Sin(0.37*s*s/10) }
	rod := func(s float64) float64 { return 0.1 + 5e-4*theta(s) }
	a := recording(func(s float64) float64 { return s }, map[trace.Channel]func(float64) float64{trace.MotorPosition: theta})
	second := func(s float64) float64 { return s + offset + drift*s }
	for name, b := range map[string]*trace.Reading{
		"motor position in both":              recording(second, map[trace.Channel]func(float64) float64{trace.MotorPosition: theta, trace.RodPosition: rod}),
		"motor position against rod position": recording(second, map[trace.Channel]func(float64) float64{trace.RodPosition: rod}),
	} {
		r, err := trace.JoinReadings(a, b)
		if err != nil {
			t.Fatal(err)
		}
		j := r.Joint
		if truth := offset + drift*j.Middle; truth < j.OffsetLow || truth > j.OffsetHigh || drift < j.DriftLow || drift > j.DriftHigh {
			t.Errorf("%s: offset %g to %g, true %g; drift %g to %g, true %g", name, j.OffsetLow, j.OffsetHigh, truth, j.DriftLow, j.DriftHigh, drift)
		}
		report := Check([]*trace.Reading{r}, nil)
		if len(report.Joints) != 1 || report.Joints[0].Log != r.Trace.Name() || report.Joints[0].Joint != *j {
			t.Errorf("%s: joints %+v", name, report.Joints)
		}
		f, ok := find(report, Joined, trace.MotorPosition)
		if !ok || f.Severity == Stop || !strings.Contains(f.Text, name) || !strings.Contains(f.Text, "ppm") {
			t.Errorf("%s: told %v: %s", name, ok, f.Text)
		}
		if crossed := j.On[0] != j.On[1]; strings.Contains(f.Do, "one channel in both") != crossed {
			t.Errorf("%s: advice %q", name, f.Do)
		}
		for _, f := range report.Findings {
			if f.ID == TimeSkew {
				t.Errorf("%s: invented %s", name, f.Text)
			}
		}
	}
}
