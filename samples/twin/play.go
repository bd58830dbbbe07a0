package twin

import "math"

// Extremes are what a machine truly went through while a table was played, which
// no channel shows.
type Extremes struct {
	Position [2]float64 // m, lowest and highest
	End      float64    // m, where the rod is at the end
	Pressure float64    // Pa, highest of both chambers
	RodSpeed float64    // m/s, largest
	Speed    float64    // rad/s, largest of the motor
}

// PlaySpeed plays a table of speed commands (rad/s), one per controller period,
// on the machine at rest at x (m) and returns the log and what happened.
func PlaySpeed(m *Machine, x float64, table []float64) (*Log, Extremes) {
	return playWatched(m, x, false, &tablePlayer{table: table, period: m.ControlPeriod})
}

// PlayPosition plays a table of position commands (m), one per controller
// period, under the loops.
func PlayPosition(m *Machine, l Loops, x float64, table []float64) (*Log, Extremes) {
	rows := &tablePlayer{table: table, period: m.ControlPeriod}
	before := table[0]
	p := newLoopPlayer(m, l, func(t float64) (Reference, bool) {
		r, more := rows.next(t, measured{})
		if !more {
			return Reference{}, true
		}
		rate := (r - before) / m.ControlPeriod
		before = r
		return Reference{Position: r * 1e3, Rate: rate * 1e3}, false
	})
	log, seen := playWatched(m, x, true, p)
	log.Loops = &l
	return log, seen
}

// PlayForce plays a table of force commands (N), one per controller period, under
// both loops, after an approach to touch by position. It panics if the machine has
// no contact or no force loop.
func PlayForce(m *Machine, l Loops, table []float64) (*Log, Extremes) {
	c, f := m.Contact, l.Force
	rows := &tablePlayer{table: table, period: m.ControlPeriod}
	way := 0.2 * m.Stroke * 1e3
	touch := 1 + way/f.ApproachSpeed
	p := newLoopPlayer(m, l, func(t float64) (Reference, bool) {
		if t < touch {
			at := f.ApproachSpeed * math.Max(t-1, 0)
			return Reference{Position: c.Position*1e3 - c.Sign*(way-at), Rate: c.Sign * f.ApproachSpeed}, false
		}
		force, more := rows.next(t-touch, measured{})
		return Reference{Position: c.Position*1e3 + c.Sign*f.TravelLimit, Pressing: true, Force: force * 1e-3}, !more
	})
	log, seen := playWatched(m, (c.Position*1e3-c.Sign*way)*1e-3, true, p)
	log.Loops = &l
	return log, seen
}

func playWatched(m *Machine, x float64, positions bool, p player) (*Log, Extremes) {
	r := newRecorder(m, 4, positions, positions && m.Contact != nil)
	seen := Extremes{Position: [2]float64{x, x}}
	r.watch = func(s *Sim) {
		seen.Position = [2]float64{math.Min(seen.Position[0], s.x), math.Max(seen.Position[1], s.x)}
		seen.End = s.x
		seen.Pressure = math.Max(seen.Pressure, math.Max(s.p[0], s.p[1]))
		seen.RodSpeed = math.Max(seen.RodSpeed, math.Abs(s.v))
		seen.Speed = math.Max(seen.Speed, math.Abs(s.drive.omega))
	}
	return r.run("played.csv", NewSim(m, x, StepTime), p, 600), seen
}

// tablePlayer commands one row after the other.
type tablePlayer struct {
	table  []float64
	period float64
}

func (p *tablePlayer) events() []Event { return []Event{{"played table", 0}} }

func (p *tablePlayer) next(t float64, _ measured) (float64, bool) {
	i := int(math.Round(t / p.period))
	if i >= len(p.table) {
		return 0, false
	}
	return p.table[i], true
}
