package ident_test

import (
	"context"
	"errors"
	"testing"

	"eha/strokewise/ident"
	"eha/strokewise/ident/machine"
	"eha/strokewise/ident/plant"
	"eha/strokewise/ident/trace"
	"eha/strokewise/samples/traces"
	"eha/strokewise/samples/twin"
)

// A survey without one of its channels is fitted as far as it goes: what the channel
// is needed for names what to log, and nothing else falls with it.
func TestSurveyLacksAChannel(t *testing.T) {
	m := twin.Random(twin.Overrunning, 25300)
	whole := traces.Of(t, twin.Survey(m))
	known, err := machine.Parse([]byte(twin.MachineFile(m)), "machine.toml")
	if err != nil {
		t.Fatal(err)
	}
	needs := map[trace.Channel][]plant.Param{
		trace.SpeedCommand:  {plant.DriveBandwidth, plant.DeadTime},
		trace.MotorPosition: {plant.StrokePerTurnExtend, plant.Slip, plant.LostMotion},
		trace.RodPosition:   {plant.StrokePerTurnExtend, plant.Slip, plant.MovingMass},
		trace.CapPressure:   {plant.Slip, plant.MovingMass, plant.CoulombFriction},
	}
	stands := map[trace.Channel]plant.Param{
		trace.SpeedCommand: plant.MovingMass, trace.MotorPosition: plant.MovingMass, trace.RodPosition: plant.DriveBandwidth, trace.CapPressure: plant.DriveBandwidth,
	}
	for c, lost := range needs {
		samples := map[trace.Channel][]float64{}
		for _, have := range whole.Channels() {
			if have != c {
				samples[have], _ = whole.Samples(have)
			}
		}
		less, err := trace.New("survey.csv", whole.Period(), 0, samples, nil)
		if err != nil {
			t.Fatal(err)
		}
		p, err := ident.Fit(context.Background(), []*trace.Trace{less}, known, ident.Options{})
		var data *ident.DataError
		if err != nil && !errors.As(err, &data) {
			t.Fatalf("without %v: %v", c, err)
		}
		for _, param := range lost {
			if e := p.Est(param); e.Status == plant.Identified || e.From == "" {
				t.Errorf("without %v: %v is %v, from %q", c, param, e.Status, e.From)
			}
		}
		if e := p.Est(stands[c]); e.Status != plant.Identified {
			t.Errorf("without %v: %v is %v, from %q", c, stands[c], e.Status, e.From)
		}
	}
}
