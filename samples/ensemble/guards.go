package main

import (
	"math"
	"math/rand/v2"

	"eha/strokewise/ident/plant"
	"eha/strokewise/samples/twin"
	"eha/strokewise/tuning"
)

// guardVerdict is how the proposed guards do: quiet in normal running, each fault
// caught. Each machine counts once per guard and fault.
type guardVerdict struct {
	mismatch, plain, following, pressure, force, torque, soft count // no false alarm
	slipped, drifted, jammed                                  count // caught
}

func (v *guardVerdict) counts() []namedCount {
	return []namedCount{
		{"no false alarm: encoder against transducer", &v.mismatch},
		{"no false alarm: the same with slip left in", &v.plain},
		{"no false alarm: following error", &v.following},
		{"no false alarm: pressure", &v.pressure},
		{"no false alarm: force", &v.force},
		{"no false alarm: torque", &v.torque},
		{"no false alarm: soft limits", &v.soft},
		{"encoder that misses turns caught within 1 s", &v.slipped},
		{"transducer that drifts caught within 1 s", &v.drifted},
		{"jam caught within 2 s of movement asked for", &v.jammed},
	}
}

// overLeast is how far planted faults stand above the least that the guard says it sees.
const overLeast = 1.5

// alarms says which guards tripped in a run, and when each first did (s); +Inf for never.
type alarms struct{ mismatch, plain, following, pressure, force, torque, soft float64 }

// any returns when the first alarm came.
func (a alarms) any() float64 {
	return min(a.mismatch, a.plain, a.following, a.pressure, a.force, a.torque, a.soft)
}

// Normal running: minutes of smooth moves at all speeds and lengths over the mass range.
const (
	runningTime = 90.0 // s at each mass
	faultAt     = 6.0  // s
	torqueTime  = 0.1  // s, for which the torque may be above its limit
)

// judge runs the guards through normal running and through planted faults.
func (v *guardVerdict) judge(m *twin.Machine, p *plant.Plant, t *tuning.Proposal, settings twin.Loops) {
	quiet := alarms{math.Inf(1), math.Inf(1), math.Inf(1), math.Inf(1), math.Inf(1), math.Inf(1), math.Inf(1)}
	for i, factor := range massFactors {
		loaded := m.WithMass(factor)
		course := running(m, t, uint64(i), runningTime)
		a := watchGuards(twin.Follow(loaded, settings, course, twin.Fault{}), course, p, t)
		quiet.mismatch, quiet.plain, quiet.following = min(quiet.mismatch, a.mismatch), min(quiet.plain, a.plain), min(quiet.following, a.following)
		quiet.pressure, quiet.force = min(quiet.pressure, a.pressure), min(quiet.force, a.force)
		quiet.torque, quiet.soft = min(quiet.torque, a.torque), min(quiet.soft, a.soft)
	}
	for _, c := range []struct {
		count *count
		at    float64
	}{{&v.mismatch, quiet.mismatch}, {&v.plain, quiet.plain}, {&v.following, quiet.following}, {&v.pressure, quiet.pressure},
		{&v.force, quiet.force}, {&v.torque, quiet.torque}, {&v.soft, quiet.soft}} {
		c.count.add(math.IsInf(c.at, 1))
	}
	course := running(m, t, 9, faultAt+4)
	fail := func(f twin.Fault) float64 {
		f.At = faultAt
		return watchGuards(twin.Follow(m, settings, course, f), course, p, t).any() - faultAt
	}
	least := t.Guards.Mismatch * 1e3 // mm, over the guard's time
	if !p.PressuresSeen {
		least = t.Guards.PlainMismatch * 1e3
	}
	v.slipped.add(fail(twin.Fault{EncoderTurns: overLeast * least * max(settings.Position.TurnsExtend, settings.Position.TurnsRetract)}) < 1)
	v.drifted.add(fail(twin.Fault{Drift: overLeast * least / t.Guards.MismatchTime}) < 1)
	v.jammed.add(fail(twin.Fault{Jam: true}) < 2)
}

