package tuning

import (
	"context"
	"math"
	"strings"
	"testing"
)

func TestRounding(t *testing.T) {
	coarse := typed{map[string]float64{"kp": 0.25}}
	for _, tc := range []struct {
		what      string
		got, want float64
	}{
		{"three digits, down", typed{}.down("kp", 11.6789, 1), 11.6},
		{"a whole number of steps stays", typed{}.down("kp", 11.6, 1), 11.6},
		{"small", typed{}.down("ki", 0.0123456, 1), 0.0123},
		{"a power of ten", typed{}.down("kp", 10, 1), 10},
		{"resolution, down", coarse.down("kp", 11.7, 1), 11.5},
		{"resolution, less than a step", coarse.down("kp", 0.2, 1), 0},
		{"two digits, up", typed{}.up("window", 0.01234e-3, inMM), 0.013e-3},
		{"six digits", typed{}.fine("turns_per_mm", 0.3923456789/revPerMM, revPerMM), 0.392345 / revPerMM},
		{"zero", typed{}.up("window", 0, inMM), 0},
	} {
		if math.Abs(tc.got-tc.want) > 1e-12*math.Abs(tc.want) {
			t.Errorf("%s: got %.15g, want %.15g", tc.what, tc.got, tc.want)
		}
	}
}

// A resolution coarser than the setting leaves nothing to type: with a speed limit of
// zero a long step took for ever and ended in a panic.
func TestAResolutionTooCoarseIsNamed(t *testing.T) {
	for _, name := range []string{"speed_limit", "turns_per_mm"} {
		p := invented(3)
		p.Machine.Controller.Resolution = map[string]float64{name: 1e6}
		out, err := Propose(context.Background(), p, DefaultOptions())
		if err != nil {
			t.Fatal(err)
		}
		if why := out.NotProposed["position"]; out.Loops.Position != nil || !strings.Contains(why, "controller.resolution") {
			t.Errorf("%s: %+v, %q", name, out.Loops.Position, why)
		}
	}
}
