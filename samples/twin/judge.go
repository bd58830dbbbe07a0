package twin

import "math"

// play runs the loops on the machine and hands every controller period to see.
func play(s *Sim, p *loopPlayer, seconds float64, see func(s *Sim, got measured)) {
	m := s.m
	r := newRecorder(m, 9, true, true)
	perBase := int(math.Round(r.base() / s.h))
	perControl := int(math.Round(m.ControlPeriod / r.base()))
	for tick := 0; s.Time() < seconds; tick++ {
		got := r.measure(s)
		if tick%perControl == 0 {
			speed, more := p.next(s.Time(), got)
			if !more {
				return
			}
			s.Command(speed)
			see(s, got)
		}
		for range perBase {
			s.Step()
		}
	}
}

// watch returns a run's samples with value taken from each controller period.
func watch(s *Sim, p *loopPlayer, seconds float64, value func(s *Sim) float64) []sample {
	var all []sample
	play(s, p, seconds, func(s *Sim, _ measured) {
		all = append(all, sample{t: s.Time(), value: value(s), rpm: s.drive.omega * toRPM,
			pressure: math.Max(s.p[0], s.p[1]) * 1e-5, contact: s.contact * 1e-3, rodSpeed: s.v * 1e3})
	})
	return all
}

// StandardStep returns the figures of the standard position step in the direction
// of sign: it ends at mid-stroke when extending and begins there when
// retracting, after 1 s at rest at its start.
func StandardStep(m *Machine, l Loops, sign float64) Figures {
	step := m.StepSize()
	mid := m.Stroke / 2 * 1e3
	from, to := mid-step, mid
	if sign < 0 {
		from, to = mid, mid-step
	}
	const rest, after = 1.0, 4.0
	plan := func(t float64) (Reference, bool) {
		if t < rest {
			return Reference{Position: from}, false
		}
		return Reference{Position: to}, false
	}
	s := NewSim(m, from*1e-3, StepTime)
	s.contactGone = true
	bow := newRecorder(m, 9, false, false)
	all := watch(s, newLoopPlayer(m, l, plan), rest+after, func(s *Sim) float64 { return 1e3 * (s.sensedX + bow.bow(s.sensedX)) })
	return figures(all, rest, from, to)
}

// hydraulicForce returns the force from the sensed pressures (kN) as the loop
// gets it, sensor offsets included, noise left out.
func hydraulicForce(s *Sim) float64 {
	o := s.m.Sensors.PressureOffset
	return ((s.sensedP[0]+o[0])*s.areaCap - (s.sensedP[1]+o[1])*s.areaRod) * 1e-3
}

// pressing starts a run on the contact with the force reference plan, the
// position reference beyond it.
func pressing(m *Machine, l Loops, force func(t float64) float64) (*Sim, *loopPlayer) {
	c := m.Contact
	s := NewSim(m, c.Position-c.Sign*2e-4, StepTime)
	beyond := c.Position*1e3 + c.Sign*math.Max(l.Force.TravelLimit, 1)
	plan := func(t float64) (Reference, bool) {
		return Reference{Position: beyond, Pressing: true, Force: force(t)}, false
	}
	return s, newLoopPlayer(m, l, plan)
}

// ForceSteps returns the figures of the standard force step, from 30 to 50 % of
// the force limit and back, each after 4 s of pressing.
func ForceSteps(m *Machine, l Loops) (up, down Figures) {
	low, high := 0.3*m.ForceLimit()*1e-3*m.Contact.Sign, 0.5*m.ForceLimit()*1e-3*m.Contact.Sign
	s, p := pressing(m, l, func(t float64) float64 {
		if t >= 4 && t < 8 {
			return high
		}
		return low
	})
	all := watch(s, p, 12, hydraulicForce)
	n := 0
	for n < len(all) && all[n].t < 8 {
		n++
	}
	return figures(all[:n], 4, low, high), figures(all[n-1:], 8, high, low)
}

// PressFigures are what an approach and a loss of contact show.
type PressFigures struct {
	PeakForce  float64 // kN, from pressures
	PeakWork   float64 // kN on the work piece
	FinalError float64 // kN
	Switches   int     // of the loop in charge
	Jump       float64 // rpm, largest change of command at a switch
	RodSpeed   float64 // mm/s, largest after contact is lost, mean over settleTime
	Travel     float64 // mm, after contact is lost
}

// Approach returns the figures of moving into the contact at the approach speed
// with the position reference running on, and pressing at 30 % of the force limit.
func Approach(m *Machine, l Loops) PressFigures {
	p := newLoopPlayer(m, l, pressPlan(m, l.Force))
	away := math.Min(6e-3, 0.02*m.Stroke)
	start := m.Contact.Position - m.Contact.Sign*away
	until := 3.9 + (away*1e3+l.Force.TravelLimit)/l.Force.ApproachSpeed // the plan's steps come later
	all := watch(NewSim(m, start, StepTime), p, until, hydraulicForce)
	out := PressFigures{Switches: p.switches, Jump: p.jump * 60}
	for _, s := range all {
		if s.t > 1 {
			out.PeakForce = math.Max(out.PeakForce, s.value*m.Contact.Sign)
			out.PeakWork = math.Max(out.PeakWork, s.contact)
		}
	}
	out.FinalError = math.Abs(all[len(all)-1].value - 0.3*m.ForceLimit()*1e-3*m.Contact.Sign)
	return out
}

// RunsOn returns the largest force (kN) on piston or work piece when the position
// reference stands far beyond the contact at once and the force reference is at a
// share of the force limit: the loops alone have to stop the rod.
func RunsOn(m *Machine, l Loops, share float64) float64 {
	c := m.Contact
	start := c.Position - c.Sign*math.Min(6e-3, 0.02*m.Stroke)
	beyond := (c.Position + c.Sign*0.1*m.Stroke) * 1e3
	plan := func(t float64) (Reference, bool) {
		r := Reference{Position: start * 1e3, Pressing: true, Force: share * m.ForceLimit() * 1e-3 * c.Sign}
		if t >= 1 {
			r.Position = beyond
		}
		return r, false
	}
	peak := 0.0
	for _, s := range watch(NewSim(m, start, StepTime), newLoopPlayer(m, l, plan), 5, hydraulicForce) {
		peak = math.Max(peak, math.Max(s.value*c.Sign, s.contact))
	}
	return peak
}

// settleTime is the time (s) after a loss of contact in which the oil's own
// expansion moves the rod, faster than any loop can act, and over which speed is
// averaged so that the mass ringing on the oil does not count as travel.
const settleTime = 0.1

// LossOfContact returns how the rod moves when the work piece gives way while it
// is pressed at half the force limit.
func LossOfContact(m *Machine, l Loops) PressFigures {
	force := 0.5 * m.ForceLimit() * 1e-3 * m.Contact.Sign
	s, p := pressing(m, l, func(float64) float64 { return force })
	var out PressFigures
	const lost = 4.0
	from := 0.0
	back := make([]float64, int(math.Round(settleTime/m.ControlPeriod)))
	n := 0
	play(s, p, 7, func(s *Sim, _ measured) {
		t := s.Time()
		if t < lost {
			from = s.x
			return
		}
		s.contactGone = true
		out.Travel = math.Max(out.Travel, (s.x-from)*1e3*m.Contact.Sign)
		if t > lost+2*settleTime {
			out.RodSpeed = math.Max(out.RodSpeed, math.Abs(s.x-back[n%len(back)])*1e3/settleTime)
		}
		back[n%len(back)] = s.x
		n++
	})
	return out
}
