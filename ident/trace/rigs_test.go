package trace_test

import (
	"context"
	"os"
	"path/filepath"
	"slices"
	"testing"

	"eha/strokewise/ident/machine"
	"eha/strokewise/ident/trace"
)

// The rigs are logs of independent simulations; what was planted in them stands in
// their TRUTH.md, which is where the figures here come from.
const rigs = "../../../shared/rigs"

func readRig(t *testing.T, rig, log string) *trace.Reading {
	t.Helper()
	dir := filepath.Join(rigs, rig)
	data, err := os.ReadFile(filepath.Join(dir, "machine.toml"))
	if os.IsNotExist(err) {
		t.Skip("the shared rigs are not beside this module")
	}
	if err != nil {
		t.Fatal(err)
	}
	m, err := machine.Parse(data, "machine.toml")
	if err != nil {
		t.Fatal(err)
	}
	f, err := os.Open(filepath.Join(dir, log))
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	r, err := trace.Read(context.Background(), f, log, trace.ReadOptions{Columns: m.Channels, Period: 0.002})
	if err != nil {
		t.Fatal(err)
	}
	return r
}

func TestRigsLoadWithTheRightChannels(t *testing.T) {
	five := []trace.Channel{trace.SpeedCommand, trace.MotorPosition, trace.RodPosition, trace.CapPressure, trace.RodPressure}
	with := func(more ...trace.Channel) []trace.Channel {
		all := append(slices.Clone(five), more...)
		slices.Sort(all)
		return all
	}
	cases := []struct {
		rig, log string
		channels []trace.Channel
		period   float64
		samples  int
	}{
		{"faulty-flipped", "survey.csv", five, 0.002, 80385},
		{"faulty-messy", "survey.csv", five, 0.002, 80385},
		{"press-vertical", "survey.csv", with(trace.MotorCurrent), 0.001, 217281},
		{"press-vertical", "asfound.csv", with(trace.MotorCurrent, trace.PositionCommand), 0.001, 25572},
		{"press-vertical", "press.csv", with(trace.MotorCurrent, trace.PositionCommand, trace.ForceCommand), 0.001, 30000},
		{"remote-counts", "survey.csv", five, 0.002, 92791},
		{"remote-counts", "asfound.csv", with(trace.PositionCommand), 0.002, 17122},
		{"swap-horizontal", "survey.csv", with(trace.MotorCurrent, trace.OilTemperature), 0.001, 180302},
		{"swap-horizontal", "asfound.csv", with(trace.MotorCurrent, trace.OilTemperature, trace.PositionCommand), 0.001, 30616},
	}
	for _, c := range cases {
		t.Run(c.rig+"/"+c.log, func(t *testing.T) {
			r := readRig(t, c.rig, c.log)
			if got := r.Trace.Channels(); !slices.Equal(got, c.channels) {
				t.Errorf("channels %v, want %v", got, c.channels)
			}
			if r.Trace.Period() != c.period || r.Trace.Len() != c.samples {
				t.Errorf("%d samples of %g s, want %d of %g s", r.Trace.Len(), r.Trace.Period(), c.samples, c.period)
			}
			for _, g := range r.Guesses {
				if g.Asked {
					t.Errorf("%s asked for column %q: %s", g.Channel, g.Column, g.Why)
				}
			}
			if c.rig != "faulty-messy" && len(r.Spikes)+len(r.Trace.Gaps())+len(r.Bridged)+r.Rejects+len(r.Clock.Missing) > 0 {
				t.Errorf("faults found in a clean log: spikes %v, gaps %v, bridged %v, missing %v", r.Spikes, r.Trace.Gaps(), r.Bridged, r.Clock.Missing)
			}
		})
	}
}

