package ident

import (
	"testing"

	"eha/strokewise/ident/plant"
)

// A load change moves mass and load; what did not move keeps the narrower
// interval, and what the later log cannot tell stays as it was.
func TestUpdateTakesWhatMoved(t *testing.T) {
	old := &plant.Plant{Params: map[plant.Param]plant.Estimate{
		plant.MovingMass:     plant.MovingMass.Found(400, 390, 410, "before"),
		plant.Slip:           plant.Slip.Found(1e-6, 0.95e-6, 1.05e-6, "before"),
		plant.DriveBandwidth: plant.DriveBandwidth.Found(300, 297, 303, "before"),
		plant.DeadTime:       plant.DeadTime.Found(1e-3, 0.9e-3, 1.1e-3, "before"),
	}, MassKnown: true}
	old.Model.Mass, old.Model.Leakage, old.Model.Drive.NaturalFreq, old.Model.Drive.DeadTime = 400, 1e-12, 300, 1e-3
	now := &plant.Plant{Params: map[plant.Param]plant.Estimate{
		plant.MovingMass:     plant.MovingMass.Found(600, 580, 620, "after"),
		plant.Slip:           plant.Slip.Found(1.05e-6, 0.9e-6, 1.2e-6, "after"),
		plant.DriveBandwidth: plant.DriveBandwidth.Found(301, 300, 302, "after"),
		plant.DeadTime:       plant.MissingFrom("multisine"),
	}}
	now.Model.Mass, now.Model.Leakage, now.Model.Drive.NaturalFreq, now.Model.Drive.DeadTime = 600, 1.05e-12, 301, 9
	got := Update(old, now)
	for p, from := range map[plant.Param]string{plant.MovingMass: "after", plant.Slip: "before", plant.DriveBandwidth: "after", plant.DeadTime: "before"} {
		if e := got.Est(p); e.From != from {
			t.Errorf("%s is taken from %q, want %q", p, e.From, from)
		}
	}
	m := got.Model
	if m.Mass != 600 || m.Leakage != 1e-12 || m.Drive.NaturalFreq != 301 || m.Drive.DeadTime != 1e-3 {
		t.Errorf("model: mass %g, leakage %g, drive %g, dead time %g", m.Mass, m.Leakage, m.Drive.NaturalFreq, m.Drive.DeadTime)
	}
	moved := map[plant.Param]bool{}
	for _, c := range got.Changes {
		moved[c.Param] = c.Moved
	}
	if len(moved) != 3 || !moved[plant.MovingMass] || moved[plant.Slip] || moved[plant.DriveBandwidth] {
		t.Errorf("changes %v, want mass moved, slip and drive not", moved)
	}
	if !got.MassKnown {
		t.Error("the mass known before is no longer known")
	}
	if old.Model.Mass != 400 || now.Model.Mass != 600 || len(old.Params) != 4 {
		t.Error("an argument was modified")
	}
}
