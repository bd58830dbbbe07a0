package ident_test

import (
	"context"
	"math"
	"testing"

	"eha/strokewise/ident"
	"eha/strokewise/ident/machine"
	"eha/strokewise/ident/trace"
	"eha/strokewise/samples/traces"
	"eha/strokewise/samples/twin"
)

// A survey with a load cell, on machines that press either way: half the difference
// between pressing up and easing off is the simulator's own friction, which sticks and
// rises from rest (so within a fifth), and the middle is its load, the pressure sensors' offsets apart.
func TestLoadCellOnTwin(t *testing.T) {
	for seed := uint64(25010); seed < 25012; seed++ {
		m := twin.Random(twin.Pressing, seed)
		if seed%2 == 1 {
			m = twin.Pulling(m)
		}
		m.Sensors.LoadCell = true
		l := twin.Survey(m)
		known, err := machine.Parse([]byte(twin.MachineFile(m)), "machine.toml")
		if err != nil {
			t.Fatal(err)
		}
		p, err := ident.Fit(context.Background(), []*trace.Trace{traces.Of(t, l)}, known, ident.Options{})
		if err != nil {
			t.Fatal(err)
		}
		off := p.Seen.CellOffset
		friction := m.Contact.Sign * (off[2] - off[0]) / 2
		if friction < m.Coulomb*0.8 || friction > 1.2*m.Static {
			t.Errorf("seed %d: friction by the cell %.0f N, sliding %.0f, from rest %.0f", seed, friction, m.Coulomb, m.Static)
		}
		zeros := m.Sensors.PressureOffset[0]*m.AreaCap() - m.Sensors.PressureOffset[1]*m.AreaRod()
		load := -m.AxialLoad() - m.LoadSlope*(m.Contact.Position-m.Stroke/2) + zeros
		if math.Abs(off[1]-load) > 0.1*math.Abs(load)+0.2*m.Coulomb {
			t.Errorf("seed %d: middle %.0f N, load and zeros %.0f N", seed, off[1], load)
		}
		t.Logf("seed %d: friction %.0f (%.0f to %.0f), middle %.0f (%.0f)", seed, friction, m.Coulomb, m.Static, off[1], load)
	}
}
