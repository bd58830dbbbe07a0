package twin

import (
	"fmt"
	"math"
	"math/rand/v2"
)

// segment is a part of a played script: the speed command (rad/s) by time in the
// segment and what is measured, until it is done.
type segment struct {
	name string
	slew float64 // rad/s², largest rate of the command; 0 for none
	run  func(t float64, m measured) (speed float64, done bool)
}

// script plays segments one after the other.
type script struct {
	segments []segment
	at       int
	began    float64
	speed    float64
	last     float64
	log      []Event
}

func (s *script) events() []Event { return s.log }

func (s *script) next(t float64, m measured) (float64, bool) {
	for s.at < len(s.segments) {
		seg := &s.segments[s.at]
		if len(s.log) == s.at {
			s.log = append(s.log, Event{seg.name, t})
			s.began = t
		}
		speed, done := seg.run(t-s.began, m)
		if done {
			s.at++
			continue
		}
		if seg.slew > 0 {
			change := seg.slew * (t - s.last)
			speed = math.Max(s.speed-change, math.Min(s.speed+change, speed))
		}
		s.speed, s.last = speed, t
		return speed, true
	}
	return 0, false
}

// surveyor writes the survey script of a machine.
type surveyor struct {
	m         *Machine
	rng       *rand.Rand
	low, high float64 // m, travel to use
	perTurn   float64 // m/rad, the larger stroke per turn
	ramp      float64 // rad/s², gentle
	segments  []segment
}

// Survey returns the log of the machine's survey: every test move, open loop,
// the speed command played by a technician who watches the rod position.
func Survey(m *Machine) *Log { return survey(m, StepTime) }

func survey(m *Machine, h float64) *Log {
	r := newRecorder(m, 1, false, false)
	w := &surveyor{m: m, rng: rand.New(rand.NewPCG(m.Seed, 77+m.Session<<32)), perTurn: m.Displacement / m.AreaRod(), ramp: m.MaxSpeed / 0.4}
	w.low, w.high = 0.04*m.Stroke, 0.96*m.Stroke
	if c := m.Contact; c != nil {
		if c.Sign > 0 {
			w.high = c.Position - 0.03*m.Stroke
		} else {
			w.low = c.Position + 0.03*m.Stroke
		}
	}
	w.write()
	return r.run("survey.csv", NewSim(m, m.Stroke/2, h), &script{segments: w.segments}, 400)
}

func (w *surveyor) write() {
	mid := (w.low + w.high) / 2
	w.rest(2)
	for i := range 6 {
		w.constant("jog", []float64{0.06, -0.06}[i%2], 0.5)
		w.rest(0.5)
	}
	w.strokes()
	w.ladder()
	w.goTo(mid)
	w.rest(0.5)
	for i := range 20 {
		w.reversal([]float64{0.04, -0.04}[i%2], mid)
	}
	w.rest(0.5)
	w.pulses()
	for _, share := range []float64{0.25, 0.5, 0.75} {
		w.multisine(share)
	}
	if w.m.Contact != nil && !w.m.Sensors.NoPressures {
		w.press()
	}
	w.rest(1)
}

func (w *surveyor) add(name string, slew float64, run func(t float64, m measured) (float64, bool)) {
	w.segments = append(w.segments, segment{name, slew, run})
}

func (w *surveyor) rest(seconds float64) {
	w.add("rest", w.ramp, func(t float64, _ measured) (float64, bool) { return 0, t >= seconds })
}

// constant commands a share of full speed.
func (w *surveyor) constant(name string, share, seconds float64) {
	speed := share * w.m.MaxSpeed
	w.add(name, w.m.MaxSpeed/0.1, func(t float64, _ measured) (float64, bool) { return speed, t >= seconds })
}

