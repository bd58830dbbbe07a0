package balance

import (
	"errors"
	"math"
	"math/rand/v2"
	"testing"

	"eha/strokewise/ident/plant"
	"eha/strokewise/ident/trace"
)

// rod is a hydraulic axis whose motion is given and whose pressures follow from
// the balance of forces, so that every answer is known.
type rod struct {
	mass, viscous, coulomb, load float64 // kg, N·s/m, N, N
	loadSlope                    float64 // N/m about mid-stroke
	lineLoss                     float64 // Pa at full flow
	rise, stribeck               float64 // N and m/s, friction at low speed
	lag                          float64 // s, of the position behind the pressures
	noise                        float64 // 1 is a usual sensor
	mirrored                     bool    // extend and retract exchanged
}

var (
	testArea  = plant.PerChamber[float64]{Cap: 2e-3, Rod: 1.3e-3}
	testKnown = Known{Area: testArea, Displacement: 8e-7, MaxSpeed: 300}
)

func usualRod() rod { return rod{mass: 300, viscous: 4000, coulomb: 900, load: -6000} }

const rodPeriod = 1e-3

// log is a survey of some 40 s: a slow swing over the stroke with a quicker one on it,
// at three sizes.
func (r rod) log(t *testing.T, name string) *trace.Trace {
	t.Helper()
	rng := rand.New(rand.NewPCG(5, 6))
	samples := map[trace.Channel][]float64{}
	put := func(c trace.Channel, v float64) { samples[c] = append(samples[c], v) }
	way := 1.0
	if r.mirrored {
		way = -1
	}
	for i := range 40000 {
		s := float64(i) * rodPeriod
		x, v, a := rodMotion(s, way)
		n := v * testArea.Cap / testKnown.Displacement
		f := r.mass*a + r.viscous*v + math.Copysign(r.coulomb+r.rise*math.Exp(-v*v/(r.stribeck*r.stribeck+1e-30)), v) -
			way*(r.load+r.loadSlope*way*(x-0.15))
		f += r.lineLoss * (n * math.Abs(n) / (testKnown.MaxSpeed * testKnown.MaxSpeed)) * (testArea.Cap + testArea.Rod)
		low := 2e5
		p1, p2 := (f+low*testArea.Rod)/testArea.Cap, low
		if p1 < low {
			p1, p2 = low, (low*testArea.Cap-f)/testArea.Rod
		}
		late, _, _ := rodMotion(s-r.lag, way)
		put(trace.RodPosition, late+r.noise*5e-6*rng.NormFloat64())
		put(trace.MotorPosition, x*testArea.Cap/testKnown.Displacement)
		put(trace.CapPressure, p1+r.noise*7e3*rng.NormFloat64())
		put(trace.RodPressure, p2+r.noise*7e3*rng.NormFloat64())
	}
	tr, err := trace.New(name, rodPeriod, 0, samples, nil)
	if err != nil {
		t.Fatal(err)
	}
	return tr
}

func rodMotion(s, way float64) (x, v, a float64) {
	size := []float64{1, 0.6, 0.3}[int(math.Max(s, 0)/13.4)%3]
	w1, w2 := 2*math.Pi/6.7, 2*math.Pi*1.9
	A, B := 0.12*size, 0.002*size
	x = A*math.Sin(w1*s) + B*math.Sin(w2*s)
	v = A*w1*math.Cos(w1*s) + B*w2*math.Cos(w2*s)
	a = -A*w1*w1*math.Sin(w1*s) - B*w2*w2*math.Sin(w2*s)
	return 0.15 + way*x, way * v, way * a
}

func fitRod(t *testing.T, r rod) *Result {
	t.Helper()
	res, err := Fit([]Log{{Trace: r.log(t, "rod")}}, testKnown)
	if err != nil {
		t.Fatal(err)
	}
	return res
}

// Read by a late transducer, a load that changes along the stroke looks like
// friction that grows with speed: 60 kN/m and 2 ms make 120 N·s/m.
func TestSlopedLoadAndDelay(t *testing.T) {
	for _, slope := range []float64{60e3, -60e3} {
		r := usualRod()
		r.loadSlope, r.lag = slope, 2e-3
		res := fitRod(t, r)
		near(t, "viscous", res.Viscous.Value, r.viscous, 0.01)
		if res.Viscous.Low > r.viscous || res.Viscous.High < r.viscous {
			t.Errorf("slope %g N/m: viscous %.5g to %.5g misses %g", slope, res.Viscous.Low, res.Viscous.High, r.viscous)
		}
	}
}

// The motion's speed jumps where its size changes; windows there are left out by
// their robust weights to some parts in a thousand.
func TestFitRecovers(t *testing.T) {
	r := usualRod()
	res := fitRod(t, r)
	near(t, "mass", res.Mass.Value, r.mass, 0.01)
	near(t, "viscous", res.Viscous.Value, r.viscous, 5e-3)
	near(t, "coulomb", res.Coulomb.Value, r.coulomb, 2e-3)
	near(t, "load", res.Load.Value, r.load, 2e-3)
	for name, e := range map[string]plant.Estimate{"mass": res.Mass, "viscous": res.Viscous, "coulomb": res.Coulomb, "load": res.Load} {
		if e.Status != plant.Identified {
			t.Errorf("%s is %s, want identified", name, e.Status)
		}
	}
	for p, e := range res.Params() {
		if math.IsNaN(e.Value) || e.Low > e.Value || e.High < e.Value {
			t.Errorf("%s: %g is not in %g to %g", p, e.Value, e.Low, e.High)
		}
	}
}

