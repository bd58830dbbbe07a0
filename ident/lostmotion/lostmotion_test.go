package lostmotion

import (
	"math"
	"math/rand/v2"
	"testing"

	"eha/strokewise/ident/motion"
	"eha/strokewise/ident/plant"
	"eha/strokewise/ident/trace"
)

// rig is a rod behind a band of lost motion in the oil: the rod stands while the
// pressures go from one branch to the other, and follows the motor after that.
type rig struct {
	friction float64 // N, half the distance of the branches
	load     float64 // N
	slip     float64 // rad/s per Pa
	delay    float64 // s, of the transducer
	noise    float64 // m
	bare     bool    // pressures not logged
	place    float64 // m
}

const (
	period       = 1e-3
	displacement = 8e-7 // m³/rad
	perTurn      = displacement / 2e-3
	speed        = 8.0 // rad/s
	half         = 700 // samples of a branch
)

var (
	area = plant.PerChamber[float64]{Cap: 2e-3, Rod: 1.3e-3}
	oil  = plant.PerChamber[plant.Oil]{Cap: plant.Oil{Modulus: 1.2e9, Fixed: 1e-13}, Rod: plant.Oil{Modulus: 1.2e9, Fixed: 1e-13}}
)

func usualRig() rig { return rig{friction: 900, load: -9000, place: 0.15} }

func usualKnown() Known {
	o := oil
	return Known{Area: area, Stroke: 0.3, Displacement: displacement, MaxSpeed: 200, Oil: &o}
}

// lost returns the angle in closed form where the cap side carries both ways: the
// rod side stays at the reservoir, so that the cap's oil alone takes 2·friction/A.
func (r rig) lost() float64 {
	c := oil.Cap.Compliance(area.Cap*r.place, 0) // no air: independent of pressure
	return 2 * r.friction / area.Cap * c / displacement
}

// log plays ten reversals. The motor angle that reaches the rod lags by the lost
// motion, as through a gap that is filled with oil.
func (r rig) log(t *testing.T) Log {
	t.Helper()
	rng := rand.New(rand.NewPCG(1, 9))
	samples := map[trace.Channel][]float64{}
	put := func(c trace.Channel, v float64) { samples[c] = append(samples[c], v) }
	gap := r.lost()
	theta, slipped, behind := 0.0, 0.0, -gap/2 // behind: angle that the rod follows, within gap/2 of theta
	var segments []motion.Segment
	var xs []float64
	for i := range 11 * half {
		sign := 1 - 2*float64(i/half%2)
		if i%half == 0 {
			segments = append(segments, motion.Segment{Kind: motion.Steady, MotorSpeed: sign * speed, Span: trace.Span{From: i, To: i + half}})
		}
		theta += sign * speed * period
		behind = math.Min(math.Max(behind, theta-gap/2), theta+gap/2)
		force := r.friction*(theta-behind)/(gap/2) - r.load
		low := 2e5
		p1 := (force + low*area.Rod) / area.Cap
		slipped += r.slip * (p1 - low) * period
		put(trace.MotorPosition, theta+slipped)
		xs = append(xs, r.place+perTurn*behind)
		if !r.bare {
			put(trace.CapPressure, p1)
			put(trace.RodPressure, low)
		}
	}
	for i := range xs {
		put(trace.RodPosition, xs[max(i-int(math.Round(r.delay/period)), 0)]+r.noise*rng.NormFloat64())
	}
	tr, err := trace.New("reversals", period, 0, samples, nil)
	if err != nil {
		t.Fatal(err)
	}
	return Log{Trace: tr, Segments: segments}
}

func near(t *testing.T, what string, got, want, limit float64) {
	t.Helper()
	if !(math.Abs(got-want) <= limit*math.Abs(want)) {
		t.Errorf("%s: got %g, want %g within %g", what, got, want, limit)
	}
}

