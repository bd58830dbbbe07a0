package balance

import (
	"math"
	"testing"

	"eha/strokewise/ident/plant"
)

// Swinging at a single frequency the jerk is a multiple of the speed, so that no delay of
// position behind force can be told. It came out as nothing, plus or minus nothing.
func TestADelayThatWasNotFittedIsMissing(t *testing.T) {
	const n, period, mass, omega = 20000, 1e-3, 300.0, 2 * math.Pi * 3
	x, f := make([]float64, n), make([]float64, n)
	for i := range n {
		s := omega * float64(i) * period
		v := 0.02 * omega * math.Cos(s)
		x[i] = 0.1 + 0.02*math.Sin(s)
		f[i] = -mass*0.02*omega*omega*math.Sin(s) + 2000*v + math.Copysign(400, v)
	}
	fit, err := FromForce(x, f, period)
	if err != nil {
		t.Fatal(err)
	}
	if fit.Lag.Status != plant.Missing || fit.Lag.From == "" {
		t.Errorf("delay %+v, want it missing with the move to log", fit.Lag)
	}
	p := fit.Mass
	t.Logf("mass %+v", p)
}
