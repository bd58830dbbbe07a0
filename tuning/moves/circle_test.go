package moves

import (
	"context"
	"os"
	"slices"
	"strconv"
	"testing"

	"eha/strokewise/ident"
	"eha/strokewise/ident/machine"
	"eha/strokewise/ident/motion"
	"eha/strokewise/ident/plant"
	"eha/strokewise/ident/trace"
	"eha/strokewise/samples/twin"
)

// traceOf turns a log into a trace as if it had been written and read.
func traceOf(t *testing.T, name string, l *twin.Log) *trace.Trace {
	t.Helper()
	l.Rounded()
	samples := map[trace.Channel][]float64{}
	for _, c := range l.Columns {
		if channel, ok := trace.ParseChannel(c.Channel); ok && channel != trace.Time {
			samples[channel] = c.SI
		}
	}
	tr, err := trace.New(name, l.Period, 0, samples, nil)
	if err != nil {
		t.Fatal(err)
	}
	return tr
}

// played plays every full-size table of the plan and returns the logs, and the
// names of the moves that are not found in theirs.
func played(t *testing.T, m *twin.Machine, p *Plan) (logs []*trace.Trace, unnamed []string) {
	for i := range p.Moves {
		v := &p.Moves[i]
		if v.Size < 1 && v.Kind != motion.Hold || v.Column == trace.ForceCommand {
			continue
		}
		var l *twin.Log
		if v.Column == trace.SpeedCommand {
			l, _ = twin.PlaySpeed(m, v.Start, v.Table)
		} else {
			l, _ = twin.PlayPosition(m, m.Loops, v.Start, v.Table)
		}
		if v.Kind != motion.PositionSteps {
			l.Columns = slices.DeleteFunc(l.Columns, func(c twin.Column) bool { return c.Channel == "position_command" }) // as RecorderAdvice says
		}
		tr := traceOf(t, v.Name(), l)
		if !motion.Find(tr).Has(v.Kind) {
			unnamed = append(unnamed, v.Name())
		}
		logs = append(logs, tr)
	}
	return logs, unnamed
}

// wanted are the parameters that the planned moves promise for loops.
var wanted = []plant.Param{plant.StrokePerTurnExtend, plant.StrokePerTurnRetract, plant.Slip, plant.CoulombFriction,
	plant.MovingMass, plant.HydraulicFrequency, plant.DriveBandwidth, plant.DeadTime, plant.LostMotion}

// TestCircle plans, plays and fits: the moves planned from the machine file must
// let the fit find the parameters, near the simulator's truth, and each log must
// show its move under the same id. A second plan, from the fit, must then fit in
// whatever the first had to leave out. MOVES_CIRCLE sets another number of machines.
func TestCircle(t *testing.T) {
	if testing.Short() {
		t.Skip("plays and fits whole plans")
	}
	machines := 2
	if n, err := strconv.Atoi(os.Getenv("MOVES_CIRCLE")); err == nil {
		machines = n
	}
	kinds := []twin.Kind{twin.Resisting, twin.Vertical, twin.Overrunning, twin.Swap, twin.Heavy, twin.Remote}
	for i := range machines {
		m, known := invented(t, kinds[i%len(kinds)], uint64(300+i), true)
		p := planFor(t, known, nil)
		logs, unnamed := played(t, m, p)
		fit := fitOf(t, logs, known)
		identified := compare(t, m, fit)
		t.Logf("%s: %d logs, left out %d, not named %v, identified %d of %d", m.Name, len(logs), len(p.LeftOut), unnamed, identified, len(wanted))
		again := planFor(t, known, fit)
		logs, unnamed = played(t, m, again)
		identified = compare(t, m, fitOf(t, logs, known))
		t.Logf("   again from its fit: left out %d, not named %v, identified %d of %d", len(again.LeftOut), unnamed, identified, len(wanted))
		if identified < 6 {
			t.Errorf("%s: %d of %d parameters identified", m.Name, identified, len(wanted))
		}
		w := &worst{}
		playAll(m, known, again, w)
		if w.position < 0 || w.pressure < 0 || w.speed < 0 {
			t.Errorf("%s: planned from its fit, a limit is broken: %+v", m.Name, *w)
		}
	}
}

