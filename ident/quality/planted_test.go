package quality

import (
	"bytes"
	"context"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"slices"
	"strconv"
	"testing"

	"eha/strokewise/ident/machine"
	"eha/strokewise/ident/trace"
	"eha/strokewise/samples/twin"
)

// fault is something wrong that is planted into a clean log of a simulated machine.
type fault struct {
	name    string
	plant   func(c map[string][]float64, period float64)
	want    string // id
	channel trace.Channel
	least   Severity
	also    []string // ids that may follow from it at harm or stop
}

func negate(y []float64) {
	for i := range y {
		y[i] = -y[i]
	}
}

func scale(y []float64, by float64) {
	for i := range y {
		y[i] *= by
	}
}

func exchange(a, b []float64) {
	for i := range a {
		a[i], b[i] = b[i], a[i]
	}
}

// later shifts y by n samples, to later times for a positive n.
func later(y []float64, n int) {
	old := slices.Clone(y)
	for i := range y {
		y[i] = old[min(max(i-n, 0), len(y)-1)]
	}
}

var planted = []fault{
	{"rod position reversed", func(c map[string][]float64, _ float64) { negate(c["rod_position"]) }, WrongSign, trace.RodPosition, Stop, nil},
	{"encoder reversed", func(c map[string][]float64, _ float64) { negate(c["motor_position"]) }, WrongSign, trace.MotorPosition, Stop, nil},
	{"command reversed", func(c map[string][]float64, _ float64) { negate(c["speed_command"]) }, WrongSign, trace.SpeedCommand, Stop, nil},
	{"pressures swapped", func(c map[string][]float64, _ float64) { exchange(c["cap_pressure"], c["rod_pressure"]) }, SwappedPressures, trace.CapPressure, Stop, nil},
	{"rod reversed and pressures swapped", func(c map[string][]float64, _ float64) {
		negate(c["rod_position"])
		exchange(c["cap_pressure"], c["rod_pressure"])
	}, SwappedPressures, trace.CapPressure, Stop, []string{WrongSign}},
	{"current reversed", func(c map[string][]float64, _ float64) { negate(c["motor_current"]) }, WrongSign, trace.MotorCurrent, Harm, nil},
	{"cap pressure dead", func(c map[string][]float64, _ float64) {
		for i := range c["cap_pressure"] {
			c["cap_pressure"][i] = 0.1e5
		}
	}, Flat, trace.CapPressure, Harm, []string{Nameplate, UnitDoubtful}},
	{"rod position stuck for a while", func(c map[string][]float64, period float64) {
		x := c["rod_position"]
		for i := int(15 / period); i < int(17/period); i++ {
			x[i] = x[int(15/period)]
		}
	}, Flat, trace.RodPosition, Harm, []string{UnitDoubtful, TimeSkew}},
	{"high pressure clipped", func(c map[string][]float64, _ float64) {
		p := c["cap_pressure"]
		if mean(c["rod_pressure"]) > mean(p) {
			p = c["rod_pressure"]
		}
		_, high := extremes(p)
		limit := median(p) + 0.3*(high-median(p)) // deep enough that a short log stands there often
		for i := range p {
			p[i] = math.Min(p[i], limit)
		}
	}, Clipped, trace.NoChannel, Harm, nil},
	{"command 13 % high", func(c map[string][]float64, _ float64) { scale(c["speed_command"], 1.13) }, SpeedScale, trace.SpeedCommand, Harm, nil},
	{"command in rev/s called rpm", func(c map[string][]float64, _ float64) { scale(c["speed_command"], 1.0/60) }, UnitDoubtful, trace.SpeedCommand, Stop, nil},
	{"pressures in psi called bar", func(c map[string][]float64, _ float64) {
		scale(c["cap_pressure"], 14.5038)
		scale(c["rod_pressure"], 14.5038)
	}, UnitDoubtful, trace.NoChannel, Stop, []string{PressureOffset}},
	{"pressures in MPa called bar", func(c map[string][]float64, _ float64) { scale(c["cap_pressure"], 0.1); scale(c["rod_pressure"], 0.1) }, UnitDoubtful, trace.NoChannel, Stop, []string{PressureOffset}},
	{"rod position in inch called mm", func(c map[string][]float64, _ float64) { scale(c["rod_position"], 1/25.4) }, UnitDoubtful, trace.RodPosition, Stop, nil},
	{"encoder counts four times", func(c map[string][]float64, _ float64) { scale(c["motor_position"], 4) }, UnitDoubtful, trace.NoChannel, Stop, []string{SpeedScale}},
	{"rod position early", func(c map[string][]float64, period float64) { later(c["rod_position"], -int(math.Ceil(0.008/period))) }, TimeSkew, trace.RodPosition, Harm, []string{UnitDoubtful}},
	{"rod position late", func(c map[string][]float64, period float64) { later(c["rod_position"], int(0.02/period)) }, TimeSkew, trace.RodPosition, Harm, []string{UnitDoubtful}},
	{"command late", func(c map[string][]float64, period float64) { later(c["speed_command"], int(0.04/period)) }, TimeSkew, trace.SpeedCommand, Harm, nil},
	{"pump ripple of 13 periods a turn", func(c map[string][]float64, _ float64) {
		for i, at := range c["motor_position"] {
			c["cap_pressure"][i] += 0.4e5 * math.Sin(13*at)
		}
	}, Ripple, trace.CapPressure, Note, nil},
	{"mains hum", func(c map[string][]float64, period float64) {
		for i := range c["cap_pressure"] {
			c["cap_pressure"][i] += 0.8e5 * math.Sin(2*math.Pi*50*float64(i)*period)
		}
	}, Noisy, trace.CapPressure, Note, nil},
	{"current late", func(c map[string][]float64, period float64) { later(c["motor_current"], int(0.012/period)) }, TimeSkew, trace.MotorCurrent, Note, nil},
	{"encoder wraps at an odd number", func(c map[string][]float64, _ float64) {
		for i, y := range c["motor_position"] {
			c["motor_position"][i] = math.Mod(y+1e4*rev, 37.3*rev)
		}
	}, EncoderWrap, trace.MotorPosition, Note, nil},
	{"transducer's plug loose for 0.2 s", func(c map[string][]float64, period float64) { setPart(c["rod_position"], 60, 60.2, period, 0) }, SignalLost, trace.RodPosition, Harm, nil},
	{"encoder's plug loose for 0.1 s", func(c map[string][]float64, period float64) { setPart(c["motor_position"], 60, 60.1, period, -1e3) }, SignalLost, trace.MotorPosition, Harm, nil},
	{"pressure sensor's wire broken", func(c map[string][]float64, _ float64) { noiseAbout(c["cap_pressure"], -62.5e5, 0.05e5) }, Flat, trace.CapPressure, Harm, []string{Nameplate}},
	{"transducer dead but for noise", func(c map[string][]float64, _ float64) { noiseAbout(c["rod_position"], 0, 3e-6) }, Flat, trace.RodPosition, Stop, nil},
	{"encoder stuck for 1 s", func(c map[string][]float64, period float64) {
		y, at := c["motor_position"], fastestSecond(c["motor_position"], period)
		setPart(y, at, at+1, period, y[int(at/period)])
	}, Flat, trace.MotorPosition, Stop, nil},
	{"encoder early", func(c map[string][]float64, period float64) { later(c["motor_position"], -int(0.02/period)) }, TimeSkew, trace.MotorPosition, Harm, nil},
	{"command dead", func(c map[string][]float64, _ float64) { scale(c["speed_command"], 0) }, Flat, trace.SpeedCommand, Harm, nil},
	{"bore entered 20 % small", nil, Nameplate, trace.NoChannel, Harm, nil},
	{"no true zero", func(c map[string][]float64, _ float64) {
		low, _ := extremes(c["rod_position"])
		for i := range c["rod_position"] {
			c["rod_position"][i] -= low + 0.02
		}
	}, NoZero, trace.RodPosition, Harm, []string{UnitDoubtful}},
}

