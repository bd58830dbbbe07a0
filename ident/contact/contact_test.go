package contact

import (
	"math"
	"math/rand/v2"
	"testing"

	"eha/strokewise/ident/plant"
	"eha/strokewise/ident/trace"
)

// press is a machine that presses on a spring: quasi-static, so that every
// answer is known in closed form.
type press struct {
	direction    plant.Direction
	area         plant.PerChamber[float64]
	displacement float64 // m³/rad
	compliance   float64 // m³/Pa
	stiffness    float64 // N/m
	touch        float64 // m
	slip         float64 // rad/s per Pa
	friction     float64 // N
	noise        float64 // 1 is a usual sensor
	cellOffset   float64 // N
}

func usualPress() press {
	return press{direction: plant.Extend, area: plant.PerChamber[float64]{Cap: 2e-3, Rod: 1.2e-3}, displacement: 8e-7,
		compliance: 5e-13, stiffness: 2e7, touch: 0.12, slip: 2e-6, friction: 800, cellOffset: 300}
}

const lowPressure = 2e5 // Pa

// log plays a rise to 20 kN in steps with holds, and a release.
func (p press) log(t *testing.T) Press {
	t.Helper()
	const period = 1e-3
	rng := rand.New(rand.NewPCG(1, 2))
	chamber := chamberOf(p.direction)
	area, sign := p.area.At(chamber), p.direction.Sign()
	low := sign * lowPressure * p.area.At(chamber.Other())
	samples := map[trace.Channel][]float64{}
	put := func(c trace.Channel, v float64) { samples[c] = append(samples[c], v) }
	angle, last := 0.0, math.NaN()
	for i := range 12000 {
		contact := 20e3 * level(float64(i)*period) // N at the spring
		f := contact + p.friction                  // at the piston, along the direction
		if i > 10000 {
			f -= 2 * p.friction // easing off
		}
		pressure := (f + math.Abs(low)) / area
		if !math.IsNaN(last) {
			// Oil taken by compression and by the rod's travel, and what slips away.
			travel := 0.0
			if i <= 10000 {
				travel = (pressure - last) * area / p.stiffness
			}
			angle += sign*(area*travel+p.compliance*(pressure-last))/p.displacement + sign*p.slip*(pressure-lowPressure)*period
		}
		last = pressure
		put(trace.MotorPosition, angle)
		put(trace.RodPosition, p.touch+sign*contact/p.stiffness+p.noise*5e-6*rng.NormFloat64())
		put(trace.Force, sign*contact+p.cellOffset)
		high, other := pressure+p.noise*1e4*rng.NormFloat64(), lowPressure+p.noise*1e4*rng.NormFloat64()
		if chamber == plant.Rod {
			high, other = other, high
		}
		put(trace.CapPressure, high)
		put(trace.RodPressure, other)
	}
	tr, err := trace.New("press", period, 0, samples, nil)
	if err != nil {
		t.Fatal(err)
	}
	return Press{Trace: tr, Span: trace.Span{From: 0, To: tr.Len()}}
}

// level is the share of full force at time s: four rises of 1 s with holds of
// 1.5 s between, then down.
func level(s float64) float64 {
	if s > 10 {
		return max(1-(s-10)/1.5, 0)
	}
	step := math.Floor(s / 2.5)
	return 0.25 * min(step+min((s-2.5*step)/1, 1), 4)
}

func (p press) known() Known {
	oil := plant.PerChamber[plant.Oil]{Cap: plant.Oil{Fixed: p.compliance, Modulus: 1e30}, Rod: plant.Oil{Fixed: p.compliance, Modulus: 1e30}}
	free := plant.PerDirection[float64]{Extend: p.friction, Retract: -p.friction}
	return Known{Area: p.area, Stroke: 0.3, Displacement: p.displacement, Slip: p.slip, Oil: &oil, OilDoubt: plant.PerChamber[float64]{Cap: 0.05, Rod: 0.05}, FreeForce: &free}
}

func (p press) pressing() float64 {
	a := p.area.At(chamberOf(p.direction))
	return a * p.displacement / (p.compliance + a*a/p.stiffness)
}

// check compares with a limit that is the relative error allowed.
func check(t *testing.T, what string, got, want, limit float64) {
	t.Helper()
	if math.Abs(got-want) > limit*math.Abs(want) || math.IsNaN(got) {
		t.Errorf("%s: got %g, want %g within %g", what, got, want, limit)
	}
}

