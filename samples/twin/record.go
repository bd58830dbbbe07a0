package twin

import (
	"math"
	"math/rand/v2"
)

// player decides the speed command (rad/s) at a controller tick from what the
// controller measures. It returns false when its part is over.
type player interface {
	next(t float64, m measured) (speed float64, more bool)
	events() []Event
}

// measured is what the controller sees at a tick: SI, with noise and steps.
type measured struct {
	x        float64
	p        [2]float64
	delayed  float64 // x as the outer loop gets it
	delayedP [2]float64
	cell     float64 // N, by the load cell, positive when the rod pushes outward
}

// recorder samples a simulation into a log.
type recorder struct {
	m       *Machine
	rng     *rand.Rand
	noise   [256]float64 // position noise of the last ticks, shared with the outer loop
	tick    int
	columns []Column
	watch   func(s *Sim) // told after every step; nil for none
}

// jitterEvery is how rarely a controller's tick comes early or late.
const jitterEvery = 10

const (
	toRPM  = 60 / (2 * math.Pi)
	toTurn = 1 / (2 * math.Pi)
)

func newRecorder(m *Machine, seed uint64, positions, forces bool) *recorder {
	r := &recorder{m: m, rng: rand.New(rand.NewPCG(m.Seed, seed+m.Session<<32))}
	r.columns = []Column{
		{Channel: "time", Unit: "s", Factor: 1, Decimals: 4},
		{Channel: "speed_command", Unit: "rpm", Factor: toRPM, Decimals: 2},
		{Channel: "motor_position", Unit: "rev", Factor: toTurn, Decimals: 5},
		{Channel: "rod_position", Unit: "mm", Factor: 1e3, Decimals: 4},
	}
	if !m.Sensors.NoPressures {
		r.columns = append(r.columns,
			Column{Channel: "cap_pressure", Unit: "bar", Factor: 1e-5, Decimals: 2},
			Column{Channel: "rod_pressure", Unit: "bar", Factor: 1e-5, Decimals: 2})
	}
	if m.Sensors.LoadCell {
		r.columns = append(r.columns, Column{Channel: "force", Unit: "kN", Factor: 1e-3, Decimals: 4})
	}
	r.columns = append(r.columns, Column{Channel: "motor_current", Unit: "A", Factor: 1, Decimals: 2})
	if m.Warmth != (Warmth{}) {
		r.columns = append(r.columns, Column{Channel: "oil_temperature", Unit: "K", Factor: 1, Decimals: 2})
	}
	if positions {
		r.columns = append(r.columns, Column{Channel: "position_command", Unit: "mm", Factor: 1e3, Decimals: 4})
	}
	if forces {
		r.columns = append(r.columns, Column{Channel: "force_command", Unit: "kN", Factor: 1e-3, Decimals: 3})
	}
	return r
}

func quantise(v, step float64) float64 {
	if step <= 0 {
		return v
	}
	return math.Round(v/step) * step
}

// bow returns the transducer's departure from the true position x (m).
func (r *recorder) bow(x float64) float64 {
	u := x / r.m.Stroke
	return r.m.Sensors.PositionBow * (math.Sin(2.3*math.Pi*u+float64(r.m.Seed%7)) + 0.4*math.Sin(7.1*math.Pi*u+1))
}

// measure returns what the sensors give now.
func (r *recorder) measure(s *Sim) measured {
	sn := &r.m.Sensors
	r.noise[r.tick&255] = sn.PositionNoise * r.rng.NormFloat64()
	read := func(delay, noise float64) float64 {
		x := s.back(&s.historyX, delay)
		return quantise(x+r.bow(x)+s.misread+noise, sn.PositionStep)
	}
	var out measured
	out.x = read(sn.PositionDelay, r.noise[r.tick&255])
	late := int(math.Round(r.m.OuterDelay / r.base()))
	out.delayed = read(sn.PositionDelay+r.m.OuterDelay, r.noise[(r.tick-late)&255])
	for i := range out.p {
		noise := sn.PressureNoise * r.rng.NormFloat64()
		out.p[i] = quantise(s.sensedP[i]+sn.PressureOffset[i]+noise, sn.PressureStep)
		late := s.back(&s.historyP[i], r.m.OuterDelay)
		out.delayedP[i] = quantise(late+sn.PressureOffset[i]+noise, sn.PressureStep)
	}
	if c := r.m.Contact; c != nil {
		out.cell = s.contact * c.Sign
	}
	r.tick++
	return out
}

// base returns the period (s) at which sensors are read.
func (r *recorder) base() float64 { return math.Min(r.m.LogPeriod, r.m.ControlPeriod) }

// run plays p on the machine, starting at rest at x (m), and returns the log.
func (r *recorder) run(name string, s *Sim, p player, longest float64) *Log {
	m := r.m
	log := &Log{Name: name, Period: m.LogPeriod}
	perBase := int(math.Round(r.base() / s.h))
	perControl := int(math.Round(m.ControlPeriod / r.base()))
	perLog := int(math.Round(m.LogPeriod / r.base()))
	counts := m.Sensors.CountsPerRev / (2 * math.Pi)
	var command float64
	jitter := 0
	for tick := 0; ; tick++ {
		now := float64(tick) * r.base() // the controller knows nothing of the jitter
		got := r.measure(s)
		if tick%perControl == 0 {
			next, more := p.next(now, got)
			if !more || now > longest {
				break
			}
			command = next
			s.Command(command)
		}
		if tick%perLog == 0 {
			current := s.drive.torque/m.TorqueConstant + m.Sensors.CurrentNoise*r.rng.NormFloat64()
			r.write(float64(tick)*r.base(), command, math.Floor(s.drive.theta*counts)/counts, got, current, p)
		}
		log.PeakForce = math.Max(log.PeakForce, s.contact)
		steps := perBase - jitter
		if j := m.Sensors.JitterSteps; j > 0 {
			jitter = 0
			if r.rng.IntN(jitterEvery) == 0 {
				jitter = r.rng.IntN(2*j+1) - j
			}
			steps += jitter
		}
		for range steps {
			s.Step()
			if r.watch != nil {
				r.watch(s)
			}
		}
	}
	log.Columns, log.Events = r.columns, p.events()
	return log
}

// write adds a row to the log.
func (r *recorder) write(t, command, theta float64, got measured, current float64, p player) {
	for i := range r.columns {
		c := &r.columns[i]
		v := 0.0
		switch c.Channel {
		case "time":
			v = t
		case "speed_command":
			v = command
		case "oil_temperature":
			v = quantise(r.m.Warmth.at(t), 0.1)
		case "motor_position":
			v = theta
		case "rod_position":
			v = got.x
		case "force":
			v = got.cell
		case "cap_pressure":
			v = got.p[0]
		case "rod_pressure":
			v = got.p[1]
		case "motor_current":
			v = current
		case "position_command":
			v = p.(*loopPlayer).reference.Position * 1e-3
		case "force_command":
			v = p.(*loopPlayer).reference.Force * 1e3
		}
		c.SI = append(c.SI, v)
	}
}