// setPart sets y to the level from one time to another (s).
func setPart(y []float64, from, to, period, level float64) {
	for i := int(from / period); i < int(to/period); i++ {
		y[i] = level
	}
}

// noiseAbout replaces y by a level with white noise of the standard deviation.
func noiseAbout(y []float64, level, sigma float64) {
	rng := rand.New(rand.NewPCG(1, 2))
	for i := range y {
		y[i] = level + sigma*rng.NormFloat64()
	}
}

// fastestSecond returns when the second of most change begins.
func fastestSecond(y []float64, period float64) float64 {
	n, best, most := int(1/period), 0, 0.0
	for i := 0; i+n < len(y); i++ {
		if d := math.Abs(y[i+n] - y[i]); d > most {
			best, most = i, d
		}
	}
	return float64(best) * period
}

// read writes the log as CSV with the fault planted and reads it as the program does.
func read(t testing.TB, l *twin.Log, f *fault) *trace.Reading {
	t.Helper()
	channels := map[string][]float64{}
	copied := *l
	copied.Columns = slices.Clone(l.Columns)
	for i, c := range copied.Columns {
		copied.Columns[i].SI = slices.Clone(c.SI)
		channels[c.Channel] = copied.Columns[i].SI
	}
	if f != nil && f.plant != nil {
		f.plant(channels, l.Period)
	}
	var text bytes.Buffer
	if err := copied.WriteCSV(&text); err != nil {
		t.Fatal(err)
	}
	r, err := trace.Read(context.Background(), &text, l.Name, trace.ReadOptions{})
	if err != nil {
		t.Fatal(err)
	}
	return r
}