// running returns smooth moves between random places at random speeds, up to the
// highest that the guards hold for, a little gentler than those that they were made from.
func running(m *twin.Machine, t *tuning.Proposal, seed uint64, seconds float64) twin.Course {
	rng := rand.New(rand.NewPCG(m.Seed, seed))
	g, set := t.Guards, t.Loops.Position
	low, high := g.SoftLow*1e3+2, g.SoftHigh*1e3-2
	top := g.FollowingError[len(g.FollowingError)-1].X * 1e3
	kp := min(set.Kp.Extend, set.Kp.Retract)
	at := low + (high-low)*rng.Float64()
	var c twin.Course
	hold := func(x, s float64) {
		for range int(s / m.ControlPeriod) {
			c.Position, c.Rate = append(c.Position, x), append(c.Rate, 0)
		}
	}
	hold(at, 1)
	for float64(len(c.Position))*m.ControlPeriod < seconds {
		to := low + (high-low)*rng.Float64()
		travel := to - at
		speed := min(top*(0.1+0.9*rng.Float64()), 0.25*kp*math.Abs(travel))
		long := 1.875 * math.Abs(travel) / speed
		n := int(long / m.ControlPeriod)
		for i := range n {
			s := float64(i) / float64(n)
			share, rate := s*s*s*(10+s*(-15+6*s)), 30*s*s*(1-s)*(1-s)
			c.Position, c.Rate = append(c.Position, at+travel*share), append(c.Rate, travel*rate/long)
		}
		at = to
		hold(at, 0.2+rng.Float64())
	}
	return c
}

// watchGuards lets the guards watch a run as a controller would, from its first second on.
func watchGuards(run twin.Followed, c twin.Course, p *plant.Plant, t *tuning.Proposal) alarms {
	never := math.Inf(1)
	a := alarms{never, never, never, never, never, never, never}
	g, set := t.Guards, settingsOf(t.Loops).Position
	slip := 0.0 // rev/s per bar
	if e := p.Est(plant.Slip); e.Known() {
		slip = e.Value / (2 * math.Pi) * 1e5
	}
	window := int(math.Round(g.MismatchTime / run.Period))
	travel, plain := make([]float64, len(run.Read)), make([]float64, len(run.Read))
	trip := func(at *float64, i int, over bool) {
		if over && i > window && float64(i)*run.Period > 1 {
			*at = min(*at, float64(i)*run.Period)
		}
	}
	over := 0.0 // s, that the torque has been above its limit
	for i := 1; i < len(run.Read); i++ {
		turned := run.Turns[i] - run.Turns[i-1]
		lost := 0.0
		if p.PressuresSeen {
			lost = slip * (run.Pressure[0][i] - run.Pressure[1][i]) * run.Period
		}
		perTurn := func(n float64) float64 {
			if n < 0 {
				return 1 / set.TurnsRetract
			}
			return 1 / set.TurnsExtend
		}
		travel[i] = travel[i-1] + (turned-lost)*perTurn(turned-lost)
		plain[i] = plain[i-1] + turned*perTurn(turned)
		trip(&a.following, i, math.Abs(c.Position[i]-run.Read[i]) > 1e3*allowed(g, math.Abs(c.Rate[i])*1e-3))
		trip(&a.soft, i, run.Read[i] < 1e3*g.SoftLow || run.Read[i] > 1e3*g.SoftHigh)
		trip(&a.pressure, i, g.PressureLimit > 0 && max(run.Pressure[0][i], run.Pressure[1][i]) > g.PressureLimit*1e-5)
		trip(&a.force, i, g.ForceLimit > 0 && math.Abs(run.Hydraulic[i]) > g.ForceLimit*1e-3)
		if over += run.Period; !(g.TorqueLimit > 0 && math.Abs(run.Torque[i]) > g.TorqueLimit) {
			over = 0
		}
		trip(&a.torque, i, over > torqueTime)
		if i < window {
			continue
		}
		moved := run.Read[i] - run.Read[i-window]
		trip(&a.mismatch, i, p.PressuresSeen && math.Abs(moved-travel[i]+travel[i-window]) > 1e3*g.Mismatch)
		trip(&a.plain, i, math.Abs(moved-plain[i]+plain[i-window]) > 1e3*g.PlainMismatch)
	}
	return a
}

// allowed returns the following error (m) that the guard lets pass at a speed (m/s).
func allowed(g tuning.Guards, speed float64) float64 {
	points := g.FollowingError
	for i := 1; i < len(points); i++ {
		if a, b := points[i-1], points[i]; speed <= b.X {
			return a.Y + (b.Y-a.Y)*(speed-a.X)/(b.X-a.X)
		}
	}
	return points[len(points)-1].Y
}
