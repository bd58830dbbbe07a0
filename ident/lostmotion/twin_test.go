package lostmotion_test

import (
	"flag"
	"testing"

	"eha/strokewise/ident/lostmotion"
	"eha/strokewise/ident/motion"
	"eha/strokewise/ident/plant"
	"eha/strokewise/samples/traces"
	"eha/strokewise/samples/twin"
)

var machines = flag.Int("machines", 0, "simulated machines of every kind to fit; 0 fits one of a few kinds")
var firstSeed = flag.Uint64("seed", 100, "seed of the first simulated machine")

func log(t *testing.T, l *twin.Log) lostmotion.Log {
	t.Helper()
	tr := traces.Of(t, l)
	return lostmotion.Log{Trace: tr, Segments: motion.Find(tr).Segments}
}

// known is what the fits before this one would give, here without error.
func known(m *twin.Machine) lostmotion.Known {
	oil := plant.PerChamber[plant.Oil]{
		Cap: plant.Oil{Fixed: m.DeadCap/m.Modulus + m.WallCap, Modulus: m.Modulus, Air: m.Air, AirVolume: m.DeadCap},
		Rod: plant.Oil{Fixed: m.DeadRod/m.Modulus + m.WallRod, Modulus: m.Modulus, Air: m.Air, AirVolume: m.DeadRod},
	}
	return lostmotion.Known{Area: plant.PerChamber[float64]{Cap: m.AreaCap(), Rod: m.AreaRod()}, Stroke: m.Stroke,
		Displacement: m.Displacement, Slip: (m.LeakInternal*(1+0.5*m.LeakSpeed) + m.LeakCase) / m.Displacement, MaxSpeed: m.MaxSpeed, Oil: &oil,
		TransducerDelay: m.Sensors.PositionDelay + m.Sensors.PositionLag}
}

// usual are the kinds that the test always runs; -machines runs all.
var usual = []twin.Kind{twin.Resisting, twin.Vertical, twin.Tiny, twin.NoPressures}

// The lost motion of simulated machines, the earlier fits' answers put in without
// error. With -machines N every kind is run N times and -v prints each.
func TestTwins(t *testing.T) {
	kinds, count := usual, 1
	if *machines > 0 {
		kinds, count = twin.Kinds(), *machines
	}
	toRev := plant.LostMotion.Info().Factor
	missed, tries := 0, 0
	for _, kind := range kinds {
		for k := range count {
			m := twin.Random(kind, *firstSeed+uint64(k))
			l := twin.Survey(m)
			l.Rounded()
			e := lostmotion.Fit([]lostmotion.Log{log(t, l)}, known(m)).LostMotion
			want := twin.TruthOf(m).Params["lost_motion"]
			tries++
			within := "in"
			if !e.Known() || e.Low*toRev > want.Range[1] || e.High*toRev < want.Range[0] {
				missed++
				within = "OUT"
			}
			t.Logf("%-12v %4d %-12s %-10s %9.4g +- %-9.3g true %9.4g  error %6.2f %%  half %6.2f %% %s", m.Kind, m.Seed, "lost_motion", e.Status,
				e.Value*toRev, e.HalfWidth()*toRev, want.Value, 100*(e.Value*toRev-want.Value)/want.Value, 100*e.HalfWidth()*toRev/want.Value, within)
		}
	}
	// One in twenty misses by right; three times that is beyond chance.
	if missed > 1+tries*3/20 {
		t.Errorf("%d of %d intervals miss the truth", missed, tries)
	}
}
