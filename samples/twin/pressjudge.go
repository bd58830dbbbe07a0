package twin

import "math"

// hydraulicForce returns the force from the sensed pressures (kN) as the loop
// gets it, sensor offsets included, noise left out.
func hydraulicForce(s *Sim) float64 {
	o := s.m.Sensors.PressureOffset
	return ((s.sensedP[0]+o[0])*s.areaCap - (s.sensedP[1]+o[1])*s.areaRod) * 1e-3
}

// pressing is a run under both loops: where it starts (m), what is asked for, and
// what becomes of the work piece by time: gone, or further along by some way (m).
type pressing struct {
	start float64
	until float64 // s
	plan  func(t float64) Reference
	piece func(t float64) (gone bool, shift float64) // nil where it stays
}

func (p pressing) run(m *Machine, l Loops) (all []sample, player *loopPlayer) {
	s := NewSim(m, p.start, StepTime)
	player = newLoopPlayer(m, l, func(t float64) (Reference, bool) { return p.plan(t), false })
	all = watch(s, player, p.until, func(s *Sim) float64 {
		if p.piece != nil {
			s.contactGone, s.contactShift = p.piece(s.Time())
		}
		return hydraulicForce(s)
	})
	return all, player
}

// beyond is where the position reference stands (mm) while pressing.
func beyond(m *Machine, l Loops) float64 {
	c := m.Contact
	return c.Position*1e3 + c.Sign*math.Max(l.Force.TravelLimit, 1)
}

// away is how far (m) before the work piece an approach at the speed (mm/s) begins.
func away(speed float64) float64 { return math.Max(2e-3, 0.2e-3*speed) }

// onContact presses from the work piece on with the force (kN) by time.
func onContact(m *Machine, l Loops, until float64, force func(t float64) float64) pressing {
	c := m.Contact
	at := beyond(m, l)
	return pressing{start: c.Position - c.Sign*2e-4, until: until, plan: func(t float64) Reference {
		return Reference{Position: at, Pressing: true, Force: force(t)}
	}}
}

// share is that share of the force limit (kN), with its sign.
func share(m *Machine, s float64) float64 { return s * m.ForceLimit() * 1e-3 * m.Contact.Sign }

// ForceSteps returns the figures of a force step, from one force (kN, with its sign) to
// a larger one and back, each after 4 s of pressing.
func ForceSteps(m *Machine, l Loops, low, high float64) (up, down Figures) {
	all, _ := onContact(m, l, 12, func(t float64) float64 {
		if t >= 4 && t < 8 {
			return high
		}
		return low
	}).run(m, l)
	n := 0
	for n < len(all) && all[n].t < 8 {
		n++
	}
	up, down = figures(all[:n], 4, low, high), figures(all[n-1:], 8, high, low)
	up.Sticks, down.Sticks = sticks(all[:n], 4), sticks(all[n-1:], 8)
	return up, down
}

// sticks returns how long (s) after time at (s) the rod has gone a tenth of its way to the end.
func sticks(all []sample, at float64) float64 {
	for len(all) > 1 && all[1].t <= at {
		all = all[1:]
	}
	way := all[len(all)-1].x - all[0].x
	for _, s := range all {
		if (s.x-all[0].x)/way >= 0.1 {
			return s.t - at
		}
	}
	return 0
}

// PressFigures are what a run on the work piece shows.
type PressFigures struct {
	PeakForce    float64 // kN, from pressures
	PeakWork     float64 // kN on the work piece
	Pushes       float64 // kN of it that a load adds that pushes the same way
	FinalError   float64 // kN
	Switches     int     // of the loop in charge
	HeldSwitches int     // of them in the last second
	Bounces      int     // how often the rod leaves the work piece after touching it
	Jump         float64 // rpm, largest change of command at a switch
	RodSpeed     float64 // mm/s, largest after contact is lost, mean over whole periods of its mode
	Travel       float64 // mm, after contact is lost
	Rests        float64 // mm, where the rod is at the end, beyond the usual place of the work piece
}

