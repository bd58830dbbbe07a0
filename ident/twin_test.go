package ident_test

import (
	"context"
	"flag"
	"math"
	"sort"
	"strings"
	"testing"
	"time"

	"eha/strokewise/ident"
	"eha/strokewise/ident/machine"
	"eha/strokewise/ident/plant"
	"eha/strokewise/ident/trace"
	"eha/strokewise/samples/traces"
	"eha/strokewise/samples/twin"
)

var (
	machines  = flag.Int("machines", 1, "simulated machines of each kind to fit")
	firstSeed = flag.Uint64("seed", 400, "seed of the first simulated machine")
	onlyKind  = flag.String("kind", "", "fit machines of this kind alone")
	onlyLog   = flag.Int("log", -1, "fit this log of each machine alone")
)

// made is a simulated machine with its logs as traces.
type made struct {
	twin    *twin.Machine
	machine *machine.Machine
	logs    []*trace.Trace
}

func makeMachine(t testing.TB, kind twin.Kind, seed uint64) made {
	t.Helper()
	m := made{twin: twin.Random(kind, seed)}
	var err error
	if m.machine, err = machine.Parse([]byte(twin.MachineFile(m.twin)), "machine.toml"); err != nil {
		t.Fatal(err)
	}
	for _, l := range twin.Logs(m.twin) {
		l.Rounded()
		m.logs = append(m.logs, traces.Of(t, l))
	}
	return m
}

// score gathers how one parameter came out over the machines.
type score struct {
	errors             []float64
	identified, inside int
	far                int
}

// TestTwins fits simulated machines, of every kind with -machines above 1, and
// prints how the parameters came out against the truth. Bounds are loose: a handful of machines proves no
// coverage, but a fit gone wrong shows.
func TestTwins(t *testing.T) {
	if testing.Short() {
		t.Skip("simulates machines")
	}
	scores := map[plant.Param]*score{}
	kinds := []twin.Kind{twin.Resisting, twin.Swap, twin.SlowLog, twin.NoPressures, twin.Pressing}
	if *machines > 1 || *onlyKind != "" {
		kinds = twin.Kinds()
	}
	for _, kind := range kinds {
		if *onlyKind != "" && kind.String() != *onlyKind {
			continue
		}
		for k := range *machines {
			m := makeMachine(t, kind, *firstSeed+uint64(k))
			if *onlyLog >= 0 {
				m.logs = m.logs[*onlyLog : *onlyLog+1]
			}
			start := time.Now()
			p, err := ident.Fit(context.Background(), m.logs, m.machine, ident.Options{})
			if err != nil {
				t.Errorf("%s %d: %v", kind, m.twin.Seed, err)
				continue
			}
			v := p.Validation
			t.Logf("%s %d: %v; held out %.1f s: speed %.1f %% cap %.1f %% rod %.1f %% travel %.3f mm of %.0f; %s", kind, m.twin.Seed, time.Since(start).Round(time.Millisecond),
				v.HeldOut, 100*v.RodSpeed, 100*v.CapPressure, 100*v.RodPressure, 1e3*v.StrokeFromTurns, 1e3*m.twin.Stroke, strings.Join(p.Warnings, "; "))
			judge(t, p, twin.TruthOf(m.twin), scores)
			checkModel(t, p)
			if err := p.Model.Check(); err != nil {
				t.Errorf("%s %d: %v", kind, m.twin.Seed, err)
			}
		}
	}
	for _, p := range plant.Params() {
		s := scores[p]
		if s == nil {
			continue
		}
		sort.Float64s(s.errors)
		n := len(s.errors)
		if n == 0 {
			continue
		}
		t.Logf("%-24s n %3d median %7.3f %% 90th %7.3f %% identified %3d inside %3d far %d", p, n, 100*s.errors[n/2], 100*s.errors[n*9/10], s.identified, s.inside, s.far)
	}
}

// checkModel compares the lowest resonance of the model over the stroke, either
// direction of slow travel, with the parameter: they are the same thing. Where
// the model's own steady force puts the pressure is a little off the pressure
// logged in slow travel, which the oil's air turns into some percent.
func checkModel(t *testing.T, p *plant.Plant) {
	t.Helper()
	e := p.Est(plant.HydraulicFrequency)
	if e.Status != plant.Identified {
		return
	}
	m, lowest := &p.Model, math.Inf(1)
	for _, d := range []plant.Direction{plant.Extend, plant.Retract} {
		force := m.SteadyForce(d.Sign()*0.005, 1)
		c := m.Carrier(force)
		for _, x := range []float64{0, m.Stroke} {
			lowest = math.Min(lowest, m.Resonance(c, x, m.PressureFor(c, force), 1).NaturalFreq)
		}
	}
	if math.Abs(lowest-e.Value) > 0.10*e.Value {
		t.Errorf("the model's lowest resonance is %.4g Hz, the parameter %.4g Hz", lowest/(2*math.Pi), e.Value/(2*math.Pi))
	}
}

func judge(t *testing.T, p *plant.Plant, truth twin.Truth, scores map[plant.Param]*score) {
	t.Helper()
	for _, param := range plant.Params() {
		want, ok := truth.Params[param.String()]
		got := p.Est(param)
		if !ok {
			continue
		}
		if scores[param] == nil {
			scores[param] = &score{}
		}
		s, f := scores[param], param.Info().Factor
		if got.Status != plant.Weak && got.Status != plant.Identified {
			if got.Status == plant.Missing && (got.From == "" || got.Value != 0) {
				t.Errorf("%s is missing without a move to log: %+v", param, got)
			}
			continue
		}
		// The nearest value that the definition lets one defend.
		near := math.Min(math.Max(got.Value*f, want.Range[0]), want.Range[1])
		off := math.Abs(got.Value*f - near)
		if math.Abs(want.Value) > 1e-9 {
			s.errors = append(s.errors, off/math.Abs(want.Value))
		}
		if got.Status == plant.Identified {
			s.identified++
		}
		half := got.HalfWidth() * f
		mark := ""
		if off <= half {
			s.inside++
		} else {
			mark = " OUTSIDE"
		}
		if off > 3*half && got.Status == plant.Identified {
			s.far++
		}
		t.Logf("  %-22s %-10s %10.5g ±%-9.3g true %10.5g (%.5g..%.5g)%s", param, got.Status, got.Value*f, half, want.Value, want.Range[0], want.Range[1], mark)
	}
}
