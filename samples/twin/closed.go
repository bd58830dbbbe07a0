package twin

import "math"

// loopPlayer closes the loops: it asks for a reference by time and runs the law.
type loopPlayer struct {
	m         *Machine
	law       *Controller
	plan      func(t float64) (r Reference, done bool)
	reference Reference
	byForce   bool
	switches  int
	jump      float64 // rev/s, largest change of command at a switch of the loop in charge
	last      float64
	log       []Event
}

func newLoopPlayer(m *Machine, l Loops, plan func(t float64) (Reference, bool)) *loopPlayer {
	return &loopPlayer{m: m, law: NewController(l, m.AreaCap(), m.AreaRod()), plan: plan, log: []Event{{"closed loop", 0}}}
}

func (p *loopPlayer) events() []Event { return p.log }

func (p *loopPlayer) next(t float64, got measured) (float64, bool) {
	r, done := p.plan(t)
	if done {
		return 0, false
	}
	p.reference = r
	n, byForce := p.law.Next(r, got.delayed*1e3, got.delayedP[0]*1e-5, got.delayedP[1]*1e-5)
	if byForce != p.byForce && t > 0 {
		p.switches++
		p.jump = math.Max(p.jump, math.Abs(n-p.last))
	}
	p.byForce, p.last = byForce, n
	return n * 2 * math.Pi, true
}

// StepSize returns the standard step (mm): 10 mm, or 3 % of the stroke if that is less.
func (m *Machine) StepSize() float64 { return math.Min(10, 0.03*m.Stroke*1e3) }

// smooth returns the share of a jerk-limited move done at share s of its time,
// and the rate of that share.
func smooth(s float64) (share, rate float64) {
	if s <= 0 {
		return 0, 0
	}
	if s >= 1 {
		return 1, 0
	}
	return s * s * s * (10 + s*(-15+6*s)), 30 * s * s * (1 - s) * (1 - s)
}

// AsFound returns a closed-loop log under the loops: steps up and down about
// mid-stroke, then smooth moves both ways.
func AsFound(m *Machine, l Loops) *Log { return asFound(m, l, StepTime) }

func asFound(m *Machine, l Loops, h float64) *Log {
	mid, span := m.Stroke/2*1e3, 0.3*m.Stroke*1e3
	if c := m.Contact; c != nil {
		clear := 0.05 * m.Stroke // the end of the stroke that has no work piece
		if c.Sign < 0 {
			clear = m.Stroke - clear
		}
		mid = (clear + 0.5*(c.Position-clear)) * 1e3
		span = math.Min(span, math.Abs(c.Position*1e3-mid)*0.75)
	}
	step := m.StepSize()
	full := m.MaxSpeed * m.Displacement / m.AreaCap() * 1e3
	span = math.Min(span, 4*0.5*full/(1.875*2))
	moveTime := math.Max(1, 1.875*2*span/(0.5*full))
	first := moveTime / 2
	plan := func(t float64) (Reference, bool) {
		switch {
		case t < 1:
			return Reference{Position: mid}, false
		case t < 15:
			up := int((t-1)/1.0)%2 == 0
			size := step
			if t > 9 {
				size = 2 * step
			}
			if !up {
				size = 0
			}
			return Reference{Position: mid + size}, false
		case t < 15.5+first:
			share, rate := smooth((t - 15) / first)
			return Reference{Position: mid - span*share, Rate: -span * rate / first}, false
		}
		cycle := moveTime + 0.7
		k := int((t - 15.5 - first) / cycle)
		if k >= 4 {
			return Reference{}, true
		}
		share, rate := smooth((t - 15.5 - first - float64(k)*cycle) / moveTime)
		sign := 1 - 2*float64(k%2)
		return Reference{Position: mid + sign*span*(2*share-1), Rate: sign * span * 2 * rate / moveTime}, false
	}
	r := newRecorder(m, 2, true, false)
	log := r.run("asfound.csv", NewSim(m, mid*1e-3, h), newLoopPlayer(m, l, plan), 120)
	log.Loops = &l
	log.played = []Part{{"position_steps", 1, 14.5, 14}, {"usual_run", 15, float64(log.Rows()) * log.Period, 5}}
	return log
}

// pressPlan approaches the contact, presses at 30 and 50 % of the limit in turn, and backs off.
func pressPlan(m *Machine, f *ForceLoop) func(t float64) (Reference, bool) {
	c := m.Contact
	sign := c.Sign
	far := c.Position*1e3 - sign*math.Min(6, 0.02*m.Stroke*1e3)
	beyond := c.Position*1e3 + sign*f.TravelLimit
	limit := m.ForceLimit() * 1e-3 * sign
	reach := math.Abs(beyond-far) / f.ApproachSpeed
	return func(t float64) (Reference, bool) {
		r := Reference{Position: far, Pressing: true, Force: 0.3 * limit}
		switch {
		case t < 1:
		case t < 1+reach:
			r.Position, r.Rate = far+sign*f.ApproachSpeed*(t-1), sign*f.ApproachSpeed
		case t < 14+reach:
			r.Position = beyond
			if k := t - reach; k > 4 && int((k-4)/2)%2 == 0 && k < 12 {
				r.Force = 0.5 * limit
			}
		case t < 14+2*reach:
			r.Position, r.Rate = beyond-sign*f.ApproachSpeed*(t-14-reach), -sign*f.ApproachSpeed
		default:
			r.Position = far
		}
		return r, t > 15+2*reach
	}
}

// Press returns a closed-loop log of approach, force steps and backing off. It
// needs a contact and both loops; it returns nil without.
func Press(m *Machine, l Loops) *Log {
	if m.Contact == nil || l.Force == nil {
		return nil
	}
	start := (m.Contact.Position*1e3 - m.Contact.Sign*math.Min(6, 0.02*m.Stroke*1e3)) * 1e-3
	r := newRecorder(m, 3, true, true)
	log := r.run("press.csv", NewSim(m, start, StepTime), newLoopPlayer(m, l, pressPlan(m, l.Force)), 120)
	log.Loops = &l
	return log
}