func TestMessyRigFaultsAreAllFound(t *testing.T) {
	r := readRig(t, "faulty-messy", "survey.csv")
	if r.Layout.Encoding != "UTF-16LE" || r.Rows != 80196 {
		t.Errorf("%s, %d rows; want UTF-16LE, 80196 rows", r.Layout.Encoding, r.Rows)
	}
	blocks := [][2]float64{{33.1597, 33.302}, {45.2099, 45.3279}, {57.742, 57.8661}}
	if len(r.Clock.Missing) != len(blocks) {
		t.Fatalf("missing blocks %v, want %v", r.Clock.Missing, blocks)
	}
	const printed = 6e-5 // s, the truth is rounded to 0.1 ms
	for i, b := range blocks {
		got := r.Clock.Missing[i]
		if diff := max(abs(got.From-b[0]), abs(got.To-b[1])); diff > printed {
			t.Errorf("block %d: %v to %v, want %v", i, got.From, got.To, b)
		}
	}
	if len(r.Spikes) != 2 || r.Spikes[0].Channel != trace.RodPosition ||
		abs(r.Spikes[0].Time-34.300) > 1e-3 || abs(r.Spikes[0].Value-0.3397) > 6e-5 ||
		abs(r.Spikes[1].Time-100.484) > 1e-3 || abs(r.Spikes[1].Value+0.0816) > 6e-5 {
		t.Errorf("spikes %v, want 339.7 mm at 34.300 s and -81.6 mm at 100.484 s", r.Spikes)
	}
	total := 0
	for _, n := range r.Bridged {
		total += n
	}
	if total != 229+29 {
		t.Errorf("%d cells bridged, want 229 empty and 29 NaN", total)
	}
	if r.Clock.Jitter < 1e-4 || r.Clock.Jitter > 3e-4 || !r.Clock.StampsOnly {
		t.Errorf("jitter %g s, stamps only %v; want some tenths of a millisecond, in the stamps", r.Clock.Jitter, r.Clock.StampsOnly)
	}
}

// Both faulty logs are one recording: with the messy one put on its grid, its
// samples are those of the other, apart from what was taken away.
func TestMessyRigComesBackToTheCleanRecording(t *testing.T) {
	messy, clean := readRig(t, "faulty-messy", "survey.csv"), readRig(t, "faulty-flipped", "survey.csv")
	a, _ := messy.Trace.Samples(trace.MotorPosition)
	b, _ := clean.Trace.Samples(trace.MotorPosition)
	inGap := make([]bool, len(a))
	for _, g := range messy.Trace.Gaps() {
		for i := g.From; i < g.To; i++ {
			inGap[i] = true
		}
	}
	different := 0
	for i := range a {
		if !inGap[i] && a[i] != b[i] {
			different++
		}
	}
	// 59 cells of this channel were emptied; a straight line may hit a few of them exactly.
	if different > 59 {
		t.Errorf("%d samples differ outside the gaps, at most 59 were taken away", different)
	}
}

func abs(x float64) float64 {
	if x < 0 {
		return -x
	}
	return x
}

// A rig's log taken apart into two recordings with clocks of their own: encoder
// in one, transducer and pressure at half the rate and a later start in the other.
func TestRigRecordingsJoinAgain(t *testing.T) {
	for _, c := range [][2]string{{"press-vertical", "survey.csv"}, {"swap-horizontal", "asfound.csv"}, {"remote-counts", "survey.csv"}} {
		r := readRig(t, c[0], c[1]).Trace
		motor, _ := r.Samples(trace.MotorPosition)
		rod, _ := r.Samples(trace.RodPosition)
		pressure, _ := r.Samples(trace.CapPressure)
		const later = 1234
		var x, p []float64
		for i := later; i < r.Len(); i += 2 {
			x, p = append(x, rod[i]), append(p, pressure[i])
		}
		a, err := trace.New("a", r.Period(), 0, map[trace.Channel][]float64{trace.MotorPosition: motor}, nil)
		if err != nil {
			t.Fatal(err)
		}
		b, err := trace.New("b", 2*r.Period(), 0, map[trace.Channel][]float64{trace.RodPosition: x, trace.CapPressure: p}, nil)
		if err != nil {
			t.Fatal(err)
		}
		_, joint, err := trace.Join(a, b)
		if err != nil {
			t.Errorf("%s: %v", c[0], err)
			continue
		}
		if want := later * r.Period(); want < joint.OffsetLow || want > joint.OffsetHigh || joint.DriftLow > 0 || joint.DriftHigh < 0 {
			t.Errorf("%s: offset %g s (%g to %g), drift %g (%g to %g); want %g s and none", c[0],
				joint.Offset, joint.OffsetLow, joint.OffsetHigh, joint.Drift, joint.DriftLow, joint.DriftHigh, want)
		}
	}
}
