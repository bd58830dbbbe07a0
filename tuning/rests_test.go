package tuning

import (
	"math"
	"slices"
	"strings"
	"testing"
)

// gaveUp reports whether the proposal says beside its gains that they do not hold the load.
func gaveUp(out *Proposal) bool {
	return len(out.Foremost) > 0 && out.Foremost[0] == out.Warnings[0] && strings.Contains(out.Foremost[0], "hold the load against slip")
}

// A loop whose own simulation leaves the rod far from its reference says so first, one
// that arrives does not. What P action alone leaves is droop, slip flow over area and
// gain, as any text on servo hydraulics gives it (value from memory).
func TestTooLittleGainIsSaidFirst(t *testing.T) {
	said, kept := 0, 0
	for seed := range uint64(4) {
		for _, slip := range []float64{1, 30} {
			p := invented(700 + seed)
			p.Model.Leakage *= slip
			out := propose(t, p, DefaultOptions())
			d, err := newDesign(p, DefaultOptions())
			if err != nil {
				t.Fatal(err)
			}
			off, step := d.leftAtRest(out.Loops.Position), stepSize(&p.Model)
			if gaveUp(out) != (off >= farOff*step) {
				t.Errorf("seed %d, slip x %g: %.3g mm off after a step of %.3g mm, said: %q", seed, slip, off*inMM, step*inMM, out.Foremost)
			}
			if gaveUp(out) {
				said++
			} else {
				kept++
			}
			if droop := d.droop(out.Loops.Position); out.Loops.Position.Ki.Extend == 0 && off > 1.3*droop+out.Loops.Position.Window {
				t.Errorf("seed %d, slip x %g: %.3g mm off, droop %.3g mm", seed, slip, off*inMM, droop*inMM)
			}
		}
	}
	if said == 0 || kept == 0 {
		t.Errorf("%d said, %d not: the test shows nothing", said, kept)
	}
}

// The way out that is named brings what is said: with one mass the gains rise.
func TestWaysOutComeTrue(t *testing.T) {
	p := invented(700)
	p.Model.Leakage *= 30
	p.Model.Mass *= 4
	out := propose(t, p, DefaultOptions())
	if !gaveUp(out) || !strings.Contains(out.Foremost[0], "load.mass_range") {
		t.Fatalf("said: %q", out.Foremost)
	}
	p.Machine.Load.MassRange = [2]float64{p.Model.Mass, p.Model.Mass}
	one := propose(t, p, DefaultOptions())
	if gain := speedOf(one) / speedOf(out); gain < wayPays*0.9 {
		t.Errorf("one mass brings x %.3g, said: %q", gain, out.Foremost[0])
	}
	if len(one.Foremost) > 0 && strings.Contains(one.Foremost[0], "load.mass_range") {
		t.Errorf("with the range stated: %q", one.Foremost[0])
	}
}

// A hanging mass of m needs m·g over the rod side's area in pressure (statics): above the
// working pressure no gain holds it, and the masses that do not occur are to be ruled out.
func TestMassBeyondThePressureLimit(t *testing.T) {
	p := invented(3)
	m := &p.Model
	m.GravityShare, m.AxialLoad = m.Mass*9.81, m.Mass*9.81
	perMass := m.Mass*9.81/m.Area.Rod + m.LowPressure*m.Area.Cap/m.Area.Rod
	for _, tc := range []struct {
		limit float64
		told  bool
	}{{1.2 * perMass, true}, {2 * perMass, false}} {
		p.Machine.Limits.WorkingPressure = tc.limit
		d, err := newDesign(p, DefaultOptions())
		if err != nil {
			t.Fatal(err)
		}
		d.remarks()
		told := slices.ContainsFunc(d.warnings, func(w string) bool { return strings.HasPrefix(w, "With 1.6 times the mass") })
		if told != tc.told || math.IsNaN(perMass) {
			t.Errorf("limit %.3g bar, one mass asks for %.3g bar: %q", tc.limit*1e-5, perMass*1e-5, d.warnings)
		}
	}
}