// Peak is the largest force (kN) on the piston, or on the work piece less what a load
// adds there that pushes the same way.
func (f PressFigures) Peak() float64 { return math.Max(f.PeakForce, f.PeakWork-f.Pushes) }

// pressFigures reads a run from time from (s) on; target (kN) is the force asked for at its end.
func pressFigures(m *Machine, all []sample, p *loopPlayer, from, target float64) PressFigures {
	out := PressFigures{Jump: p.jump * 60, Pushes: math.Max((m.AxialLoad()+m.LoadSlope*(m.Contact.Position-m.Stroke/2))*m.Contact.Sign*1e-3, 0)}
	end := all[len(all)-1].t
	for i, s := range all {
		if s.t < from {
			continue
		}
		out.PeakForce = math.Max(out.PeakForce, s.value*m.Contact.Sign)
		out.PeakWork = math.Max(out.PeakWork, s.contact)
		if i > 0 && all[i-1].contact > 0 && s.contact == 0 {
			out.Bounces++
		}
		if i > 0 && s.byForce != all[i-1].byForce {
			out.Switches++
			if s.t > end-1 {
				out.HeldSwitches++
			}
		}
	}
	last := all[len(all)-1]
	out.FinalError = math.Abs(last.value - target)
	out.Rests = (last.x - m.Contact.Position*1e3) * m.Contact.Sign
	return out
}

// Approach returns the figures of moving into the contact at the approach speed
// with the position reference running on, and pressing at a share of the force limit.
func Approach(m *Machine, l Loops, part float64) PressFigures {
	c, f := m.Contact, l.Force
	start := c.Position - c.Sign*away(f.ApproachSpeed)
	way := away(f.ApproachSpeed)*1e3 + f.TravelLimit
	force := share(m, part)
	const rest, gather = 1.0, 0.05 // s, of rest, and to come up to speed
	p := pressing{start: start, until: 4 + way/f.ApproachSpeed, plan: func(t float64) Reference {
		r := Reference{Position: start * 1e3, Pressing: true, Force: force}
		k := math.Max(t-rest, 0)
		gone, rate := f.ApproachSpeed*(k-gather/2), f.ApproachSpeed
		if k < gather {
			gone, rate = f.ApproachSpeed*k*k/(2*gather), f.ApproachSpeed*k/gather
		}
		if gone >= way {
			gone, rate = way, 0
		}
		r.Position, r.Rate = r.Position+c.Sign*gone, c.Sign*rate
		return r
	}}
	all, player := p.run(m, l)
	return pressFigures(m, all, player, 1, force)
}

// RunsOn returns the figures where the position reference stands far beyond the
// contact at once and the force reference is at a share of the force limit: the
// loops alone have to stop the rod.
func RunsOn(m *Machine, l Loops, part float64) PressFigures {
	c := m.Contact
	start := math.Max(0, math.Min(m.Stroke, c.Position-c.Sign*5e-3))
	force := share(m, part)
	p := pressing{start: start, until: 4, plan: func(t float64) Reference {
		r := Reference{Position: start * 1e3, Pressing: true, Force: force}
		if t >= 1 {
			r.Position = (c.Position + c.Sign*0.1*m.Stroke) * 1e3
		}
		return r
	}}
	all, player := p.run(m, l)
	return pressFigures(m, all, player, 1, force)
}

// settleTime returns the time (s) after a loss of contact in which the oil's own
// expansion moves the rod, faster than any loop can act, and over which speed is
// averaged so that the mass ringing on the oil does not count as travel: whole
// periods of it, a tenth of a second at least.
func settleTime(m *Machine) float64 {
	rod := m.Contact.Sign < 0
	pressure := math.Max(math.Abs(m.AxialLoad()), 1.5*m.Coulomb) / m.pressingArea()
	period := 2 * math.Pi * math.Sqrt(m.Mass*m.Compliance(rod, m.Contact.Position, pressure)) / m.pressingArea()
	return period * math.Ceil(0.1/period)
}

