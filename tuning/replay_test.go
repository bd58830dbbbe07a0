package tuning

import (
	"errors"
	"strings"
	"testing"

	"eha/strokewise/ident/plant"
	"eha/strokewise/ident/trace"
	"eha/strokewise/samples/twin"
	"eha/strokewise/tuning/law"
)

// closedLoopLog returns a log of the simulated machine and the settings it ran under.
func closedLoopLog(t *testing.T, m *twin.Machine) (*trace.Trace, law.Loops) {
	t.Helper()
	log := twin.AsFound(m, m.Loops)
	samples := map[trace.Channel][]float64{}
	for c, name := range map[trace.Channel]string{trace.PositionCommand: "position_command", trace.RodPosition: "rod_position",
		trace.CapPressure: "cap_pressure", trace.RodPressure: "rod_pressure"} {
		samples[c] = log.SI(name)
	}
	tr, err := trace.New("asfound.csv", m.LogPeriod, 0, samples, nil)
	if err != nil {
		t.Fatal(err)
	}
	f := m.Loops.Position
	return tr, law.Loops{Position: &law.Position{
		Period: f.Period, Kp: plant.PerDirection[float64]{Extend: f.KpExtend, Retract: f.KpRetract}, Ki: plant.PerDirection[float64]{Extend: f.KiExtend, Retract: f.KiRetract},
		Feedforward: f.Feedforward, Turns: plant.PerDirection[float64]{Extend: f.TurnsExtend / revPerMM, Retract: f.TurnsRetract / revPerMM},
		Lowpass: f.Lowpass / inHz, SpeedLimit: f.SpeedLimit / inRPM, Window: f.Window / inMM, WindowTime: f.WindowTime,
	}}
}

// The replay of a simulated machine's closed loop, with fit errors, follows the
// recording: settings too hot, so that a wrong model would drift away.
func TestReplayFollowsTheRecording(t *testing.T) {
	m := twin.Random(twin.Vertical, 41)
	tr, loops := closedLoopLog(t, m)
	overlays, err := Replay(fittedTo(m, 41), loops, tr)
	if err != nil {
		t.Fatal(err)
	}
	o := overlays[0]
	if o.Channel != "rod_position" || len(o.Measured) != len(o.Modeled) || len(o.Measured) < tr.Len()/2 {
		t.Fatalf("%s with %d and %d samples of %d", o.Channel, len(o.Measured), len(o.Modeled), tr.Len())
	}
	// The recording is off its own reference; the model explains all but a fifth of that at most.
	if b := Believe(tr, overlays); !(b.Left < 0.2) {
		t.Errorf("replay off by %.3g mm rms, the loop's own error is %.3g mm", 1e3*b.Off, 1e3*b.Following)
	}
}

// A log finer than the controller's period shows the reference in steps, whose
// rate is the step over the controller's period, not over the log's.
func TestReplayOfALogFinerThanTheController(t *testing.T) {
	m := twin.Random(twin.Vertical, 43)
	if m.ControlPeriod <= m.LogPeriod || m.Loops.Position.Feedforward == 0 {
		t.Fatalf("controller every %g s, log every %g s: another seed", m.ControlPeriod, m.LogPeriod)
	}
	tr, loops := closedLoopLog(t, m)
	overlays, err := Replay(fittedTo(m, 43), loops, tr)
	if err != nil {
		t.Fatal(err)
	}
	if b := Believe(tr, overlays); !(b.Left < 0.2) {
		t.Errorf("%.0f %% of the following error left open", 100*b.Left)
	}
}

// With the settings that were in use the simulation is to be believed; with others it is not.
func TestBelieve(t *testing.T) {
	m := twin.Random(twin.Vertical, 41)
	tr, loops := closedLoopLog(t, m)
	p := fittedTo(m, 41)
	for _, tc := range []struct {
		factor float64
		want   string
	}{{1, "Believe the simulation"}, {0.5, "Do not believe"}} {
		set := *loops.Position
		set.Kp.Extend, set.Kp.Retract = tc.factor*set.Kp.Extend, tc.factor*set.Kp.Retract
		overlays, err := Replay(p, law.Loops{Position: &set}, tr)
		if err != nil {
			t.Fatal(err)
		}
		b := Believe(tr, overlays)
		if !strings.HasPrefix(b.String(), tc.want) || b.Worst < b.Off {
			t.Errorf("gains x %g: %+v, %q, want %q", tc.factor, b, b, tc.want)
		}
	}
	presses, err := trace.New("press.csv", 1e-3, 0, map[trace.Channel][]float64{trace.RodPosition: {0, 0.1, 0.1}, trace.PositionCommand: {0, 0.1, 0.2}, trace.ForceCommand: {0, 1, 1}}, nil)
	if err != nil {
		t.Fatal(err)
	}
	if b := Believe(presses, []plant.Overlay{{Measured: []float64{0, 0.1, 0.1}, Modeled: []float64{0, 0.1, 0.1}}}); !strings.Contains(b.String(), "This log presses") {
		t.Errorf("a pressing log: %q", b)
	}
	still := []float64{0.1, 0.1, 0.1}
	at := []float64{0.1, 0.1001, 0.1}
	rest, err := trace.New("rest.csv", 1e-3, 0, map[trace.Channel][]float64{trace.RodPosition: at, trace.PositionCommand: still}, nil)
	if err != nil {
		t.Fatal(err)
	}
	if b := Believe(rest, []plant.Overlay{{Measured: at, Modeled: still}}); !strings.Contains(b.String(), "shows nothing") {
		t.Errorf("a log at rest: %q", b)
	}
}

func TestReplayNeedsLoopAndCommand(t *testing.T) {
	tr, err := trace.New("open.csv", 1e-3, 0, map[trace.Channel][]float64{trace.RodPosition: make([]float64, 10)}, nil)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := Replay(invented(1), law.Loops{}, tr); !errors.Is(err, ErrNoLoop) {
		t.Errorf("got %v, want ErrNoLoop", err)
	}
	set := law.Position{Period: 1e-3}
	if _, err := Replay(invented(1), law.Loops{Position: &set}, tr); !errors.Is(err, ErrNoCommand) {
		t.Errorf("got %v, want ErrNoCommand", err)
	}
}