// reversal commands one speed for 0.7 s, corrected at its start for slip and for
// the distance from mid (m) so that twenty of them stay there.
func (w *surveyor) reversal(share, mid float64) {
	speed := 0.0
	w.add("reversal", w.m.MaxSpeed/0.1, func(t float64, m measured) (float64, bool) {
		if speed == 0 {
			aside := math.Max(-0.01*w.m.MaxSpeed, math.Min(0.01*w.m.MaxSpeed, 0.4*(mid-m.x)/w.perTurn))
			speed = share*w.m.MaxSpeed + w.m.slip()*(m.p[0]-m.p[1]) + aside
		}
		return speed, t >= 0.7
	})
}

// goTo jogs to x (m) and stops there.
func (w *surveyor) goTo(x float64) {
	fast := 0.5 * w.m.MaxSpeed
	w.add("to place", w.ramp, func(t float64, m measured) (float64, bool) {
		off := x - m.x
		speed := math.Max(-fast, math.Min(fast, 2.5*off/w.perTurn)) + w.m.slip()*(m.p[0]-m.p[1])
		return speed, math.Abs(off) < 0.004*w.m.Stroke || t > 25
	})
}

// travel runs at a share of full speed until x (m) is passed or the time is up.
func (w *surveyor) travel(name string, share, x, longest float64) {
	speed := share * w.m.MaxSpeed
	w.add(name, w.m.MaxSpeed/0.25, func(t float64, m measured) (float64, bool) {
		// Braking takes travel too.
		brake := 0.5 * speed * speed / w.ramp * w.perTurn
		over := (m.x-x)*math.Copysign(1, share) + brake
		return speed, over > 0 || t > longest
	})
}

func (w *surveyor) strokes() {
	full := w.m.MaxSpeed * w.perTurn
	share := math.Max(0.05, math.Min(0.35, (w.high-w.low)/8/full))
	w.goTo(w.low)
	for range 2 {
		w.rest(0.5)
		w.travel("slow stroke out", share, w.high, 60)
		w.rest(0.5)
		w.travel("slow stroke in", -share, w.low, 60)
	}
}

func (w *surveyor) ladder() {
	span := w.high - w.low
	for _, share := range []float64{0.05, 0.1, 0.2, 0.4, 0.7} {
		w.goTo(w.low + 0.15*span)
		w.rest(0.4)
		w.travel(fmt.Sprintf("ladder +%.0f %%", 100*share), share, w.high-0.05*span, 3)
		w.rest(0.5)
		if share > 0.1 {
			w.goTo(w.low + 0.85*span)
			w.rest(0.4)
		}
		w.travel(fmt.Sprintf("ladder -%.0f %%", 100*share), -share, w.low+0.05*span, 3)
		w.rest(0.4)
	}
}

// pulses plays small speed steps on a bias that never lets the motor reverse.
func (w *surveyor) pulses() {
	span := w.high - w.low
	for range 2 {
		for _, sign := range []float64{1, -1} {
			from, to := w.low+0.1*span, w.high-0.1*span
			if sign < 0 {
				from, to = to, from
			}
			w.goTo(from)
			w.rest(0.4)
			w.pulseTrain(sign, to)
			w.rest(0.4)
		}
	}
}

func (w *surveyor) pulseTrain(sign, to float64) {
	bias := math.Max(0.08, math.Min(0.3, 0.8*(w.high-w.low)/5/(w.m.MaxSpeed*w.perTurn)))
	step, until := 0.35*bias, 0.0
	level := -1.0
	w.add("pulses", 0, func(t float64, m measured) (float64, bool) {
		if t >= until {
			level = -level
			until = t + 0.08 + 0.25*w.rng.Float64()
		}
		ramp := math.Min(1, t/0.2)
		return sign * (bias + level*step) * ramp * w.m.MaxSpeed, (m.x-to)*sign > 0 || t > 12
	})
}

// multisinePeriod is the period of the multisine (s); its lines are multiples of its inverse.
const multisinePeriod = 2.0

