package quality

import (
	"math"
	"math/rand/v2"
	"testing"

	"eha/strokewise/ident/trace"
)

// changed returns the press rig's survey with one channel put through f, whose
// arguments are time (s) and value; a channel that is not there starts from 0.
func changed(t testing.TB, c trace.Channel, f func(s, y float64) float64) (*trace.Reading, Report) {
	t.Helper()
	r, m := rig(t, "press-vertical", "survey.csv")
	all := map[trace.Channel][]float64{}
	for _, held := range r.Trace.Channels() {
		all[held], _ = r.Trace.Samples(held)
	}
	y := make([]float64, r.Trace.Len())
	copy(y, all[c])
	for i := range y {
		y[i] = f(r.Trace.TimeAt(i), y[i])
	}
	all[c] = y
	made := reading(t, 1e-3, all)
	made.Resolution = map[trace.Channel]float64{}
	for k, v := range r.Resolution {
		made.Resolution[k] = v
	}
	return made, Check([]*trace.Reading{made}, m)
}

func TestSensors(t *testing.T) {
	rng := rand.New(rand.NewPCG(5, 6))
	for name, c := range map[string]struct {
		channel trace.Channel
		change  func(s, y float64) float64
		id      string
		least   Severity
	}{
		"warm":            {trace.OilTemperature, func(s, y float64) float64 { return 273.15 + 42 + s/200 }, "", Harm},
		"cold":            {trace.OilTemperature, func(s, y float64) float64 { return 273.15 + 12 + s/200 }, ColdOil, Harm},
		"warming":         {trace.OilTemperature, func(s, y float64) float64 { return 273.15 + 30 + s/15 }, WarmingUp, Harm},
		"degF as degC":    {trace.OilTemperature, func(s, y float64) float64 { return 273.15 + 160 }, UnitDoubtful, Note},
		"hum":             {trace.CapPressure, func(s, y float64) float64 { return y + 0.6e5*math.Sin(2*math.Pi*50*s) }, Noisy, Note},
		"noise":           {trace.RodPressure, func(s, y float64) float64 { return y + 3e5*rng.NormFloat64() }, Noisy, Harm},
		"absolute":        {trace.RodPressure, func(s, y float64) float64 { return y - 2.75e5 }, PressureOffset, Harm},
		"below vacuum":    {trace.CapPressure, func(s, y float64) float64 { return -y }, WrongSign, Stop},
		"beyond stroke":   {trace.RodPosition, func(s, y float64) float64 { return y + 0.06 }, NoZero, Harm},
		"dead":            {trace.RodPosition, func(s, y float64) float64 { return 0.1 }, Flat, Stop},
		"stretched by 20": {trace.RodPosition, func(s, y float64) float64 { return 1.2 * y }, Nameplate, Harm},
	} {
		_, report := changed(t, c.channel, c.change)
		got := ids(report, Harm)
		f, ok := find(report, c.id, c.channel)
		if c.id == Nameplate {
			f, ok = find(report, c.id, trace.NoChannel)
		}
		switch {
		case c.id == "" && len(got) == 0:
		case c.id == "" || !ok || f.Severity < c.least:
			t.Errorf("%s: found %v, want %q", name, got, c.id)
			show(t, report)
		case len(got) > 1:
			t.Errorf("%s: found %v, want %s alone", name, got, c.id)
			show(t, report)
		}
	}
}

func TestCoarseTransducer(t *testing.T) {
	r, _ := changed(t, trace.RodPosition, func(_, y float64) float64 { return math.Round(y/0.5e-3) * 0.5e-3 })
	r.Resolution[trace.RodPosition] = 0.5e-3
	_, m := rig(t, "press-vertical", "survey.csv")
	report := Check([]*trace.Reading{r}, m)
	if _, ok := find(report, CoarseResolution, trace.RodPosition); !ok {
		t.Errorf("steps of 0.5 mm: %v", ids(report, Note))
	}
}

// The rig presses up to its highest pressure for seconds: near the setting stated it is
// named, far below not.
func TestReliefSetting(t *testing.T) {
	r, m := rig(t, "press-vertical", "survey.csv")
	p, _ := r.Trace.Samples(trace.CapPressure)
	_, high := extremes(p)
	m.Limits.Relief = high / 1.02
	report := Check([]*trace.Reading{r}, m)
	if _, ok := find(report, ReliefReached, trace.NoChannel); !ok {
		t.Errorf("relief stated at %g Pa, reached %g Pa: %v", m.Limits.Relief, high, ids(report, Note))
	}
	m.Limits.Relief = 1.2 * high
	if _, ok := find(Check([]*trace.Reading{r}, m), ReliefReached, trace.NoChannel); ok {
		t.Error("relief named though the pressure stays below it")
	}
}

// A current that is level in three seconds of steady travel is sound; one that stays level
// through changes of speed is dead.
func TestLevelCurrent(t *testing.T) {
	for name, steady := range map[string]bool{"steady travel": true, "strokes": false} {
		rng := rand.New(rand.NewPCG(3, 4))
		y := map[trace.Channel][]float64{}
		for _, c := range []trace.Channel{trace.MotorPosition, trace.RodPosition, trace.MotorCurrent} {
			y[c] = make([]float64, 3000)
		}
		for i := range y[trace.MotorPosition] {
			theta := 0.1 * float64(i)
			if !steady {
				theta = 150 * math.Sin(float64(i)/300)
			}
			y[trace.MotorPosition][i], y[trace.RodPosition][i] = theta, 0.02+5e-4*theta
			y[trace.MotorCurrent][i] = 1.4 + 0.02*rng.NormFloat64()
		}
		report := Check([]*trace.Reading{reading(t, 1e-3, y)}, nil)
		if _, dead := find(report, Flat, trace.MotorCurrent); dead == steady {
			t.Errorf("%s: called dead %v", name, dead)
		}
	}
}
