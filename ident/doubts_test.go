package ident

import (
	"context"
	"fmt"
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

// A pressure that is updated every 40 ms says little of a resonance at 12 Hz, and its log of
// every millisecond hides that: mass and oil are widened, and the reason stands beside them.
func TestSlowUpdatesWidenWhatTheResonanceGives(t *testing.T) {
	read := func(every int) *trace.Trace {
		var b strings.Builder
		b.WriteString("time_s,motor_position_rev,rod_position_mm,cap_pressure_bar\n")
		for i := range 20_000 {
			s := float64(i) * 1e-3
			held := float64(i/every*every) * 1e-3
			fmt.Fprintf(&b, "%.3f,%.5f,%.4f,%.3f\n", s, 5*math.Sin(s), 60+20*math.Sin(s), 50+20*math.Sin(7*held)+5*math.Sin(31*held))
		}
		r, err := trace.Read(context.Background(), strings.NewReader(b.String()), "a.csv", trace.ReadOptions{})
		if err != nil {
			t.Fatal(err)
		}
		return r.Trace
	}
	mass := plant.MovingMass.Found(900, 880, 920, "here")
	for every, wider := range map[int][2]float64{1: {1, 1}, 4: {1, 1.01}, 20: {1.2, 3}, 40: {10, 50}} {
		f := &fitting{given: []*trace.Trace{read(every)}, params: map[plant.Param]plant.Estimate{
			plant.MovingMass: mass, plant.HydraulicFrequency: plant.HydraulicFrequency.Found(2*math.Pi*12, 2*math.Pi*11.9, 2*math.Pi*12.1, "here")}}
		f.doubtUpdates()
		e := f.params[plant.MovingMass]
		if ratio := e.HalfWidth() / mass.HalfWidth(); ratio < wider[0] || ratio > wider[1] || strings.Contains(e.From, "updated") != (every > 1) {
			t.Errorf("every %d ms: %.3g times as wide, want %v: %s", every, ratio, wider, e.From)
		}
	}
}
