package ident_test

import (
	"context"
	"errors"
	"math"
	"math/rand/v2"
	"testing"

	"eha/strokewise/ident"
	"eha/strokewise/ident/machine"
	"eha/strokewise/ident/plant"
	"eha/strokewise/ident/trace"
	"eha/strokewise/samples/twin"
)

func quiet(t *testing.T, n int, channels ...trace.Channel) *trace.Trace {
	t.Helper()
	rng := rand.New(rand.NewPCG(1, 1))
	samples := map[trace.Channel][]float64{}
	for _, c := range channels {
		x := make([]float64, n)
		for i := range x {
			x[i] = 1e-6 * rng.NormFloat64()
		}
		samples[c] = x
	}
	tr, err := trace.New("quiet", 1e-3, 0, samples, nil)
	if err != nil {
		t.Fatal(err)
	}
	return tr
}

// TestNothingFound: logs without motion give a DataError and still a whole plant
// in which everything is missing or assumed and names what to log.
func TestNothingFound(t *testing.T) {
	logs := map[string]*trace.Trace{
		"rest":           quiet(t, 5000, trace.SpeedCommand, trace.MotorPosition, trace.RodPosition, trace.CapPressure, trace.RodPressure),
		"two samples":    quiet(t, 2, trace.SpeedCommand, trace.MotorPosition, trace.RodPosition, trace.CapPressure, trace.RodPressure),
		"command alone":  quiet(t, 5000, trace.SpeedCommand),
		"pressure alone": quiet(t, 5000, trace.CapPressure, trace.RodPressure),
		"short":          quiet(t, 40, trace.Force, trace.RodPosition, trace.PositionCommand, trace.SpeedCommand),
	}
	for name, l := range logs {
		t.Run(name, func(t *testing.T) {
			p, err := ident.Fit(context.Background(), []*trace.Trace{l}, nil, ident.Options{})
			var data *ident.DataError
			if !errors.As(err, &data) || p == nil {
				t.Fatalf("got plant %v, error %v, want a plant and a DataError; %+v", p != nil, err, p.Params)
			}
			for _, param := range plant.Params() {
				e := p.Est(param)
				if e.From == "" || e.Status == plant.Identified {
					t.Errorf("%s: %+v", param, e)
				}
			}
			if err := p.Model.Check(); err != nil {
				t.Error(err)
			}
			if p.Validation.HeldOut != 0 || p.Validation.Verdict == "" {
				t.Errorf("validation %+v", p.Validation)
			}
		})
	}
}

func TestCancelled(t *testing.T) {
	ctx, cancel := context.WithCancel(context.Background())
	opt := ident.Options{Progress: func(string, float64) { cancel() }}
	p, err := ident.Fit(ctx, []*trace.Trace{quiet(t, 2000, trace.SpeedCommand)}, nil, opt)
	if p != nil || !errors.Is(err, context.Canceled) {
		t.Errorf("got plant %v, error %v, want none and context.Canceled", p != nil, err)
	}
}

// TestForceAlone: a log of time, rod position and force gives mass, friction and
// offset of the axis.
func TestForceAlone(t *testing.T) {
	const mass, viscous, coulomb, offset, n, dt = 40.0, 150.0, 25.0, 8.0, 40_000, 1e-3
	rng := rand.New(rand.NewPCG(2, 2))
	x, force := make([]float64, n), make([]float64, n)
	for i := range x {
		s := float64(i) * dt
		// Position, speed and acceleration of two sines, by hand.
		x[i] = 0.2*math.Sin(1.5*s) + 0.01*math.Sin(11*s) + 1e-6*rng.NormFloat64()
		v := 0.3*math.Cos(1.5*s) + 0.11*math.Cos(11*s)
		a := -0.45*math.Sin(1.5*s) - 1.21*math.Sin(11*s)
		force[i] = mass*a + viscous*v + math.Copysign(coulomb, v) + offset + 0.2*rng.NormFloat64()
	}
	tr, err := trace.New("axis", dt, 0, map[trace.Channel][]float64{trace.RodPosition: x, trace.Force: force}, nil)
	if err != nil {
		t.Fatal(err)
	}
	p, err := ident.Fit(context.Background(), []*trace.Trace{tr}, &machine.Machine{}, ident.Options{})
	if err != nil {
		t.Fatal(err)
	}
	for param, want := range map[plant.Param]float64{plant.MovingMass: mass, plant.ViscousFriction: viscous, plant.CoulombFriction: coulomb, plant.AxialLoad: -offset} {
		if got := p.Est(param); math.Abs(got.Value-want) > 0.03*math.Abs(want) || got.Low > want || got.High < want {
			t.Errorf("%s: %.4g (%.4g to %.4g), want %.4g", param, got.Value, got.Low, got.High, want)
		}
	}
	if len(p.Evidence.Friction) == 0 {
		t.Error("no friction curve")
	}
}

// TestFitIsDeterministic: the same logs give the same numbers to the last bit,
// and are not modified.
func TestFitIsDeterministic(t *testing.T) {
	if testing.Short() {
		t.Skip("simulates a machine")
	}
	m := makeMachine(t, twin.Tiny, 77)
	before := append([]float64(nil), must(m.logs[0].Samples(trace.RodPosition))...)
	a, errA := ident.Fit(context.Background(), m.logs, m.machine, ident.Options{})
	b, errB := ident.Fit(context.Background(), m.logs, m.machine, ident.Options{})
	if errA != nil || errB != nil {
		t.Fatal(errA, errB)
	}
	for _, param := range plant.Params() {
		if a.Est(param) != b.Est(param) {
			t.Errorf("%s: %+v then %+v", param, a.Est(param), b.Est(param))
		}
	}
	for i, v := range must(m.logs[0].Samples(trace.RodPosition)) {
		if v != before[i] {
			t.Fatal("the log was modified")
		}
	}
}

func must(x []float64, ok bool) []float64 {
	if !ok {
		panic("channel absent")
	}
	return x
}

// TestGivenAndAssumed: what the machine file states stands in for what the logs
// lack, marked as given, and a mass that disagrees is said.
func TestGivenAndAssumed(t *testing.T) {
	if testing.Short() {
		t.Skip("simulates a machine")
	}
	made := makeMachine(t, twin.Resisting, 78)
	m := *made.machine
	m.Load.Mass = 3 * made.twin.Mass
	m.Controller.OuterDelay = 2e-3
	p, err := ident.Fit(context.Background(), made.logs[:1], &m, ident.Options{})
	if err != nil {
		t.Fatal(err)
	}
	if e := p.Est(plant.OuterDelay); e.Status != plant.Given || e.Value != 2e-3 {
		t.Errorf("outer delay without a closed loop: %+v, want the machine file's 2 ms", e)
	}
	found := false
	for _, w := range p.Warnings {
		found = found || len(w) > 14 && w[:14] == "mass_disagrees"
	}
	if e := p.Est(plant.MovingMass); e.Status == plant.Identified && !found {
		t.Errorf("mass %.0f kg fitted, %.0f kg given: no warning in %q", e.Value, m.Load.Mass, p.Warnings)
	}
	m.Controller.OuterDelay = 0
	p, err = ident.Fit(context.Background(), made.logs[:1], &m, ident.Options{})
	if err != nil {
		t.Fatal(err)
	}
	period := m.Controller.Period
	if e := p.Est(plant.OuterDelay); e.Status != plant.Assumed || e.Value != 1.5*period || e.Low != 0.5*period || e.High != 3*period {
		t.Errorf("outer delay: %+v, want 1.5 periods assumed within 0.5 to 3", e)
	}
}
