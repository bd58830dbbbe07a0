package trace

import (
	"errors"
	"math"
	"math/rand/v2"
	"testing"
)

// The oil gives by what mass and friction take: the rod follows a second-order lag of 8 Hz and
// damping 0.1, whose phase delay 2ζ/ω is 4 ms. With the pressures logged that lag is known, and
// what is left is the transducer's own.
func TestJoinTakesTheOilsGiveOut(t *testing.T) {
	const (
		n, dt        = 40_000, 1e-3
		omega, zeta  = 2 * math.Pi * 8, 0.1
		sensor       = 2e-3 // s
		offset       = 0.3  // s
		drift        = 60e-6
		give         = 1e-11 // m/Pa
		turns        = 0.01  // m/rad
		first, later = 2_000, 38_000
	)
	rng := rand.New(rand.NewPCG(41, 42))
	motor, rod, pressure := make([]float64, n), make([]float64, n), make([]float64, n)
	x, v := turns*journey(0), 0.0
	for i := range motor {
		want := turns * journey(float64(i)*dt)
		motor[i], rod[i], pressure[i] = want/turns, x, 60e5+(want-x)/give
		for range 10 {
			a := omega*omega*(want-x) - 2*zeta*omega*v
			v += a * dt / 10
			x += v * dt / 10
		}
	}
	second := func(y []float64, late float64) []float64 {
		out := make([]float64, later-first)
		for i := range out {
			s := float64(first+i) * dt
			out[i] = interpolateAt(y, (s*(1+drift)-late)/dt) + 1e-6*rng.NormFloat64()*math.Abs(y[0])
		}
		return out
	}
	a, err := New("a", dt, 0, map[Channel][]float64{MotorPosition: motor}, nil)
	if err != nil {
		t.Fatal(err)
	}
	still := make([]float64, later-first)
	for i := range still {
		still[i] = 2e5 + 1e3*math.Sin(float64(i))
	}
	b, err := New("b", dt, first*dt-offset, map[Channel][]float64{RodPosition: second(rod, sensor), CapPressure: second(pressure, 0), RodPressure: still}, nil)
	if err != nil {
		t.Fatal(err)
	}
	_, j, err := Join(a, b)
	if err != nil {
		t.Fatal(err)
	}
	exact := offset + drift*(j.Middle+offset)
	if exact < j.OffsetLow || exact > j.OffsetHigh || j.OffsetHigh-j.OffsetLow > 7e-3 || math.Abs(j.Offset-exact) > 1e-3 {
		t.Errorf("offset %g in %g to %g, true %g", j.Offset, j.OffsetLow, j.OffsetHigh, exact)
	}
	if drift < j.DriftLow || drift > j.DriftHigh || math.Abs(j.Drift-drift) > 20e-6 {
		t.Errorf("drift %g in %g to %g, true %g", j.Drift, j.DriftLow, j.DriftHigh, drift)
	}
}

// Two moves of one kind are alike in part; a slow stroke is like any other.
func TestJoinRefusesAnotherMove(t *testing.T) {
	recording := func(c Channel, factor float64, f func(t float64) float64) *Trace {
		x := make([]float64, 10_000)
		for i := range x {
			x[i] = factor * f(float64(i)*2e-3)
		}
		tr, err := New("x", 2e-3, 0, map[Channel][]float64{c: x}, nil)
		if err != nil {
			t.Fatal(err)
		}
		return tr
	}
	step := func(s, at float64) float64 { return math.Tanh(3 * (s - at)) }
	one := func(s float64) float64 { return step(s, 3) - step(s, 8) + 0.6*step(s, 13) }
	other := func(s float64) float64 { return step(s, 4) - 0.8*step(s, 10) + 0.7*step(s, 14) }
	slow := func(s float64) float64 { return 0.1 * s }
	for name, pair := range map[string][2]*Trace{
		"other steps":                        {recording(MotorPosition, 30, one), recording(MotorPosition, 30, other)},
		"other steps, against the rod":       {recording(MotorPosition, 30, one), recording(RodPosition, 0.1, other)},
		"a slow stroke, and another of them": {recording(MotorPosition, 30, slow), recording(RodPosition, 0.1, slow)},
	} {
		if _, j, err := Join(pair[0], pair[1]); !errors.Is(err, ErrNotJoined) {
			t.Errorf("%s: joined at %g ± %g s, likeness %.3f", name, j.Offset, (j.OffsetHigh-j.OffsetLow)/2, j.Likeness)
		}
	}
	if _, _, err := Join(recording(MotorPosition, 30, one), recording(RodPosition, 0.1, one)); err != nil {
		t.Errorf("the same steps: %v", err)
	}
}
