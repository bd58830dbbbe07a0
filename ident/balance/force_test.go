package balance

import (
	"errors"
	"math"
	"math/rand/v2"
	"testing"

	"eha/strokewise/ident/plant"
	"eha/strokewise/ident/trace"
)

// axis is a servo axis whose position is given, so that its force is known in closed form.
type axis struct {
	mass, viscous, coulomb, offset float64 // kg, N·s/m, N, N
	stroke                         float64 // m
	period                         float64 // s
	lag                            float64 // s, of the position behind the force
	positionNoise, forceNoise      float64 // m and N
}

var axes = map[string]axis{
	"motor axis":  {mass: 95, viscous: 200, coulomb: 20, offset: -3, stroke: 0.12, period: 1e-3},
	"light axis":  {mass: 0.4, viscous: 3, coulomb: 1.5, offset: 0.2, stroke: 0.004, period: 1e-3},
	"press":       {mass: 900, viscous: 9e3, coulomb: 3e3, offset: -8e3, stroke: 0.4, period: 1e-3},
	"slow log":    {mass: 250, viscous: 2e3, coulomb: 400, offset: 100, stroke: 0.5, period: 4e-3},
	"slowest log": {mass: 2500, viscous: 2e4, coulomb: 700, offset: 100, stroke: 1, period: 10e-3},
}

// motion is position, speed and acceleration at time s: a slow swing with a
// quicker one on it, so that mass and friction are both asked for.
func (a axis) motion(s float64) (x, v, acc float64) {
	w1, w2 := 2*math.Pi*0.31, 2*math.Pi*1.7
	A, B := 0.45*a.stroke, 0.02*a.stroke
	x = a.stroke/2 + A*math.Sin(w1*s) + B*math.Sin(w2*s)
	v = A*w1*math.Cos(w1*s) + B*w2*math.Cos(w2*s)
	acc = -A*w1*w1*math.Sin(w1*s) - B*w2*w2*math.Sin(w2*s)
	return x, v, acc
}

func (a axis) log(seconds float64, seed uint64) (position, force []float64) {
	rng := rand.New(rand.NewPCG(seed, 7))
	for i := range int(seconds / a.period) {
		s := float64(i) * a.period
		x, _, _ := a.motion(s - a.lag)
		_, v, acc := a.motion(s)
		f := a.mass*acc + a.viscous*v + a.coulomb*math.Copysign(1, v) + a.offset
		position = append(position, x+a.positionNoise*rng.NormFloat64())
		force = append(force, f+a.forceNoise*rng.NormFloat64())
	}
	return position, force
}

func near(t *testing.T, what string, got, want, limit float64) {
	t.Helper()
	if !(math.Abs(got-want) <= limit*math.Abs(want)) {
		t.Errorf("%s: got %g, want %g within %g", what, got, want, limit)
	}
}

func inside(t *testing.T, what string, e plant.Estimate, want float64) {
	t.Helper()
	if !e.Known() || e.Low > want || e.High < want {
		t.Errorf("%s: %g is outside %g to %g (%s)", what, want, e.Low, e.High, e.Status)
	}
}

// Without noise what is left is the window's quadrature: some 1e-4 at the wide
// windows that 10 ms logs need.
func TestFromForceRecovers(t *testing.T) {
	for name, a := range axes {
		t.Run(name, func(t *testing.T) {
			position, force := a.log(40, 1)
			f, err := FromForce(position, force, a.period)
			if err != nil {
				t.Fatal(err)
			}
			near(t, "mass", f.Mass.Value, a.mass, 2e-3)
			near(t, "viscous", f.Viscous.Value, a.viscous, 2e-3)
			near(t, "coulomb", f.Coulomb.Value, a.coulomb, 5e-3)
			near(t, "offset", f.Offset.Value, a.offset, 0.01)
			if len(f.Friction) == 0 {
				t.Error("no friction curve")
			}
		})
	}
}

func TestFromForceTakesTheLagOut(t *testing.T) {
	a := axes["press"]
	a.lag = 0.8e-3
	position, force := a.log(40, 1)
	f, err := FromForce(position, force, a.period)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "mass", f.Mass.Value, a.mass, 0.01)
	near(t, "lag", f.Lag.Value, a.lag, 0.05)
}

// Coverage with seeded noise: 95 % intervals must not miss more than a few of 4 times 20.
func TestFromForceIntervalsCover(t *testing.T) {
	missed, tries := 0, 0
	for seed := range uint64(20) {
		a := axes["motor axis"]
		a.positionNoise, a.forceNoise = 5e-6, 2
		position, force := a.log(20, seed)
		f, err := FromForce(position, force, a.period)
		if err != nil {
			t.Fatal(err)
		}
		for _, c := range []struct {
			e    plant.Estimate
			want float64
		}{{f.Mass, a.mass}, {f.Viscous, a.viscous}, {f.Coulomb, a.coulomb}, {f.Offset, a.offset}} {
			tries++
			if c.e.Low > c.want || c.e.High < c.want {
				missed++
			}
		}
	}
	// 5 % of 80 is 4; twice that is beyond three standard deviations.
	if missed > 8 {
		t.Errorf("%d of %d intervals missed the truth, want at most 8", missed, tries)
	}
}

