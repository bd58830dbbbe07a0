package ident

import (
	"math"
	"strings"
	"testing"

	"eha/strokewise/ident/plant"
	"eha/strokewise/ident/trace"
)

// Joined on encoder against transducer, the transducer's delay cannot be told from the clocks'
// offset: its interval holds what the joining leaves in doubt, and says why.
func TestJoinedClocksWidenTheSensorsLags(t *testing.T) {
	motor, rod := make([]float64, 20_000), make([]float64, 20_000)
	for i := range motor {
		s := float64(i) * 1e-3
		motor[i] = 40*math.Tanh(s-4) - 30*math.Tanh(2*(s-9)) + 25*math.Tanh(1.5*(s-15))
		rod[i] = 0.1 + 0.0004*motor[i]
	}
	record := func(c trace.Channel, x []float64) *trace.Trace {
		tr, err := trace.New(c.String(), 1e-3, 0, map[trace.Channel][]float64{c: x}, nil)
		if err != nil {
			t.Fatal(err)
		}
		return tr
	}
	joined, joint, err := trace.Join(record(trace.MotorPosition, motor), record(trace.RodPosition, rod))
	if err != nil {
		t.Fatal(err)
	}
	before := plant.TransducerDelay.Found(1e-3, 0.8e-3, 1.2e-3, "here")
	for name, c := range map[string]struct {
		log   *trace.Trace
		doubt float64
	}{"joined": {joined, joint.Doubt()}, "one recording": {record(trace.MotorPosition, motor), 0}} {
		f := &fitting{given: []*trace.Trace{c.log}, params: map[plant.Param]plant.Estimate{plant.TransducerDelay: before}}
		f.doubtClocks()
		e := f.params[plant.TransducerDelay]
		want := before.Value + math.Hypot(before.HalfWidth(), c.doubt)
		if e.Value != before.Value || math.Abs(e.High-want) > 1e-9 || strings.Contains(e.From, "clocks") != (c.doubt > 0) {
			t.Errorf("%s: %+v, want up to %g", name, e, want)
		}
	}
}