// LossOfContact returns how the rod moves when the work piece gives way while it
// is pressed with a share of the force limit.
func LossOfContact(m *Machine, l Loops, part float64) PressFigures {
	const lost = 4.0
	force := share(m, part)
	p := onContact(m, l, 7, func(float64) float64 { return force })
	p.piece = func(t float64) (bool, float64) { return t >= lost, 0 }
	all, player := p.run(m, l)
	out := PressFigures{Switches: player.switches, Jump: player.jump * 60}
	settle := settleTime(m)
	back := int(math.Round(settle / m.ControlPeriod))
	from := 0.0
	for i, s := range all {
		if s.t < lost {
			from = s.x
			continue
		}
		out.Travel = math.Max(out.Travel, (s.x-from)*m.Contact.Sign)
		if s.t > lost+2*settle {
			out.RodSpeed = math.Max(out.RodSpeed, math.Abs(s.x-all[i-back].x)/settle)
		}
	}
	out.Rests = (all[len(all)-1].x - m.Contact.Position*1e3) * m.Contact.Sign
	return out
}

// Regain returns the figures, from the loss on, where the work piece gives way at a
// share of the force limit and another stands gap (mm) behind it: the rod meets it on its way.
func Regain(m *Machine, l Loops, part, gap float64) PressFigures {
	const lost = 4.0
	force := share(m, part)
	p := onContact(m, l, 8, func(float64) float64 { return force })
	p.piece = func(t float64) (bool, float64) {
		if t < lost {
			return false, 0
		}
		return false, gap * 1e-3
	}
	all, player := p.run(m, l)
	return pressFigures(m, all, player, lost+0.01, force)
}

// RampFigures are what a force ramp and the release after it show.
type RampFigures struct {
	PressFigures
	Lag      float64 // kN, largest distance of force and reference while the ramp lasts
	Released bool    // the rod left the work piece and stands where the position reference does
}

// Ramp ramps the force from one share of the limit to another in 2 s, holds it for 1 s, ramps
// back and lets go by the position reference.
func Ramp(m *Machine, l Loops, lower, higher float64) RampFigures {
	const press, ramp, hold = 4.0, 2.0, 1.0
	low, high := share(m, lower), share(m, higher)
	c := m.Contact
	ends := press + 2*ramp + hold + 1
	far := (c.Position - c.Sign*away(l.Force.ApproachSpeed)) * 1e3
	way := math.Abs(beyond(m, l) - far)
	p := onContact(m, l, ends+way/l.Force.ApproachSpeed+2, nil)
	at := beyond(m, l)
	p.plan = func(t float64) Reference {
		k := t - press
		part := math.Max(0, math.Min(1, k/ramp)) - math.Max(0, math.Min(1, (k-ramp-hold)/ramp))
		r := Reference{Position: at, Pressing: true, Force: low + (high-low)*part}
		if gone := l.Force.ApproachSpeed * (t - ends); gone >= way {
			r.Position = far
		} else if gone > 0 {
			r.Position, r.Rate = at-c.Sign*gone, -c.Sign*l.Force.ApproachSpeed
		}
		return r
	}
	all, player := p.run(m, l)
	out := RampFigures{PressFigures: pressFigures(m, all, player, press, 0)}
	out.Bounces = 0 // it lets go on purpose
	for _, s := range all {
		if s.t > press && s.t < ends-1 {
			out.Lag = math.Max(out.Lag, math.Abs(s.value-p.plan(s.t).Force))
		}
	}
	last := all[len(all)-1]
	out.Released = last.contact == 0 && math.Abs(last.x-far) < 0.5
	return out
}

// WithContact returns the machine with the stiffness of its work piece scaled by factor.
func (m *Machine) WithContact(factor float64) *Machine {
	p, c := *m, *m.Contact
	c.Stiffness *= factor
	c.Damping *= math.Sqrt(factor)
	p.Contact = &c
	return &p
}