// The turning point is smoothed over some 10 ms, 0.08 rad here, of which a
// tenth or so shows.
func TestBothWaysRecover(t *testing.T) {
	r := usualRig()
	res := Fit([]Log{r.log(t)}, usualKnown())
	if len(res.Places) != 10 {
		t.Fatalf("%d reversals, want 10", len(res.Places))
	}
	for _, p := range res.Places[1:] {
		near(t, "measured", p.Measured, r.lost(), 0.02)
		near(t, "calculated", p.Calculated, r.lost(), 0.02)
		near(t, "force before and after", math.Abs(p.Before-p.After), 2*r.friction, 0.02)
	}
	near(t, "lost motion", res.LostMotion.Value, r.lost(), 0.02)
	if res.LostMotion.Status != plant.Identified {
		t.Errorf("status %s, want identified", res.LostMotion.Status)
	}
}

func TestSlipAndDelayAreTakenOut(t *testing.T) {
	r := usualRig()
	r.slip, r.delay, r.noise = 1e-7, 3e-3, 3e-6
	k := usualKnown()
	k.Slip, k.TransducerDelay = r.slip, r.delay
	near(t, "lost motion", Fit([]Log{r.log(t)}, k).LostMotion.Value, r.lost(), 0.03)
	// Without the delay each branch is off by speed times delay.
	k.TransducerDelay = 0
	k.Oil = nil
	near(t, "delay left in", Fit([]Log{r.log(t)}, k).LostMotion.Value, r.lost()+2*speed*r.delay, 0.05)
}

// Slip that is not known makes one kind of reversal look larger and the other
// smaller by the same, as without pressures.
func TestWithoutPressures(t *testing.T) {
	r := usualRig()
	r.slip, r.bare = 1e-8, true
	res := Fit([]Log{r.log(t)}, Known{MaxSpeed: 200})
	near(t, "lost motion", res.LostMotion.Value, r.lost(), 0.1)
	if w := res.LostMotion.HalfWidth() / res.LostMotion.Value; w < 0.25 {
		t.Errorf("one way alone stated to %.0f %%, want 25 %% at least", 100*w)
	}
}

// The chamber that carries is larger at the far end: what a reversal there shows
// is more than at mid-stroke. Reversals at both ends give mid-stroke.
func TestPlacesJoinAtMidStroke(t *testing.T) {
	near1, far := usualRig(), usualRig()
	near1.place, far.place = 0.06, 0.25
	res := Fit([]Log{near1.log(t), far.log(t)}, usualKnown())
	near(t, "lost motion at mid-stroke", res.LostMotion.Value, usualRig().lost(), 0.02)
}

// Both chambers move where neither is held at the reservoir.
func TestCrossingWithBothChambers(t *testing.T) {
	k := usualKnown()
	start := plant.PerChamber[float64]{Cap: 40e5, Rod: 40e5}
	need := 400.0 // N, so little that no side is 4 bar above the other for long
	c1, c2 := oil.Cap.Compliance(area.Cap*0.15, 0), oil.Rod.Compliance(area.Rod*0.15, 0)
	want := need / (displacement * (area.Cap/c1 + area.Rod/c2))
	// p_cap rises and p_rod falls below its start, which stands for the reservoir here.
	got := crossing(start, area.Cap*40e5-area.Rod*40e5+need, 1, 0.15, k)
	if got < want || got > 3*want {
		t.Errorf("angle %g, want at least %g of two free chambers and not three times it", got, want)
	}
}

func TestQuickReversalsAndNoneAtAll(t *testing.T) {
	k := usualKnown()
	k.MaxSpeed = speed // so that these reversals are at full speed
	for name, logs := range map[string][]Log{"quick": {usualRig().log(t)}, "none": nil} {
		res := Fit(logs, k)
		if res.LostMotion.Known() || res.LostMotion.From == "" {
			t.Errorf("%s: %+v, want missing with the move to log", name, res.LostMotion)
		}
	}
}
