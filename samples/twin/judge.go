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
		all = append(all, sample{t: s.Time(), value: value(s), rpm: s.drive.omega * toRPM, x: s.x * 1e3, byForce: p.byForce,
			pressure: math.Max(s.p[0], s.p[1]) * 1e-5, contact: s.contact * 1e-3})
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
