package contact_test

import (
	"flag"
	"testing"

	"eha/strokewise/ident/contact"
	"eha/strokewise/ident/motion"
	"eha/strokewise/ident/plant"
	"eha/strokewise/ident/trace"
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
		all = append(all, contact.Find(tr, motion.Find(tr).Segments, plant.PerChamber[float64]{Cap: m.AreaCap(), Rod: m.AreaRod()})...)
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
		Slip: (m.LeakInternal*(1+0.5*m.LeakSpeed) + m.LeakCase) / m.Displacement, Oil: &oil, Lag: m.Sensors.PositionDelay + m.Sensors.PositionLag - m.Sensors.PressureLag, OilDoubt: 0.03, FreeForce: &free}
}

func TestTwins(t *testing.T) {
	for k := range *machines {
		m := twin.Random(twin.Pressing, *firstSeed+uint64(k))
		for name, logs := range map[string][]*twin.Log{"all": twin.Logs(m), "survey": {twin.Survey(m)}, "press": {twin.Press(m, m.Loops)}} {
			found := presses(t, m, logs)
			res := contact.Fit(found, known(m))
			show := func(what string, p plant.Param, e plant.Estimate, want float64) {
				f := p.Info().Factor
				t.Logf("%4d %-7s %-20s %-10s %9.4g +- %-9.3g true %9.4g  error %6.2f %%  half %6.2f %%", m.Seed, name, what, e.Status,
					e.Value*f, e.HalfWidth()*f, want, 100*(e.Value*f-want)/want, 100*e.HalfWidth()*f/want)
			}
			truth := twin.TruthOf(m).Params
			show("contact", plant.ContactStiffness, res.Contact, m.Contact.Stiffness*1e-6)
			show("pressing", plant.PressingStiffness, res.Pressing, truth["pressing_stiffness"].Value)
			show("direct", plant.PressingStiffness, res.Direct, truth["pressing_stiffness"].Value)
			show("slip", plant.Slip, res.Slip, truth["slip"].Value)
			t.Logf("%4d position %.5g +- %.2g true %.5g, force %.5g to %.5g, %d stretches %q", m.Seed, res.Position.Value, res.Position.HalfWidth(), m.Contact.Position,
				res.Force[0], res.Force[1], len(found), res.Warnings)
			if res.Contact.Known() && res.Presses != plant.Extend {
				t.Errorf("presses %v, want extend", res.Presses)
			}
		}
	}
}
