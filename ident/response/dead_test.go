package response

import (
	"math"
	"testing"

	"eha/strokewise/ident/motion"
	"eha/strokewise/ident/trace"
)

// A pressure sensor that reads nothing but zero has no response: its coherence, nothing over nothing, was kept as
// one that is no number, which no JSON can hold.
func TestADeadChannelHasNoResponse(t *testing.T) {
	const n, period = 40000, 1e-3
	u, theta, x, a, b := make([]float64, n), make([]float64, n), make([]float64, n), make([]float64, n), make([]float64, n)
	for i := range n {
		s := float64(i) * period
		u[i] = 40 + 10*math.Sin(40*s) + 8*math.Sin(23*s+1) + 7*math.Sin(91*s)
		if i > 0 {
			theta[i] = theta[i-1] + u[i]*period
		}
		x[i], a[i] = 1e-4*theta[i], 3e6+1e5*math.Sin(40*s)
	}
	tr, err := trace.New("a.csv", period, 0, map[trace.Channel][]float64{trace.SpeedCommand: u, trace.MotorPosition: theta,
		trace.RodPosition: x, trace.CapPressure: a, trace.RodPressure: b}, nil)
	if err != nil {
		t.Fatal(err)
	}
	found := 0
	for _, r := range Measure([]Log{{tr, motion.Find(tr)}}) {
		found++
		for k := range r.Omega {
			if math.IsNaN(r.Coherence[k]) || math.IsInf(r.RelError[k], 0) {
				t.Fatalf("%s to %s: coherence %g, error %g", r.From, r.To, r.Coherence[k], r.RelError[k])
			}
		}
	}
	if found == 0 {
		t.Error("nothing was measured")
	}
}