func TestFitTakesLineLossAndLagApart(t *testing.T) {
	r := usualRod()
	r.lineLoss, r.lag = 3e5, 0.7e-3
	res := fitRod(t, r)
	near(t, "mass", res.Mass.Value, r.mass, 0.02)
	near(t, "viscous", res.Viscous.Value, r.viscous, 0.02)
	near(t, "line loss", res.LineLoss.Value, r.lineLoss, 0.05)
	near(t, "lag", res.Lag.Value, r.lag, 0.1)
	lag := res.PressureLag(plant.Estimate{Value: 1.5e-3, Low: 1.4e-3, High: 1.6e-3, Status: plant.Identified})
	near(t, "pressure lag", lag.Value, 0.8e-3, 0.1)
}

func TestMapShowsLoadAlongTheStroke(t *testing.T) {
	r := usualRod()
	r.load, r.loadSlope = 0, 40e3
	res := fitRod(t, r)
	if len(res.Map.Position) < mapBins/2 {
		t.Fatalf("%d places on the map, want at least %d", len(res.Map.Position), mapBins/2)
	}
	for i, x := range res.Map.Position {
		// A bin's mean position may be off its middle by a quarter of a bin.
		if got, want := res.Map.AxialLoad[i], 40e3*(x-0.15); math.Abs(got-want) > 40e3*0.25*0.24/mapBins+20 {
			t.Errorf("load at %.3f m: got %.0f, want %.0f", x, got, want)
		}
	}
	crossings := res.Crossings(0)
	if len(crossings) < 2 {
		t.Fatalf("chamber changes at %v, want one for each direction", crossings)
	}
	// F = 0 where the load is plus or minus the friction of 900 N: 22.5 mm either side.
	near(t, "first crossing", crossings[0], 0.15-900/40e3, 0.03)
	near(t, "last crossing", crossings[len(crossings)-1], 0.15+900/40e3, 0.03)
}

func TestLowSpeedFriction(t *testing.T) {
	r := usualRod()
	r.rise, r.stribeck = 400, 4e-3
	res := fitRod(t, r)
	near(t, "coulomb", res.Coulomb.Value, r.coulomb, 0.01)
	if !res.Stribeck.Known() || res.Stribeck.Low > r.stribeck || res.Stribeck.High < r.stribeck {
		t.Errorf("Stribeck speed %g is not in %+v", r.stribeck, res.Stribeck)
	}
	if res.Breakaway.Status == plant.Identified {
		t.Error("breakaway from a friction curve is weak at best")
	}
}

// Exchanging the directions turns the load round and keeps the rest.
func TestFitMirrored(t *testing.T) {
	r := usualRod()
	r.noise = 1
	base := fitRod(t, r)
	r.mirrored = true
	mirrored := fitRod(t, r)
	near(t, "mass", mirrored.Mass.Value, base.Mass.Value, 0.01)
	near(t, "coulomb", mirrored.Coulomb.Value, base.Coulomb.Value, 0.01)
	near(t, "load", mirrored.Load.Value, -base.Load.Value, 0.01)
}

func TestSeveralLogsAndExcludedStretches(t *testing.T) {
	r := usualRod()
	first := r.log(t, "first")
	x, _ := first.Samples(trace.RodPosition)
	p1, _ := first.Samples(trace.CapPressure)
	p2, _ := first.Samples(trace.RodPressure)
	theta, _ := first.Samples(trace.MotorPosition)
	spoiled := append([]float64(nil), p1...)
	for i := 5000; i < 20000; i++ {
		spoiled[i] += 30e5
	}
	second, err := trace.New("second", rodPeriod, 0, map[trace.Channel][]float64{trace.RodPosition: x, trace.CapPressure: spoiled,
		trace.RodPressure: p2, trace.MotorPosition: theta}, nil)
	if err != nil {
		t.Fatal(err)
	}
	res, err := Fit([]Log{{Trace: first}, {Trace: second, Exclude: []trace.Span{{From: 5000, To: 20000}}}}, testKnown)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "mass", res.Mass.Value, r.mass, 0.01)
	near(t, "load", res.Load.Value, r.load, 2e-3)
}

func TestFitWithoutForceOrMotion(t *testing.T) {
	tr := usualRod().log(t, "rod")
	if _, err := Fit([]Log{{Trace: tr}}, Known{}); !errors.Is(err, ErrNoForce) {
		t.Errorf("no areas: error %v, want ErrNoForce", err)
	}
	if _, err := Fit(nil, testKnown); !errors.Is(err, ErrNoForce) {
		t.Errorf("no logs: error %v, want ErrNoForce", err)
	}
	still, err := trace.New("still", 1e-3, 0, map[trace.Channel][]float64{trace.RodPosition: make([]float64, 900),
		trace.CapPressure: make([]float64, 900), trace.RodPressure: make([]float64, 900)}, nil)
	if err != nil {
		t.Fatal(err)
	}
	res, err := Fit([]Log{{Trace: still}}, testKnown)
	if err != nil {
		t.Fatal(err)
	}
	for p, e := range res.Params() {
		if e.Known() || e.From == "" {
			t.Errorf("%s of a rod at rest: %+v, want missing with a move", p, e)
		}
	}
	if lag := res.PressureLag(plant.Estimate{Value: 1e-3, Status: plant.Identified}); lag.Known() {
		t.Errorf("pressure lag of a rod at rest: %+v", lag)
	}
}
