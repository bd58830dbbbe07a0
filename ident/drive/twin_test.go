package drive_test

import (
	"flag"
	"math"
	"testing"
	"time"

	"eha/strokewise/ident/drive"
	"eha/strokewise/ident/motion"
	"eha/strokewise/ident/plant"
	"eha/strokewise/samples/traces"
	"eha/strokewise/samples/twin"
)

var (
	machines   = flag.Int("machines", 1, "simulated machines of each kind to fit")
	firstSeed  = flag.Uint64("seed", 300, "seed of the first simulated machine")
	closedOnly = flag.Bool("closed", false, "fit the closed-loop log alone")
)

func readLog(t *testing.T, l *twin.Log) drive.Log {
	t.Helper()
	l.Rounded()
	tr := traces.Of(t, l)
	return drive.Log{Trace: tr, Motion: motion.Find(tr)}
}

// TestTwins fits the drives of simulated machines, of every kind with -machines
// above 1. Bounds are the
// targets at the 90th percentile, for a few machines of a fixed seed.
func TestTwins(t *testing.T) {
	if testing.Short() {
		t.Skip("simulates machines")
	}
	kinds := []twin.Kind{twin.Resisting, twin.Swap, twin.SlowLog, twin.NoPressures}
	if *machines > 1 {
		kinds = twin.Kinds()
	}
	for _, kind := range kinds {
		for k := range *machines {
			m := twin.Random(kind, *firstSeed+uint64(k))
			var logs []drive.Log
			for i, l := range twin.Logs(m) {
				if !*closedOnly || i > 0 {
					logs = append(logs, readLog(t, l))
				}
			}
			start := time.Now()
			r := drive.Fit(logs, m.ControlPeriod, m.Sensors.PressureLag)
			took := time.Since(start)
			loop := drive.FitLoop(logs, drive.Law{})
			t.Logf("%s %d: fit %d ms, loop %d ms, limit %.0f (%s), true %.0f, largest %.0f; k %.3g true %.3g", kind, m.Seed, took.Milliseconds(), time.Since(start).Milliseconds()-took.Milliseconds(),
				r.AccelLimit.Value, r.AccelLimit.Status, m.PeakTorque/m.Inertia, r.Largest, r.PerPressure, m.Displacement/m.Inertia)
			compare(t, plant.DriveBandwidth, r.Bandwidth, m.DriveFreq, 0.08*m.DriveFreq)
			compare(t, plant.DriveDamping, r.Damping, m.DriveDamping, 0.15*m.DriveDamping)
			compare(t, plant.DeadTime, r.DeadTime, m.DeadTime, 0.4*m.LogPeriod)
			compare(t, plant.OuterDelay, loop.Delay, m.OuterDelay, 0.5*m.LogPeriod)
		}
	}
}

// While pressing the pump's losses are as large as the motor's friction, and motions
// are small: taken for one plain sign, they passed for 12 % of damping here.
func TestLossesOfPressingAreNotDamping(t *testing.T) {
	if testing.Short() {
		t.Skip("simulates a machine")
	}
	m := twin.Random(twin.Pressing, 23321)
	r := drive.Fit([]drive.Log{readLog(t, twin.Survey(m))}, m.ControlPeriod, m.Sensors.PressureLag)
	compare(t, plant.DriveDamping, r.Damping, m.DriveDamping, 0.15*m.DriveDamping)
	if r.Damping.Low > m.DriveDamping || r.Damping.High < m.DriveDamping {
		t.Errorf("damping %.3f to %.3f, true %.3f", r.Damping.Low, r.Damping.High, m.DriveDamping)
	}
}

func compare(t *testing.T, p plant.Param, got plant.Estimate, want, limit float64) {
	t.Helper()
	f := p.Info().Factor
	mark := ""
	if got.Known() && (got.Low > want || got.High < want) {
		mark = "  OUTSIDE"
	}
	t.Logf("  %-16s %-10s %9.4f ±%.4f true %9.4f error %6.2f %%%s  %s", p, got.Status, got.Value*f, got.HalfWidth()*f, want*f, 100*(got.Value/want-1), mark, got.From)
	if got.Status == plant.Identified && math.Abs(got.Value-want) > limit {
		t.Errorf("%s identified %.4g, want %.4g within %.2g", p, got.Value*f, want*f, limit*f)
	}
}