// lines returns the multisine's speed (rad/s) at time t for a given rms (rad/s).
func (w *surveyor) lines(rms float64) func(t float64) float64 {
	highest := math.Min(70, 0.4/w.m.LogPeriod)
	var harmonics []int
	for k := 1.0; k/multisinePeriod < highest; k = math.Max(k+1, k*1.12) {
		harmonics = append(harmonics, int(k))
	}
	phase := make([]float64, len(harmonics))
	for i := range phase {
		phase[i] = 2 * math.Pi * w.rng.Float64()
	}
	amplitude := rms * math.Sqrt(2/float64(len(harmonics)))
	return func(t float64) float64 {
		sum := 0.0
		for i, k := range harmonics {
			sum += amplitude * math.Sin(2*math.Pi*float64(k)*t/multisinePeriod+phase[i])
		}
		return sum
	}
}

// multisine plays about a place with a slow correction where one chamber always
// carries, and on a slow ramp out and back where the chamber would change.
func (w *surveyor) multisine(share float64) {
	m := w.m
	signal := w.lines(0.045 * m.MaxSpeed)
	place := w.low + share*(w.high-w.low)
	ramp := 0.0
	if math.Abs(m.AxialLoad()) < 2.5*m.Static {
		ramp = math.Min(0.05*m.MaxSpeed, 0.2*(w.high-w.low)/10/w.perTurn)
		signal = w.lines(0.7 * ramp)
	}
	w.goTo(place - ramp*w.perTurn*5)
	w.rest(0.3)
	w.add(fmt.Sprintf("multisine at %.0f %%", 100*share), 0, func(t float64, got measured) (float64, bool) {
		bias := 0.3*(place-got.x)/w.perTurn + m.slip()*(got.p[0]-got.p[1])
		if ramp > 0 {
			bias = math.Copysign(ramp, 10-t)
		}
		return bias + signal(t), t >= 20
	})
	w.rest(0.4)
}

// press touches the work piece slowly, holds three forces and eases off.
func (w *surveyor) press() {
	m := w.m
	c := m.Contact
	// Forces, speeds and pressures here count positive the way the rod presses.
	force := func(got measured) float64 { return c.Sign * (got.p[0]*m.AreaCap() - got.p[1]*m.AreaRod()) }
	across := func(got measured) float64 { return c.Sign * (got.p[0] - got.p[1]) }
	start := -c.Sign*m.AxialLoad() + 1.2*m.Static
	top := 0.8 * m.ForceLimit()
	level := func(share float64) float64 { return start + share*(top-start) }
	slow := 0.03 * m.MaxSpeed
	w.goTo(c.Position - c.Sign*0.015*m.Stroke)
	w.rest(0.3)
	w.add("slow press", w.ramp, func(t float64, got measured) (float64, bool) {
		return c.Sign * slow, force(got) > level(0.3) || t > 20
	})
	// Where pressing moves the force by k per turn, this corrects at 2 1/s.
	gain := 2 / m.pressingStiffness(80e5)
	hold := func(target float64, t, seconds float64, got measured) (float64, bool) {
		e := math.Max(-slow, math.Min(slow, gain*(target-force(got))))
		return e + m.slip()*across(got), t >= seconds
	}
	for i, share := range []float64{0.35, 0.65, 1, 0.5} {
		w.add(fmt.Sprintf("plateau %d", i+1), w.ramp, func(t float64, got measured) (float64, bool) {
			n, done := hold(level(share), t, 3, got)
			return c.Sign * n, done
		})
	}
	signal := w.lines(0.25 * slow)
	w.add("multisine pressing", 0, func(t float64, got measured) (float64, bool) {
		e, done := hold(level(0.5), t, 12, got)
		return c.Sign*(0.3*e+0.7*m.slip()*across(got)) + signal(t), done
	})
	w.add("release", w.ramp, func(t float64, got measured) (float64, bool) {
		return -2 * c.Sign * slow, c.Sign*(got.x-c.Position) < -0.03*m.Stroke || t > 20
	})
}
