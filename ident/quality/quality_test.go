package quality

import (
	"math"
	"testing"

	"eha/strokewise/ident/motion"
	"eha/strokewise/ident/plant"
	"eha/strokewise/ident/trace"
	"eha/strokewise/samples/twin"
)

// reading makes a reading of channels that were never in a file.
func reading(t testing.TB, period float64, samples map[trace.Channel][]float64) *trace.Reading {
	t.Helper()
	tr, err := trace.New("made up", period, 0, samples, nil)
	if err != nil {
		t.Fatal(err)
	}
	return &trace.Reading{Trace: tr}
}

func TestNothingMoves(t *testing.T) {
	still := make([]float64, 5000)
	r := reading(t, 1e-3, map[trace.Channel][]float64{trace.MotorPosition: still, trace.RodPosition: still, trace.CapPressure: still})
	report := Check([]*trace.Reading{r}, nil)
	if len(report.Findings) != 1 || report.Findings[0].ID != NoMotion || !report.Stopped() {
		t.Errorf("findings %v, want no_motion alone", report.Findings)
	}
}

// Whatever channels a log holds, and however short it is, the check ends.
func TestAnyChannelsAndLengths(t *testing.T) {
	for _, n := range []int{2, 3, 10, 50, 700} {
		for _, c := range trace.Channels()[1:] {
			for _, d := range trace.Channels()[1:] {
				y, z := make([]float64, n), make([]float64, n)
				for i := range y {
					y[i], z[i] = 1e5*math.Sin(float64(i)/20), float64(i)
				}
				Check([]*trace.Reading{reading(t, 2e-3, map[trace.Channel][]float64{c: y, d: z})}, nil)
			}
		}
	}
}

// The reader's facts about the rows become findings with their places.
func TestRowsOfTheReader(t *testing.T) {
	theta, x := make([]float64, 3000), make([]float64, 3000)
	for i := range theta {
		theta[i] = 30 * math.Sin(float64(i)/300)
		x[i] = 0.1 + 4e-4*theta[i]
	}
	r := reading(t, 1e-3, map[trace.Channel][]float64{trace.MotorPosition: theta, trace.RodPosition: x})
	r.Clock = trace.Clock{Has: true, Period: 1e-3, Jitter: 4e-4, Backward: []float64{0.5}, Restarts: []float64{2}, Missing: []trace.Block{{From: 1, To: 1.1, Rows: 99}}}
	r.Wrap = trace.Wrap{Count: 3, Modulus: 5000}
	r.Held = []trace.Held{{Channel: trace.RodPosition, Period: 0.01}}
	r.Rejects, r.Rejected = 2, []trace.Cell{{Row: 12, Column: "lt", Text: "x"}}
	report := Check([]*trace.Reading{r}, nil)
	for id, severity := range map[string]Severity{TimeJitter: Harm, TimeBackwards: Note, MissingRows: Harm, EncoderWrap: Harm, HeldSamples: Note, UnreadableCells: Note} {
		found := false
		for _, f := range report.Findings {
			if f.ID == id {
				found = true
				if f.Severity != severity {
					t.Errorf("%s is a %v, want %v: %s", id, f.Severity, severity, f.Text)
				}
			}
		}
		if !found {
			t.Errorf("%s not found", id)
		}
	}
}

func TestMassDisagreement(t *testing.T) {
	found := plant.MovingMass.Found(480, 460, 500, "logs")
	for stated, want := range map[float64]bool{0: false, 480: false, 420: false, 540: false, 300: true, 700: true} {
		if _, got := MassDisagreement(found, stated); got != want {
			t.Errorf("480 kg found, %g kg stated: disagree %v, want %v", stated, got, want)
		}
	}
	if _, got := MassDisagreement(plant.MissingFrom("steps"), 300); got {
		t.Error("a missing mass disagrees")
	}
}

func TestSlowSpeedLoop(t *testing.T) {
	bandwidth := plant.DriveBandwidth.Found(2*math.Pi*10, 60, 65, "multisine")
	if _, slow := SlowSpeedLoop(bandwidth, 2*math.Pi*3); slow {
		t.Error("10 Hz against 3 Hz called slow")
	}
	if f, slow := SlowSpeedLoop(bandwidth, 2*math.Pi*4); !slow || f.ID != SpeedLoopSlow {
		t.Error("10 Hz against 4 Hz not called slow")
	}
}

