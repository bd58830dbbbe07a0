package tuning

import (
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"eha/strokewise/ident/plant"
	"eha/strokewise/tuning/law"
)

// From timid to proposed: gains and speed never fall from step to step, no step is above
// what is proposed, the last is all of it, and every one says what to expect, when to stop and how to go back.
func TestBringUpRises(t *testing.T) {
	for _, presses := range []plant.Direction{plant.Extend, plant.Retract} {
		out := propose(t, inventedPress(306+uint64(presses), presses), DefaultOptions())
		full := out.Loops
		var position law.Position
		var force law.Force
		quarter := false
		for i, s := range out.BringUp {
			if s.Title == "" || len(s.Do) == 0 || len(s.Expect) == 0 || s.Back == "" {
				t.Errorf("step %d lacks something: %+v", i, s)
			}
			if s.Settings == nil {
				continue
			}
			if len(s.StopIf) == 0 {
				t.Errorf("step %d enters settings and has no stop signs", i)
			}
			now := s.Settings.Position
			for _, d := range []plant.Direction{plant.Extend, plant.Retract} {
				if now.Kp.At(d) < position.Kp.At(d) || now.Kp.At(d) > full.Position.Kp.At(d) || now.Ki.At(d) > full.Position.Ki.At(d) {
					t.Errorf("step %d: gains %v after %v, proposed %v", i, now.Kp, position.Kp, full.Position.Kp)
				}
			}
			quarter = quarter || now.Kp.Extend < 0.3*full.Position.Kp.Extend
			position = *now
			if f := s.Settings.Force; f != nil {
				if f.Kp < force.Kp || f.Kp > full.Force.Kp || f.SpeedLimit > full.Force.SpeedLimit || f.Presses != presses || f.Lowpass != full.Force.Lowpass {
					t.Errorf("step %d: force loop %+v after %+v", i, f, force)
				}
				force = *f
			}
		}
		if !quarter {
			t.Error("no step begins at a quarter of the gain")
		}
		if diff := cmp.Diff(*full.Position, position); diff != "" {
			t.Errorf("the last step is not what is proposed: %s", diff)
		}
		if diff := cmp.Diff(*full.Force, force); diff != "" {
			t.Errorf("the last step's force loop is not what is proposed: %s", diff)
		}
	}
}

// Step 0 keeps what is in the drive and enters nothing new; the way back of the end leads there.
func TestBringUpKeepsWhatIsThere(t *testing.T) {
	p := invented(5)
	opt := DefaultOptions()
	opt.AsFound = &law.Loops{Position: &law.Position{Period: 1e-3, Kp: plant.PerDirection[float64]{Extend: 3, Retract: 3}, SpeedLimit: 100}}
	steps := propose(t, p, opt).BringUp
	if steps[0].Settings != opt.AsFound || !strings.Contains(steps[0].Back, "way back") {
		t.Errorf("step 0 is %+v", steps[0])
	}
	if last := steps[len(steps)-1]; !strings.Contains(last.Back, "step 0") || last.Settings != nil {
		t.Errorf("the last step is %+v", last)
	}
	for _, s := range propose(t, p, DefaultOptions()).BringUp {
		if s.Settings != nil && s.Settings.Force != nil {
			t.Errorf("a force loop without anything to press on: %+v", s)
		}
	}
}
