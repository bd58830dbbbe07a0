package balance_test

import (
	"flag"
	"math"
	"testing"
	"time"

	"eha/strokewise/ident/balance"
	"eha/strokewise/ident/motion"
	"eha/strokewise/ident/plant"
	"eha/strokewise/ident/trace"
	"eha/strokewise/samples/traces"
	"eha/strokewise/samples/twin"
)

var machines = flag.Int("machines", 0, "simulated machines of every kind to fit; 0 fits one of a few kinds")
var firstSeed = flag.Uint64("seed", 100, "seed of the first simulated machine")
var closedOnly = flag.Bool("closed", false, "fit the closed-loop log alone")

func pressing(tr *trace.Trace) []trace.Span {
	var spans []trace.Span
	for _, s := range motion.Find(tr).Segments {
		if s.Kind == motion.Pressing {
			spans = append(spans, s.Span)
		}
	}
	return spans
}

// record returns the logs of a simulated machine.
func record(t testing.TB, m *twin.Machine) []balance.Log {
	t.Helper()
	var logs []balance.Log
	for i, l := range twin.Logs(m) {
		if *closedOnly && i != 1 {
			continue
		}
		l.Rounded()
		tr := traces.Of(t, l)
		logs = append(logs, balance.Log{Trace: tr, Exclude: pressing(tr)})
	}
	return logs
}

// nameplate returns what a machine file would say.
func nameplate(m *twin.Machine) balance.Known {
	return balance.Known{Area: plant.PerChamber[float64]{Cap: m.AreaCap(), Rod: m.AreaRod()}, Displacement: m.Displacement, MaxSpeed: m.MaxSpeed}
}

// fit returns the balance of a simulated machine's logs.
func fit(t *testing.T, m *twin.Machine) *balance.Result {
	t.Helper()
	logs := record(t, m)
	known := nameplate(m)
	start := time.Now()
	res, err := balance.Fit(logs, known)
	if err != nil {
		t.Fatal(err)
	}
	t.Logf("%v %d: %d logs in %v", m.Kind, m.Seed, len(logs), time.Since(start).Round(time.Millisecond))
	return res
}

// usual are the kinds that the tests always run; -machines runs all.
var usual = []twin.Kind{twin.Resisting, twin.Swap, twin.Remote, twin.Noisy}

// Simulated machines that are richer than the model: no estimate may be off by
// more than three half-widths from what its definition lets one defend, and of
// all intervals few may miss it. With -machines N every kind is run N times and -v prints each.
func TestTwins(t *testing.T) {
	kinds, count := usual, 1
	if *machines > 0 {
		kinds, count = twin.Kinds(), *machines
	}
	missed, tries := 0, 0
	for _, kind := range kinds {
		for k := range count {
			m := twin.Random(kind, *firstSeed+uint64(k))
			if m.Sensors.NoPressures {
				continue
			}
			n, of := judge(t, m, fit(t, m))
			missed, tries = missed+n, tries+of
		}
	}
	// One in twenty misses by right; three times that is beyond chance.
	if missed > 2+tries*3/20 {
		t.Errorf("%d of %d intervals miss the truth", missed, tries)
	}
}

// judge compares with the truth and returns how many intervals miss it.
func judge(t *testing.T, m *twin.Machine, res *balance.Result) (missed, tries int) {
	t.Helper()
	truth := twin.TruthOf(m)
	params := res.Params()
	params[plant.PressureLag] = res.PressureLag(plant.Estimate{Value: truth.Params["transducer_delay"].Value * 1e-3, Status: plant.Given})
	for _, p := range plant.Params() {
		e, ok := params[p]
		if !ok || !e.Known() {
			continue
		}
		want, f := truth.Params[p.String()], p.Info().Factor
		value, half := e.Value*f, e.HalfWidth()*f
		off := math.Max(0, math.Max(want.Range[0]-value, value-want.Range[1]))
		tries++
		within := "in"
		if e.Low*f > want.Range[1] || e.High*f < want.Range[0] {
			missed++
			within = "OUT"
		}
		t.Logf("%-12v %4d %-18s %-10s %9.4g +- %-9.3g true %9.4g  error %6.2f %%  half %6.2f %% %s", m.Kind, m.Seed, p, e.Status, value, half,
			want.Value, 100*(value-want.Value)/want.Value, 100*half/math.Abs(want.Value), within)
		if e.Status == plant.Identified && off > 3*half {
			t.Errorf("%v %d: %s: got %g +- %g, true %g", m.Kind, m.Seed, p, value, half, want.Value)
		}
	}
	return missed, tries
}

// BenchmarkFit is the balance of a survey of some 200 s and a closed-loop log, 1 kHz.
func BenchmarkFit(b *testing.B) {
	m := twin.Random(twin.Resisting, 100)
	logs := record(b, m)
	for b.Loop() {
		if _, err := balance.Fit(logs, nameplate(m)); err != nil {
			b.Fatal(err)
		}
	}
}