// A second-order loop of damping 0.4 overshoots by 25.3827 % (exp(-pi z/sqrt(1-z²))); one of
// 0.3 rings, one of 0.6 does not.
func TestRingingSpeedLoop(t *testing.T) {
	for damping, want := range map[float64]bool{0.3: true, 0.6: false} {
		var u, theta, x []float64
		var angle, speed, accel float64
		for i := range 20000 {
			command := []float64{0, 100, 30, -80}[i/1000%4]
			for range 10 {
				w := 2 * math.Pi * 20.0
				accel += 1e-4 * (w*w*(command-speed) - 2*damping*w*accel)
				speed += 1e-4 * accel
				angle += 1e-4 * speed
			}
			u, theta, x = append(u, command), append(theta, angle), append(x, 0.1+4e-4*angle)
		}
		report := Check([]*trace.Reading{reading(t, 1e-3, map[trace.Channel][]float64{trace.SpeedCommand: u, trace.MotorPosition: theta, trace.RodPosition: x})}, nil)
		if _, got := find(report, SpeedLoopRinging, trace.SpeedCommand); got != want {
			t.Errorf("damping %g: ringing %v, want %v", damping, got, want)
			show(t, report)
		}
	}
}

// Slip, modulus and the transducer's lag are rough here, but must be of the size that
// the simulated machine has: the judgement of units and clocks stands on them.
func TestRoughFiguresOfASimulatedMachine(t *testing.T) {
	sim := twin.Random(twin.Resisting, 3)
	v := newView(read(t, twin.AsFound(sim, sim.Loops), nil), machineOf(t, sim))
	v.wiring = v.judgeWiring()
	slip, ok := v.slipShare()
	want := (sim.LeakInternal + sim.LeakCase) / sim.Displacement * 100e5 / sim.MaxSpeed
	if !ok || math.Abs(math.Log(slip/want)) > 0.3 {
		t.Errorf("slip %g of full speed, want %g", slip, want)
	}
	modulus, _, ok := v.modulus()
	if !ok || modulus < 0.25*sim.Modulus || modulus > 1.2*sim.Modulus {
		t.Errorf("modulus %g Pa, the oil has %g without air, hoses and dead volume", modulus, sim.Modulus)
	}
	l := v.findClocks().of[trace.RodPosition]
	if delay := sim.Sensors.PositionDelay + sim.Sensors.PositionLag; !l.told() || math.Abs(l.value-delay) > 0.5e-3 {
		t.Errorf("rod position lags by %g s, want %g", l.value, delay)
	}
}

func TestMotionWithoutPressuresIsPartlyIdentifiable(t *testing.T) {
	r, m := rig(t, "press-vertical", "survey.csv")
	samples := map[trace.Channel][]float64{}
	for _, c := range []trace.Channel{trace.SpeedCommand, trace.MotorPosition, trace.RodPosition} {
		samples[c], _ = r.Trace.Samples(c)
	}
	report := Check([]*trace.Reading{reading(t, 1e-3, samples)}, m)
	if bad := ids(report, Harm); len(bad) > 0 {
		t.Errorf("found %v", bad)
		show(t, report)
	}
	for p, can := range map[plant.Param]bool{plant.StrokePerTurnExtend: true, plant.HydraulicFrequency: true, plant.DriveBandwidth: true, plant.LostMotion: true,
		plant.Slip: false, plant.MovingMass: false, plant.CoulombFriction: false, plant.BulkModulus: false} {
		if got := report.Identifiable[p]; got.Can != can {
			t.Errorf("%v: can %v, want %v (%s)", p, got.Can, can, got.Why)
		}
	}
	for _, move := range report.Missing {
		if move != motion.PositionSteps.String() {
			t.Errorf("%s would not bring the pressures", move)
		}
	}
}

// The check must stay far below reading the file: under 0.2 s for ten minutes at 1 kHz.
func BenchmarkCheck600k(b *testing.B) {
	r, m := rig(b, "press-vertical", "survey.csv")
	samples := map[trace.Channel][]float64{}
	for _, c := range r.Trace.Channels() {
		y, _ := r.Trace.Samples(c)
		var long []float64
		for len(long) < 600000 {
			base := 0.0
			if c == trace.MotorPosition && len(long) > 0 {
				base = long[len(long)-1] - y[0]
			}
			for _, s := range y {
				long = append(long, s+base)
			}
		}
		samples[c] = long[:600000]
	}
	long := reading(b, 1e-3, samples)
	long.Resolution = r.Resolution
	b.ResetTimer()
	for range b.N {
		Check([]*trace.Reading{long}, m)
	}
}