// Without noise the only errors are those of pieces that straddle the ends of a
// rise, hence 2 % for the direct figures.
func TestFitRecovers(t *testing.T) {
	for _, d := range []plant.Direction{plant.Extend, plant.Retract} {
		t.Run(d.String(), func(t *testing.T) {
			p := usualPress()
			p.direction = d
			res := Fit([]Press{p.log(t)}, p.known())
			if res.Presses != d {
				t.Fatalf("presses %v, want %v", res.Presses, d)
			}
			check(t, "contact", res.Contact.Value, p.stiffness, 1e-3)
			check(t, "position", res.Position.Value, p.touch, 1e-4)
			check(t, "pressing", res.Pressing.Value, p.pressing(), 2e-3)
			check(t, "direct", res.Direct.Value, p.pressing(), 0.02)
			check(t, "slip", res.Slip.Value, p.slip, 0.02)
			check(t, "force", d.Sign()*(res.Force[1]+res.Force[0]), 20e3+2*p.friction, 0.01)
			for name, e := range map[string]plant.Estimate{"contact": res.Contact, "pressing": res.Pressing} {
				if e.Status != plant.Identified {
					t.Errorf("%s is %s, want identified", name, e.Status)
				}
			}
			if len(res.Points) == 0 {
				t.Error("no points to draw")
			}
		})
	}
}

func TestFitWithNoise(t *testing.T) {
	p := usualPress()
	p.noise = 1
	res := Fit([]Press{p.log(t)}, p.known())
	if e := res.Contact; e.Low > p.stiffness || e.High < p.stiffness {
		t.Errorf("contact stiffness %g is outside %g to %g", p.stiffness, e.Low, e.High)
	}
	check(t, "contact", res.Contact.Value, p.stiffness, 0.02)
}

func TestCellAgainstPressures(t *testing.T) {
	p := usualPress()
	c := Fit([]Press{p.log(t)}, p.known()).Cell
	if c == nil {
		t.Fatal("no comparison with the load cell")
	}
	check(t, "scale", c.Scale, 1, 5e-3) // samples about the reversal carry neither friction
	check(t, "hysteresis", c.Hysteresis, p.friction, 0.03)
	check(t, "offset", c.Offset, -p.cellOffset, 0.1)
}

// With the load cell alone the contact is the same, and the hydraulics are unknown.
func TestFitWithoutPressures(t *testing.T) {
	p := usualPress()
	full := p.log(t)
	x, _ := full.Trace.Samples(trace.RodPosition)
	f, _ := full.Trace.Samples(trace.Force)
	tr, err := trace.New("cell", 1e-3, 0, map[trace.Channel][]float64{trace.RodPosition: x, trace.Force: f}, nil)
	if err != nil {
		t.Fatal(err)
	}
	res := Fit([]Press{{Trace: tr, Span: full.Span}}, p.known())
	check(t, "contact", res.Contact.Value, p.stiffness, 1e-3)
	if res.Slip.Known() || res.Direct.Known() {
		t.Error("slip and turns cannot be told without pressures")
	}
}

func TestSmallTravelIsWeak(t *testing.T) {
	p := usualPress()
	p.stiffness = 5e8
	if s := Fit([]Press{p.log(t)}, p.known()).Contact.Status; s != plant.Weak {
		t.Errorf("contact with 0.03 mm of travel is %s, want weak", s)
	}
}

func TestNothingPressed(t *testing.T) {
	res := Fit(nil, usualPress().known())
	for _, e := range []plant.Estimate{res.Contact, res.Pressing, res.Position, res.Direct, res.Slip} {
		if e.Known() || e.From == "" {
			t.Errorf("got %+v, want missing with the move to log", e)
		}
	}
	flat, err := trace.New("flat", 1e-3, 0, map[trace.Channel][]float64{
		trace.RodPosition: make([]float64, 500), trace.CapPressure: make([]float64, 500), trace.RodPressure: make([]float64, 500)}, nil)
	if err != nil {
		t.Fatal(err)
	}
	if e := Fit([]Press{{flat, trace.Span{From: 0, To: 500}}}, usualPress().known()).Contact; e.Known() {
		t.Errorf("a flat log gives %+v", e)
	}
}

// A stretch that sets in at the top of the force and eases off presses the way the
// force points, not the way it falls.
func TestPressingByTheForce(t *testing.T) {
	falling := []float64{9e3, 8e3, 5e3, 4e3}
	free := &plant.PerDirection[float64]{Extend: 1e3, Retract: -200}
	if got := pressing(falling, free); got != plant.Extend {
		t.Errorf("falling from 9 kN to 4 kN presses %v", got)
	}
	if got := pressing([]float64{-9e3, -4e3}, free); got != plant.Retract {
		t.Errorf("at -9 kN presses %v", got)
	}
	if got := pressing([]float64{0, 9e3}, nil); got != plant.Extend {
		t.Errorf("rising presses %v", got)
	}
}

// Near zero load the force of a rod at rest may stand beyond that of the log's only
// travel, which went one way. What friction explains is no contact.
func TestRestWithinFrictionIsNoContact(t *testing.T) {
	p := usualPress()
	k := p.known()
	k.FreeForce = &plant.PerDirection[float64]{Extend: 21e3, Retract: -21e3}
	if res := Fit([]Press{p.log(t)}, k); res.Contact.Known() || res.Pressing.Known() {
		t.Errorf("contact %+v, pressing %+v within the friction, want missing", res.Contact, res.Pressing)
	}
}