// TestCircleByPosition does so in closed loop, with nothing stated of the load:
// whatever the load, no move is left out but the pressing.
func TestCircleByPosition(t *testing.T) {
	if testing.Short() {
		t.Skip("plays and fits whole plans")
	}
	m, known := invented(t, twin.Resisting, 300, false)
	p, err := For(known, nil, Options{Command: trace.PositionCommand})
	if err != nil {
		t.Fatal(err)
	}
	if len(p.LeftOut) != 1 || p.LeftOut[0].Kind != motion.PressHold {
		t.Errorf("left out %v, want press_hold alone", p.LeftOut)
	}
	logs, unnamed := played(t, m, p)
	// A log of holding alone in closed loop shows a motor that turns slowly all the
	// time, which is nobody's rest.
	if unnamed = slices.DeleteFunc(unnamed, func(name string) bool { return name == motion.Hold.String() }); len(unnamed) > 0 {
		t.Errorf("not found in their logs: %v", unnamed)
	}
	if n := compare(t, m, fitOf(t, logs, known)); n < 8 {
		t.Errorf("%d of %d parameters identified", n, len(wanted))
	}
}

func planFor(t *testing.T, known *machine.Machine, fit *plant.Plant) *Plan {
	t.Helper()
	p, err := For(known, fit, Options{Command: trace.SpeedCommand})
	if err != nil {
		t.Fatal(err)
	}
	for _, l := range p.LeftOut {
		t.Logf("   left out: %s", nameOf(l.Kind, l.Part))
	}
	return p
}

func fitOf(t *testing.T, logs []*trace.Trace, known *machine.Machine) *plant.Plant {
	t.Helper()
	bare := *known
	bare.Load.Mass, bare.Load.ForceRange = 0, [2]float64{} // the fit is to find them
	fit, err := ident.Fit(context.Background(), logs, &bare, ident.Options{})
	if err != nil {
		t.Fatal(err)
	}
	return fit
}

// compare logs each wanted parameter against the truth and counts those identified.
func compare(t *testing.T, m *twin.Machine, fit *plant.Plant) (identified int) {
	truth := twin.TruthOf(m)
	for _, param := range wanted {
		e := fit.Est(param)
		if e.Status == plant.Identified {
			identified++
		}
		f := param.Info().Factor
		t.Logf("   %-24s %-10s %.4g (%.4g to %.4g), truth %.4g %s", param, e.Status, e.Value*f, e.Low*f, e.High*f, truth.Params[param.String()].Value, param.Info().Unit)
	}
	return identified
}

// TestPressHold plays the force table under the force loop in use: the work piece
// feels no more than half of the limit and the load's doubt, and the log shows the
// move at some size at least (against slow travel alone, pressing that takes nearly
// as many turns for slip is not always told from it).
func TestPressHold(t *testing.T) {
	if testing.Short() {
		t.Skip("plays force tables")
	}
	for seed := uint64(41); seed < 42; seed++ {
		m := twin.Random(twin.Pressing, seed)
		_, known := invented(t, twin.Pressing, seed, true)
		p := planFor(t, known, nil)
		shown := false
		for i := range p.Moves {
			v := &p.Moves[i]
			if v.Kind != motion.PressHold {
				continue
			}
			l, seen := twin.PlayForce(m, m.Loops, v.Table)
			named := motion.Find(traceOf(t, v.File(), l)).Has(motion.PressHold)
			t.Logf("%s %s: work piece %.1f kN of %.0f kN, %.0f bar, named %v", m.Name, v.File(), l.PeakForce*1e-3, m.ForceLimit()*1e-3, seen.Pressure*1e-5, named)
			if l.PeakForce > 0.6*m.ForceLimit() || seen.Pressure > known.Limits.WorkingPressure {
				t.Errorf("%s %s: work piece %g N, %g Pa", m.Name, v.File(), l.PeakForce, seen.Pressure)
			}
			shown = shown || named
		}
		if !shown {
			t.Errorf("%s: no log shows press_hold", m.Name)
		}
	}
}
