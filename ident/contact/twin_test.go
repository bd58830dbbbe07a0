package contact_test

import (
	"flag"
	"math"
	"testing"

	"eha/strokewise/ident/contact"
	"eha/strokewise/ident/motion"
	"eha/strokewise/ident/plant"
	"eha/strokewise/samples/traces"
	"eha/strokewise/samples/twin"
)

var machines = flag.Int("machines", 1, "simulated pressing machines to fit")
var firstSeed = flag.Uint64("seed", 100, "seed of the first simulated machine")

// presses returns the pressing stretches of a simulated machine's logs.
func presses(t *testing.T, m *twin.Machine, logs []*twin.Log) []contact.Press {
	t.Helper()
	var all []contact.Press
	for _, l := range logs {
		l.Rounded()
		tr := traces.Of(t, l)
		all = append(all, contact.Find(tr, motion.Find(tr), plant.PerChamber[float64]{Cap: m.AreaCap(), Rod: m.AreaRod()})...)
	}
	return all
}

func known(m *twin.Machine) contact.Known {
	oil := plant.PerChamber[plant.Oil]{
		Cap: plant.Oil{Fixed: m.DeadCap/m.Modulus + m.WallCap, Modulus: m.Modulus, Air: m.Air, AirVolume: m.DeadCap},
		Rod: plant.Oil{Fixed: m.DeadRod/m.Modulus + m.WallRod, Modulus: m.Modulus, Air: m.Air, AirVolume: m.DeadRod},
	}
	free := plant.PerDirection[float64]{Extend: m.Coulomb - m.AxialLoad(), Retract: -m.Coulomb - m.AxialLoad()}
	return contact.Known{Area: plant.PerChamber[float64]{Cap: m.AreaCap(), Rod: m.AreaRod()}, Stroke: m.Stroke, Displacement: m.Displacement,
		Slip: (m.LeakInternal*(1+0.5*m.LeakSpeed) + m.LeakCase) / m.Displacement, Oil: &oil, Lag: m.Sensors.PositionDelay + m.Sensors.PositionLag - m.Sensors.PressureLag, OilDoubt: plant.PerChamber[float64]{Cap: 0.03, Rod: 0.03}, FreeForce: &free}
}

// Simulated pressing machines, the earlier fits' answers put in without error. The
// survey presses slowly; what it tells must be right. -machines N runs more, and
// -v prints each.
func TestTwins(t *testing.T) {
	for k := range *machines {
		m := twin.Random(twin.Pressing, *firstSeed+uint64(k))
		res := contact.Fit(presses(t, m, []*twin.Log{twin.Survey(m)}), known(m))
		truth := twin.TruthOf(m).Params
		check := func(p plant.Param, e plant.Estimate, limit float64) {
			t.Helper()
			f, want := p.Info().Factor, truth[p.String()]
			t.Logf("%4d %-20s %-10s %9.4g +- %-9.3g true %9.4g  error %6.2f %%  half %6.2f %%", m.Seed, p, e.Status,
				e.Value*f, e.HalfWidth()*f, want.Value, 100*(e.Value*f-want.Value)/want.Value, 100*e.HalfWidth()*f/want.Value)
			if !(math.Abs(e.Value*f-want.Value) <= limit*want.Value) {
				t.Errorf("seed %d: %s: got %g, want %g within %g", m.Seed, p, e.Value*f, want.Value, limit)
			}
		}
		// The limits are the targets for a fit at the 90th percentile, and the slip's
		// that of its dependence on speed.
		check(plant.ContactStiffness, res.Contact, 0.05)
		check(plant.PressingStiffness, res.Pressing, 0.10)
		check(plant.Slip, res.Slip, 0.12)
		if math.Abs(res.Position.Value-m.Contact.Position) > 2e-4 {
			t.Errorf("seed %d: contact at %.5f m, want %.5f", m.Seed, res.Position.Value, m.Contact.Position)
		}
		if res.Presses != plant.Extend {
			t.Errorf("seed %d: presses %v, want extend", m.Seed, res.Presses)
		}
	}
}
