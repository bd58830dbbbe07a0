package tuning

import (
	"context"
	"math"
	"testing"

	"eha/strokewise/ident/plant"
	"eha/strokewise/tuning/law"
)

// Every scenario of a proposal runs, and its course agrees with the figures that
// the proposal itself predicts, computed along another way.
func TestRespondAgreesWithPrediction(t *testing.T) {
	p := invented(3)
	proposal, err := Propose(context.Background(), p, DefaultOptions())
	if err != nil || proposal.Loops.Position == nil {
		t.Fatal(err, proposal.NotProposed)
	}
	hot := *proposal.Loops.Position
	hot.Kp = plant.PerDirection[float64]{Extend: 1.5 * hot.Kp.Extend, Retract: 1.5 * hot.Kp.Retract}
	for _, s := range Scenarios(p, proposal) {
		r, err := Respond(context.Background(), p, proposal, &law.Loops{Position: &hot}, s.ID)
		if err != nil {
			t.Fatal(s.ID, err)
		}
		n := len(r.Proposed.Output)
		if n == 0 || len(r.Reference) != n || len(r.Proposed.Low) != n || len(r.Proposed.Speed) != n {
			t.Fatalf("%s: lengths differ", s.ID)
		}
		for i, v := range r.Proposed.Output {
			if math.IsNaN(v) || v < r.Proposed.Low[i] || v > r.Proposed.High[i] {
				t.Fatalf("%s: sample %d is %g, outside its band", s.ID, i, v)
			}
		}
		if (r.AsFound != nil) == s.Force {
			t.Errorf("%s: as-found course there: %v", s.ID, r.AsFound != nil)
		}
	}
	r, err := Respond(context.Background(), p, proposal, nil, "step_extend")
	if err != nil {
		t.Fatal(err)
	}
	for _, f := range r.Figures {
		if want := proposal.Predicted[0].Rise.Value; f.Name == "rise" && math.Abs(f.Proposed.Value-want) > 0.02*want {
			t.Errorf("rise %g s, the proposal predicts %g s", f.Proposed.Value, want)
		}
	}
	if _, err := Respond(context.Background(), p, proposal, nil, "no such"); err == nil {
		t.Error("an unknown scenario gives no error")
	}
}
