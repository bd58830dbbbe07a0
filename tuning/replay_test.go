package tuning

import (
	"errors"
	"math"
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
	command, _ := tr.Samples(trace.PositionCommand)
	off, moved := 0.0, 0.0
	for i := range o.Measured {
		off += math.Pow(o.Measured[i]-o.Modeled[i], 2)
		moved += math.Pow(o.Measured[i]-command[i], 2)
	}
	// The recording is off its own reference by moved; the model explains all but a tenth of that.
	if off > 0.1*moved {
		t.Errorf("replay off by %.3g mm rms, the loop's own error is %.3g mm", 1e3*math.Sqrt(off/float64(len(o.Measured))), 1e3*math.Sqrt(moved/float64(len(o.Measured))))
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
