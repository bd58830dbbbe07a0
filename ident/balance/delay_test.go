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

// A load cell with its sign turned made friction that drives: -402 to -398 N.
func TestForceAgainstMotionIsNamed(t *testing.T) {
	const n, period = 20000, 1e-3
	x, f := make([]float64, n), make([]float64, n)
	for i := range n {
		s := float64(i) * period
		v := 0.2*math.Sin(5*s) + 0.15*math.Sin(11*s+1)
		a := math.Cos(5*s) + 1.65*math.Cos(11*s+1)
		x[i] = 0.2 - 0.04*math.Cos(5*s) - 0.15/11*math.Cos(11*s+1)
		f[i] = -(300*a + 2000*v + math.Copysign(400, v))
	}
	fit, err := FromForce(x, f, period)
	if err != nil {
		t.Fatal(err)
	}
	for name, e := range map[string]plant.Estimate{"mass": fit.Mass, "viscous": fit.Viscous, "coulomb": fit.Coulomb} {
		if e.Known() {
			t.Errorf("%s friction or mass found below zero: %+v", name, e)
		}
	}
	if len(fit.Warnings) != 1 {
		t.Errorf("warnings %q, want the one about the sign", fit.Warnings)
	}
}