func machineOf(t testing.TB, m *twin.Machine) *machine.Machine {
	t.Helper()
	parsed, err := machine.Parse([]byte(twin.MachineFile(m)), "machine.toml")
	if err != nil {
		t.Fatal(err)
	}
	return parsed
}

// machines is how many seeds of each kind are tried: one, or what the environment
// variable QUALITY_SEEDS says for a long run by hand (of one kind: QUALITY_KIND).
func machines() int {
	if n, err := strconv.Atoi(os.Getenv("QUALITY_SEEDS")); err == nil {
		return n
	}
	return 1
}

// sweepKinds differ most in what the checks look at.
func sweepKinds(short bool) []twin.Kind {
	if name := os.Getenv("QUALITY_KIND"); name != "" {
		if kind, err := twin.ParseKind(name); err == nil {
			return []twin.Kind{kind}
		}
	}
	if short {
		return []twin.Kind{twin.Resisting, twin.Swap}
	}
	return twin.Kinds()
}

// Clean logs of simulated machines give no stop, and every planted fault is named.
func TestPlantedFaults(t *testing.T) {
	hits, tries, inventions, cleanLogs := map[string]int{}, map[string]int{}, 0, 0
	for _, kind := range sweepKinds(machines() == 1) {
		for seed := range machines() {
			sim := twin.Random(kind, uint64(100+seed))
			if machines() == 1 {
				sim.LogPeriod = 4e-3 // short logs keep the test quick
			}
			m := machineOf(t, sim)
			logs := []*twin.Log{twin.Survey(sim)}
			if machines() > 1 {
				logs = append(logs, twin.AsFound(sim, sim.Loops))
			}
			for _, l := range logs {
				what := fmt.Sprintf("%v-%d %s", kind, seed, l.Name)
				cleanLogs++
				clean := Check([]*trace.Reading{read(t, l, nil)}, m)
				before := ids(clean, Harm)
				if len(before) > 0 {
					inventions++
					t.Logf("%s: clean, but %v", what, before)
					show(t, clean)
				}
				if bad := ids(clean, Stop); len(bad) > 0 {
					t.Errorf("%s: clean, but stopped by %v", what, bad)
				}
				for i := range planted {
					f := &planted[i]
					if !possible(l, f) {
						continue
					}
					tries[f.name]++
					if ok, report := tryFault(t, l, f, m, before); ok {
						hits[f.name]++
					} else {
						t.Logf("%s: %s: not named alone", what, f.name)
						show(t, report)
					}
				}
			}
		}
	}
	t.Logf("clean logs with a harm invented: %d of %d", inventions, cleanLogs)
	for _, f := range planted {
		t.Logf("%-36s %d of %d", f.name, hits[f.name], tries[f.name])
		if machines() == 1 && hits[f.name] < tries[f.name] {
			t.Errorf("%s: named in %d of %d", f.name, hits[f.name], tries[f.name])
		}
	}
}

func possible(l *twin.Log, f *fault) bool {
	if l.SI("cap_pressure") == nil {
		switch f.channel {
		case trace.CapPressure:
			return false
		case trace.NoChannel:
			return f.want == Nameplate
		}
	}
	return true
}

// tryFault plants one fault. It must be named, and nothing else at harm or stop that
// the clean log did not have and the fault does not entail.
func tryFault(t testing.TB, l *twin.Log, f *fault, m *machine.Machine, before []string) (bool, Report) {
	known := *m
	if f.plant == nil {
		known.Cylinder.Bore *= 0.8
		known.Cylinder.Rod *= 0.8
	}
	report := Check([]*trace.Reading{read(t, l, f)}, &known)
	named := false
	for _, g := range report.Findings {
		named = named || g.ID == f.want && (f.channel == trace.NoChannel || g.Channel == f.channel) && g.Severity >= f.least
	}
	for _, id := range ids(report, Harm) {
		if id != f.want && !slices.Contains(f.also, id) && !slices.Contains(before, id) {
			named = false
		}
	}
	return named, report
}