// Columns that bear each other's names are named, and nothing that follows from it.
func TestSwappedColumns(t *testing.T) {
	r, m := rig(t, "press-vertical", "asfound.csv")
	samples := func(swaps ...[2]trace.Channel) *trace.Reading {
		all := map[trace.Channel][]float64{}
		for _, c := range r.Trace.Channels() {
			all[c], _ = r.Trace.Samples(c)
		}
		for _, s := range swaps {
			all[s[0]], all[s[1]] = all[s[1]], all[s[0]]
		}
		return reading(t, 1e-3, all)
	}
	report := Check([]*trace.Reading{samples([2]trace.Channel{trace.SpeedCommand, trace.PositionCommand})}, m)
	if got := ids(report, Harm); len(got) != 1 || got[0] != SwappedColumns {
		t.Errorf("commands exchanged: %v", got)
		show(t, report)
	}
	// mm taken for rev and rev for mm.
	x, _ := r.Trace.Samples(trace.RodPosition)
	theta, _ := r.Trace.Samples(trace.MotorPosition)
	both := samples()
	all := map[trace.Channel][]float64{}
	for _, c := range both.Trace.Channels() {
		all[c], _ = both.Trace.Samples(c)
	}
	turns, mm := make([]float64, len(x)), make([]float64, len(x))
	for i := range x {
		turns[i], mm[i] = x[i]*1e3*2*math.Pi, theta[i]/(2*math.Pi)*1e-3
	}
	all[trace.MotorPosition], all[trace.RodPosition] = turns, mm
	report = Check([]*trace.Reading{reading(t, 1e-3, all)}, m)
	if got := ids(report, Stop); len(got) != 1 || got[0] != SwappedColumns {
		t.Errorf("positions exchanged: %v", got)
		show(t, report)
	}
}

// Channels that only repeat another one: the drive's own speed, 13 % off or reversed or
// exchanged with the command; a load cell reversed.
func TestFollowingChannels(t *testing.T) {
	r, m := rig(t, "press-vertical", "survey.csv")
	all := map[trace.Channel][]float64{}
	for _, c := range r.Trace.Channels() {
		all[c], _ = r.Trace.Samples(c)
	}
	speed, _ := motion.MotorSpeed(r.Trace)
	force := make([]float64, len(speed))
	for i := range force {
		force[i] = 3.117e-3*all[trace.CapPressure][i] - 2.099e-3*all[trace.RodPressure][i]
	}
	times := func(y []float64, by float64) []float64 {
		out := make([]float64, len(y))
		for i := range y {
			out[i] = by * y[i]
		}
		return out
	}
	for name, c := range map[string]struct {
		command, speed, force []float64
		id                    string
		channel               trace.Channel
	}{
		"right":          {all[trace.SpeedCommand], speed, force, "", trace.NoChannel},
		"13 % off":       {all[trace.SpeedCommand], times(speed, 1.13), force, SpeedScale, trace.MotorSpeed},
		"reversed":       {all[trace.SpeedCommand], times(speed, -1), force, WrongSign, trace.MotorSpeed},
		"exchanged":      {speed, all[trace.SpeedCommand], force, SwappedColumns, trace.SpeedCommand},
		"force reversed": {all[trace.SpeedCommand], speed, times(force, -1), WrongSign, trace.Force},
		"rpm for rad/s":  {all[trace.SpeedCommand], times(speed, 30/math.Pi), force, UnitDoubtful, trace.MotorSpeed},
	} {
		all[trace.SpeedCommand], all[trace.MotorSpeed], all[trace.Force] = c.command, c.speed, c.force
		report := Check([]*trace.Reading{reading(t, 1e-3, all)}, m)
		got := ids(report, Harm)
		if c.id == "" && len(got) == 0 {
			continue
		}
		if _, ok := find(report, c.id, c.channel); !ok || len(got) != 1 {
			t.Errorf("%s: %v", name, got)
			show(t, report)
		}
	}
}
