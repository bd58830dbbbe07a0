package moves

import (
	"fmt"
	"math"
	"os"
	"strconv"
	"testing"

	"eha/strokewise/ident/machine"
	"eha/strokewise/ident/trace"
	"eha/strokewise/samples/twin"
)

// invented returns a random simulated machine without work piece, and what its
// machine file says; with stated also the load, as its owner could state it.
func invented(t *testing.T, kind twin.Kind, seed uint64, stated bool) (*twin.Machine, *machine.Machine) {
	t.Helper()
	m := twin.Random(kind, seed)
	known, err := machine.Parse([]byte(twin.MachineFile(m)), "machine.toml")
	if err != nil {
		t.Fatal(err)
	}
	m.Contact = nil // every sheet says: take away what it presses on
	if stated {
		known.Load.Mass = m.Mass
		load := m.ProcessLoad
		known.Load.ForceRange = [2]float64{load - 0.3*math.Abs(load) - 100, load + 0.3*math.Abs(load) + 100}
	}
	return m, known
}

// worst gathers by how much the nearest limit was cleared, as shares.
type worst struct {
	position, pressure, speed float64
	where                     [3]string
	played                    int
}

func (w *worst) take(m *twin.Machine, known *machine.Machine, v *Move, seen twin.Extremes) {
	w.played++
	margin := known.Limits.StrokeMargin
	name := fmt.Sprintf("%s %s", m.Name, v.File())
	for i, clear := range []float64{
		min(seen.Position[0]-margin, m.Stroke-margin-seen.Position[1]) / m.Stroke,
		1 - seen.Pressure/known.Limits.WorkingPressure,
		1 - seen.Speed/known.Motor.MaxSpeed,
	} {
		at := []*float64{&w.position, &w.pressure, &w.speed}[i]
		if w.where[i] == "" || clear < *at {
			*at, w.where[i] = clear, name
		}
	}
}

// playAll plays every speed or position table from the worst corners of its
// start and gathers the clearances.
func playAll(m *twin.Machine, known *machine.Machine, p *Plan, w *worst) {
	for i := range p.Moves {
		v := &p.Moves[i]
		start := v.Start + v.Tolerance*float64(1-2*(i%2))
		var seen twin.Extremes
		switch v.Column {
		case trace.SpeedCommand:
			_, seen = twin.PlaySpeed(m, start, v.Table)
		case trace.PositionCommand:
			_, seen = twin.PlayPosition(m, m.Loops, v.Start, v.Table)
		default:
			continue
		}
		w.take(m, known, v, seen)
		if seen.Position[0] < v.Reach[0] || seen.Position[1] > v.Reach[1] {
			w.where[0] += fmt.Sprintf(" [%s %s outside its reach: %.4f..%.4f, promised %.4f..%.4f m]", m.Name, v.File(), seen.Position[0], seen.Position[1], v.Reach[0], v.Reach[1])
			w.position = math.Min(w.position, -1)
		}
	}
}

func (w *worst) report(t *testing.T) {
	t.Helper()
	t.Logf("%d tables played", w.played)
	t.Logf("nearest to a margin: %.1f %% of stroke clear, %s", 100*w.position, w.where[0])
	t.Logf("highest pressure: %.1f %% of working pressure clear, %s", 100*w.pressure, w.where[1])
	t.Logf("highest speed: %.1f %% clear, %s", 100*w.speed, w.where[2])
}

// TestLimitsHold plays the planned moves on random machines in the rich simulator:
// the rod stays between the margins and within the reach promised, and pressure
// and speed below their limits. MOVES_MACHINES sets another number of machines; run
// with 500 by hand.
func TestLimitsHold(t *testing.T) {
	machines := 12
	if testing.Short() {
		machines = 4
	}
	if n, err := strconv.Atoi(os.Getenv("MOVES_MACHINES")); err == nil {
		machines = n
	}
	w := &worst{}
	left := map[string]int{}
	for i := range machines {
		kind := twin.Kinds()[i%len(twin.Kinds())]
		m, known := invented(t, kind, uint64(9000+i), i/len(twin.Kinds())%2 == 1)
		opt := Options{Command: trace.SpeedCommand}
		if i%3 == 2 {
			opt.Command = trace.PositionCommand
		}
		p, err := For(known, nil, opt)
		if err != nil {
			t.Errorf("%s: %v", m.Name, err)
			continue
		}
		for _, l := range p.LeftOut {
			left[opt.Command.String()+" "+nameOf(l.Kind, l.Part)]++
		}
		playAll(m, known, p, w)
		if (i+1)%50 == 0 {
			t.Logf("%d machines", i+1)
			w.report(t)
		}
	}
	t.Logf("left out: %v", left)
	w.report(t)
	if w.position < 0 || w.pressure < 0 || w.speed < 0 {
		t.Error("a limit was broken")
	}
}

// A slow position loop whose scale is off by the ratio of areas runs far ahead of
// its command: this machine once drove into its end stop.
func TestWrongScaleLoop(t *testing.T) {
	m, known := invented(t, twin.Swap, 9494, true)
	p, err := For(known, nil, Options{Command: trace.PositionCommand})
	if err != nil {
		t.Fatal(err)
	}
	w := &worst{}
	playAll(m, known, p, w)
	w.report(t)
	if w.position < 0 || w.pressure < 0 || w.speed < 0 {
		t.Error("a limit was broken")
	}
}
