package quality

import (
	"context"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"eha/strokewise/ident/machine"
	"eha/strokewise/ident/plant"
	"eha/strokewise/ident/trace"
)

const (
	rpm = 2 * math.Pi / 60
	rev = 2 * math.Pi
)

// rig reads a log of ../shared/rigs as the program does.
func rig(t testing.TB, name, log string) (*trace.Reading, *machine.Machine) {
	t.Helper()
	dir := filepath.Join("..", "..", "..", "shared", "rigs", name)
	data, err := os.ReadFile(filepath.Join(dir, "machine.toml"))
	if err != nil {
		t.Skip("needs ../shared/rigs beside the module: ", err)
	}
	m, err := machine.Parse(data, "machine.toml")
	if err != nil {
		t.Fatal(err)
	}
	file, err := os.Open(filepath.Join(dir, log))
	if err != nil {
		t.Fatal(err)
	}
	defer file.Close()
	options := trace.ReadOptions{Columns: m.Channels}
	if name == "remote-counts" {
		options.Period = 2e-3 // its TRUTH.md says to give it
	}
	r, err := trace.Read(context.Background(), file, log, options)
	if err != nil {
		t.Fatal(err)
	}
	return r, m
}

// ids returns the ids of the findings of at least that severity, sorted, each once.
func ids(r Report, least Severity) []string {
	var all []string
	for _, f := range r.Findings {
		if f.Severity >= least {
			all = append(all, f.ID)
		}
	}
	slices.Sort(all)
	return slices.Compact(all)
}

func find(r Report, id string, c trace.Channel) (Finding, bool) {
	for _, f := range r.Findings {
		if f.ID == id && f.Channel == c {
			return f, true
		}
	}
	return Finding{}, false
}

func show(t testing.TB, r Report) {
	t.Helper()
	for _, f := range r.Findings {
		t.Logf("%v %s %v %.3f-%.3f %s // %s", f.Severity, f.ID, f.Channel, f.From, f.To, f.Text, f.Do)
	}
}

var cleanLogs = [][2]string{
	{"press-vertical", "survey.csv"}, {"press-vertical", "asfound.csv"}, {"press-vertical", "press.csv"},
	{"swap-horizontal", "survey.csv"}, {"swap-horizontal", "asfound.csv"}, {"remote-counts", "survey.csv"}, {"remote-counts", "asfound.csv"},
}

// Nothing is planted in these logs, so nothing may be said to harm; that the hot
// loops run into limits is true and a note.
func TestCleanRigs(t *testing.T) {
	for _, c := range cleanLogs {
		r, m := rig(t, c[0], c[1])
		for _, known := range []*machine.Machine{m, nil} {
			report := Check([]*trace.Reading{r}, known)
			if bad := ids(report, Harm); len(bad) > 0 {
				t.Errorf("%v (machine file: %v): found %v", c, known != nil, bad)
				show(t, report)
			}
			if known != nil && testing.Verbose() {
				t.Log(c)
				show(t, report)
			}
		}
	}
}

// TRUTH.md: the transducer counts the wrong way, and the two pressure columns
// bear each other's names; nothing else is wrong with it.
func TestFlippedRig(t *testing.T) {
	r, m := rig(t, "faulty-flipped", "survey.csv")
	for _, known := range []*machine.Machine{m, nil} {
		report := Check([]*trace.Reading{r}, known)
		show(t, report)
		if got := ids(report, Stop); !slices.Equal(got, []string{SwappedPressures, WrongSign}) {
			t.Fatalf("stops %v", got)
		}
		if _, ok := find(report, WrongSign, trace.RodPosition); !ok {
			t.Error("the wrong sign is not put on the rod position")
		}
		if got := ids(report, Harm); len(got) != 2 {
			t.Errorf("more than the planted faults: %v", got)
		}
		for i, f := range report.Findings[:2] {
			if f.ID != WrongSign && f.ID != SwappedPressures {
				t.Errorf("finding %d is %s: wiring must come first", i, f.ID)
			}
		}
	}
}

// TRUTH.md: jitter, three blocks of rows missing, two transducer spikes, 229 empty
// and 29 NaN cells; nothing else.
func TestMessyRig(t *testing.T) {
	r, m := rig(t, "faulty-messy", "survey.csv")
	report := Check([]*trace.Reading{r}, m)
	show(t, report)
	want := []string{EmptyCells, MissingRows, SpikeFound, TimeJitter}
	if got := ids(report, Note); !slices.Equal(got, want) {
		t.Errorf("found %v, want %v", got, want)
	}
	if got := ids(report, Stop); len(got) > 0 {
		t.Errorf("stops %v", got)
	}
	at := func(id string, times ...float64) {
		var got []float64
		for _, f := range report.Findings {
			if f.ID == id {
				got = append(got, f.From)
			}
		}
		if len(got) != len(times) {
			t.Errorf("%s at %v, want %v", id, got, times)
			return
		}
		for i := range times {
			if math.Abs(got[i]-times[i]) > 0.005 {
				t.Errorf("%s at %v, want %v", id, got, times)
			}
		}
	}
	at(MissingRows, 33.1597, 45.2099, 57.742)
	at(SpikeFound, 34.300, 100.484)
	for _, f := range report.Findings {
		if f.ID == EmptyCells && !strings.HasPrefix(f.Text, "258 cells") {
			t.Errorf("229 + 29 cells planted: %s", f.Text)
		}
	}
}

// A survey answers nearly all; what it cannot answer is named with its move.
func TestIdentifiableOfTheRigs(t *testing.T) {
	survey, m := rig(t, "press-vertical", "survey.csv")
	report := Check([]*trace.Reading{survey}, m)
	for p, can := range map[plant.Param]bool{
		plant.Slip: true, plant.MovingMass: true, plant.LostMotion: true, plant.ContactStiffness: true, plant.HydraulicFrequency: true,
		plant.DriveBandwidth: true, plant.BulkModulusCap: true, plant.OuterDelay: false, plant.BulkModulusRod: false,
	} {
		if got := report.Identifiable[p]; got.Can != can {
			t.Errorf("%v: can %v, want %v (%s)", p, got.Can, can, got.Why)
		}
	}
	if len(report.Identifiable) != len(plant.Params()) {
		t.Errorf("%d parameters judged, want %d", len(report.Identifiable), len(plant.Params()))
	}
	if !slices.Equal(report.Missing, []string{"position_steps"}) {
		t.Errorf("moves missing: %v", report.Missing)
	}
	asfound, _ := rig(t, "press-vertical", "asfound.csv")
	if both := Check([]*trace.Reading{survey, asfound}, m); len(both.Missing) > 0 {
		t.Errorf("moves missing from both logs: %v", both.Missing)
	}
}
