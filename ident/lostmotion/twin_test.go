package lostmotion_test

import (
	"flag"
	"math"
	"testing"

	"eha/strokewise/ident/lostmotion"
	"eha/strokewise/ident/motion"
	"eha/strokewise/ident/plant"
	"eha/strokewise/ident/trace"
	"eha/strokewise/samples/twin"
)

var machines = flag.Int("machines", 1, "simulated machines of each kind to fit")
var firstSeed = flag.Uint64("seed", 100, "seed of the first simulated machine")

func log(t *testing.T, l *twin.Log) lostmotion.Log {
	t.Helper()
	samples := map[trace.Channel][]float64{}
	for _, c := range l.Columns {
		if ch, ok := trace.ParseChannel(c.Channel); ok && ch != trace.Time {
			samples[ch] = c.SI
		}
	}
	tr, err := trace.New(l.Name, l.Period, 0, samples, nil)
	if err != nil {
		t.Fatal(err)
	}
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

func TestTwins(t *testing.T) {
	for _, kind := range twin.Kinds() {
		for k := range *machines {
			m := twin.Random(kind, *firstSeed+uint64(k))
			l := twin.Survey(m)
			l.Rounded()
			res := lostmotion.Fit([]lostmotion.Log{log(t, l)}, known(m))
			e := res.LostMotion
			want := twin.TruthOf(m).Params["lost_motion"]
			toRev := plant.LostMotion.Info().Factor
			var a, b float64
			if len(res.Places) > 0 {
				a, b = res.Places[len(res.Places)/2].Measured*toRev, res.Places[len(res.Places)/2].Calculated*toRev
			}
			within := "in"
			if e.Low*toRev > want.Range[1] || e.High*toRev < want.Range[0] {
				within = "OUT"
			}
			t.Logf("%-12v %4d %-12s %-10s %9.4g +- %-9.3g true %9.4g  error %6.2f %%  half %6.2f %% %s (%d places, one %.3g / %.3g, range %.3g to %.3g)", kind, m.Seed, "lost_motion", e.Status,
				e.Value*toRev, e.HalfWidth()*toRev, want.Value, 100*(e.Value*toRev-want.Value)/want.Value, 100*e.HalfWidth()*toRev/want.Value, within, len(res.Places), a, b, want.Range[0], want.Range[1])
			if math.IsNaN(e.Value) {
				t.Error("not a number")
			}
		}
	}
}
