package main

import (
	"eha/strokewise/ident/plant"
	"eha/strokewise/samples/twin"
	"eha/strokewise/tuning/compare"
)

// change is something known that is done to a machine between two logs.
type change struct {
	name string
	do   func(m *twin.Machine)
	// shows are the parameters of which one at least must be called changed; where
	// there are none the behaviour must be.
	shows []plant.Param
}

// changes lists what the comparison is tried on, the unchanged machine first.
var changes = []change{
	{"nothing", func(*twin.Machine) {}, nil},
	{"gain of the loop x 0.6", func(m *twin.Machine) {
		position := *m.Loops.Position
		position.KpExtend *= 0.6
		position.KpRetract *= 0.6
		m.Loops.Position = &position
	}, nil},
	{"slip x 2", func(m *twin.Machine) { leak(m, 2) }, []plant.Param{plant.Slip}},
	{"slip x 1.3", func(m *twin.Machine) { leak(m, 1.3) }, []plant.Param{plant.Slip}},
	{"air 1 % to 3 %", func(m *twin.Machine) { m.Air = 0.03 }, []plant.Param{plant.BulkModulus, plant.BulkModulusCap, plant.BulkModulusRod,
		plant.ComplianceCap, plant.ComplianceRod, plant.HydraulicFrequency}},
	{"load x 2", func(m *twin.Machine) { m.Mass *= 2 }, []plant.Param{plant.MovingMass, plant.AxialLoad}},
}

func leak(m *twin.Machine, factor float64) {
	m.LeakInternal *= factor
	m.LeakCase *= factor
	m.Rough.LeakRoot *= factor
}

// machineOf returns machine i: 1 % of air, and a kind that logs its pressures.
func machineOf(i int, seed uint64) *twin.Machine {
	var kinds []twin.Kind
	for _, k := range twin.Kinds() {
		if k != twin.NoPressures {
			kinds = append(kinds, k)
		}
	}
	m := twin.Random(kinds[i%len(kinds)], seed+uint64(i))
	m.Air = 0.01
	return m
}

// after returns the machine after the change; its settings stay unless they are the change.
func (c change) after(m *twin.Machine) *twin.Machine {
	changed := *m
	c.do(&changed)
	return &changed
}

// found reports whether the report says what was done.
func (c change) found(r *compare.Report) bool {
	if c.shows == nil {
		return behaved(r)
	}
	for _, entry := range r.Plant {
		for _, p := range c.shows {
			if entry.Param == p && entry.Changed {
				return true
			}
		}
	}
	return false
}

// behaved reports whether any figure of any move is called better or worse.
func behaved(r *compare.Report) bool {
	for _, m := range r.Moves {
		for _, d := range m.Figures {
			if d.Verdict == compare.Better || d.Verdict == compare.Worse {
				return true
			}
		}
	}
	return false
}
