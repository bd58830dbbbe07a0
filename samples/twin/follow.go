package twin

import "math"

// Course is what a closed loop is asked to follow, one sample per controller
// period, with a load that comes on top of the machine's own.
type Course struct {
	Position, Rate []float64 // mm and mm/s
	Load           []float64 // kN, positive pushing the rod out; nil for none
}

// Fault is what goes wrong at a time on the way. The zero value is a sound machine.
type Fault struct {
	At           float64 // s
	EncoderTurns float64 // rev that the encoder misses within slipTime
	Drift        float64 // mm/s that the transducer's reading moves away
	Jam          bool    // the rod seizes
}

const (
	slipTime  = 0.1 // s, of a slipping coupling
	jamFactor = 100 // on friction
)

// Followed is how a machine followed a course, one sample per controller period.
type Followed struct {
	Period     float64
	Position   []float64    // mm, as the transducer shows it, without noise and delay
	Read       []float64    // mm, as it is logged
	Turns      []float64    // rev, as the encoder is logged
	Pressure   [2][]float64 // bar, as logged, cap and rod
	Torque     []float64    // N·m, of the motor
	Hydraulic  []float64    // kN, hydraulic force by the logged pressures
	MotorSpeed []float64    // rpm
}

// Follow runs the position loop along the course, clear of any contact, from rest
// at the course's start.
func Follow(m *Machine, l Loops, c Course, f Fault) Followed {
	own := *m
	period := m.ControlPeriod
	index := func(t float64) int { return min(int(math.Round(t/period)), len(c.Position)-1) }
	plan := func(t float64) (Reference, bool) {
		i := index(t)
		return Reference{Position: c.Position[i], Rate: c.Rate[i]}, false
	}
	s := NewSim(&own, c.Position[0]*1e-3, StepTime)
	s.contactGone = true
	out := Followed{Period: period}
	counts := m.Sensors.CountsPerRev
	bow := newRecorder(m, 9, false, false)
	play(s, newLoopPlayer(&own, l, plan), float64(len(c.Position)-1)*period, func(s *Sim, got measured) {
		i := index(s.Time())
		if c.Load != nil {
			s.kickForce = c.Load[i] * 1e3
		}
		lost := s.fail(f)
		out.Position = append(out.Position, 1e3*(s.sensedX+bow.bow(s.sensedX)))
		out.Read = append(out.Read, 1e3*got.x)
		out.Turns = append(out.Turns, math.Floor((s.drive.theta*toTurn-lost)*counts)/counts)
		for k := range out.Pressure {
			out.Pressure[k] = append(out.Pressure[k], 1e-5*got.p[k])
		}
		out.Torque = append(out.Torque, s.drive.torque)
		out.Hydraulic = append(out.Hydraulic, 1e-3*(got.p[0]*s.areaCap-got.p[1]*s.areaRod))
		out.MotorSpeed = append(out.MotorSpeed, s.drive.omega*toRPM)
	})
	return out
}

// fail lets the fault act and returns the turns (rev) that the encoder has missed so far.
func (s *Sim) fail(f Fault) (lost float64) {
	since := s.Time() - f.At
	if since < 0 {
		return 0
	}
	s.misread = f.Drift * since * 1e-3
	if f.Jam && !s.jammed {
		s.jammed = true
		s.m.Coulomb, s.m.Static = jamFactor*s.m.Coulomb, jamFactor*s.m.Static
		s.bristleK *= jamFactor
		s.bristleD = 0.4 * math.Sqrt(s.bristleK*s.m.Mass)
	}
	return f.EncoderTurns * math.Min(since/slipTime, 1)
}