// A coarse position would make the mass come out low by the noise's share of the
// acceleration; it is put back.
func TestFromForcePutsNoiseBack(t *testing.T) {
	a := axes["motor axis"]
	a.positionNoise = 1e-4
	position, force := a.log(40, 3)
	f, err := FromForce(position, force, a.period)
	if err != nil {
		t.Fatal(err)
	}
	inside(t, "mass", f.Mass, a.mass)
	near(t, "mass", f.Mass.Value, a.mass, 0.05)
}

// Mirrored motion keeps mass and friction and turns the offset round; the unit of
// force scales everything.
func TestFromForceSymmetries(t *testing.T) {
	a := axes["motor axis"]
	a.forceNoise = 1
	position, force := a.log(20, 1)
	base, err := FromForce(position, force, a.period)
	if err != nil {
		t.Fatal(err)
	}
	mirrored, doubled := make([]float64, len(force)), make([]float64, len(force))
	flipped := make([]float64, len(force))
	for i := range force {
		flipped[i], mirrored[i], doubled[i] = 1-position[i], -force[i], 2*force[i]
	}
	m, err := FromForce(flipped, mirrored, a.period)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "mirrored mass", m.Mass.Value, base.Mass.Value, 1e-6)
	near(t, "mirrored coulomb", m.Coulomb.Value, base.Coulomb.Value, 1e-6)
	near(t, "mirrored offset", m.Offset.Value, -base.Offset.Value, 1e-6)
	d, err := FromForce(position, doubled, a.period)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "doubled mass", d.Mass.Value, 2*base.Mass.Value, 1e-6)
	near(t, "doubled viscous", d.Viscous.Value, 2*base.Viscous.Value, 1e-6)
}

func TestFromForceOneDirection(t *testing.T) {
	const period = 1e-3
	var position, force []float64
	for i := range 4000 {
		s := float64(i) * period
		v, acc := 0.2+0.1*math.Sin(9*s), 0.9*math.Cos(9*s)
		position = append(position, 0.2*s-0.1/9*math.Cos(9*s))
		force = append(force, 50*acc+300*v+40)
	}
	f, err := FromForce(position, force, period)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "mass", f.Mass.Value, 50, 0.01)
	if f.Coulomb.Known() || len(f.Warnings) == 0 {
		t.Errorf("one direction: coulomb %+v, warnings %q", f.Coulomb, f.Warnings)
	}
}

func TestFromForceNothingToSee(t *testing.T) {
	f, err := FromForce(make([]float64, 3000), make([]float64, 3000), 1e-3)
	if err != nil {
		t.Fatal(err)
	}
	if f.Mass.Known() || f.Mass.From == "" {
		t.Errorf("an axis at rest gives mass %+v", f.Mass)
	}
}

func TestFromForceErrors(t *testing.T) {
	if _, err := FromForce([]float64{1, 2, 3}, []float64{1, 2}, 1e-3); err == nil {
		t.Error("unlike lengths: no error")
	}
	if _, err := FromForce([]float64{1, 2}, []float64{1, 2}, 0); err == nil {
		t.Error("no period: no error")
	}
	if _, err := FromForce([]float64{1, math.NaN()}, []float64{1, 2}, 1); err == nil {
		t.Error("not a number: no error")
	}
	tr, err := trace.New("x", 1, 0, map[trace.Channel][]float64{trace.RodPosition: {1, 2}}, nil)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := FromForceLogs([]Log{{Trace: tr}}); !errors.Is(err, ErrNoForce) {
		t.Errorf("no force channel: error %v, want ErrNoForce", err)
	}
}

// At a single frequency the jerk is a multiple of the speed, and no delay is to be
// seen. Where the position jumps besides, as in recordings put one behind the other,
// the jump once passed for a delay of milliseconds and took viscous friction with it.
func TestNoiseDoesNotDecideTheDelay(t *testing.T) {
	const period, mass, viscous, coulomb = 1e-3, 3.5, 3.6, 5.0
	rng := rand.New(rand.NewPCG(1, 136))
	var position, force []float64
	for i := range 30000 {
		s := float64(i) * period
		size, w := []float64{0.064, 0.04, 0.02}[i/10100], 2*math.Pi*0.8
		x, v, a := size*math.Sin(w*s), size*w*math.Cos(w*s), -size*w*w*math.Sin(w*s)
		position = append(position, 2e-5*math.Round((x+1e-5*rng.NormFloat64())/2e-5))
		force = append(force, mass*a+viscous*v+coulomb*math.Tanh(v/1e-3)+0.2*rng.NormFloat64())
	}
	f, err := FromForce(position, force, period)
	if err != nil {
		t.Fatal(err)
	}
	for name, got := range map[string]struct {
		e    plant.Estimate
		want float64
	}{"mass": {f.Mass, mass}, "viscous": {f.Viscous, viscous}, "coulomb": {f.Coulomb, coulomb}} {
		if got.e.Low > got.want || got.e.High < got.want {
			t.Errorf("%s: %g to %g, want %g within", name, got.e.Low, got.e.High, got.want)
		}
	}
	near(t, "viscous", f.Viscous.Value, viscous, 0.02)
}
