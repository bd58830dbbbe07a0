package quality

import (
	"bytes"
	"context"
	"math"
	"testing"

	"eha/strokewise/ident/trace"
	"eha/strokewise/samples/twin"
)

// A planted fault of wiring or units comes with the change that takes it away, and
// with that change made the log is clean of it.
func TestCures(t *testing.T) {
	sim := twin.Random(twin.Resisting, 100)
	sim.LogPeriod = 4e-3
	m := machineOf(t, sim)
	l := twin.Survey(sim)
	want := map[string]Cure{
		"rod position reversed":          {Kind: TurnSign, Channel: trace.RodPosition},
		"encoder reversed":               {Kind: TurnSign, Channel: trace.MotorPosition},
		"command reversed":               {Kind: TurnSign, Channel: trace.SpeedCommand},
		"current reversed":               {Kind: TurnSign, Channel: trace.MotorCurrent},
		"pressures swapped":              {Kind: Exchange, Channel: trace.CapPressure, With: trace.RodPressure},
		"command in rev/s called rpm":    {Kind: Rescale, Channel: trace.SpeedCommand, Factor: 1.0 / 60},
		"rod position in inch called mm": {Kind: Rescale, Channel: trace.RodPosition, Factor: 1 / 25.4},
		"encoder counts four times":      {Kind: Rescale, Channel: trace.MotorPosition, Factor: 4},
	}
	for i := range planted {
		f := &planted[i]
		cure, known := want[f.name]
		if !known {
			continue
		}
		_, report := tryFault(t, l, f, m, nil)
		found := false
		for _, g := range report.Findings {
			c := g.Cure
			found = found || c.Kind == cure.Kind && c.Channel == cure.Channel && c.With == cure.With && math.Abs(c.Factor-cure.Factor) <= 1e-9*math.Abs(cure.Factor)
		}
		if !found {
			t.Errorf("%s: no cure %+v", f.name, cure)
			show(t, report)
		}
	}
}

// What is left out is noted, its own findings are gone, and nothing else is.
func TestLeftOutIsNotedAndNotJudged(t *testing.T) {
	sim := twin.Random(twin.Resisting, 100)
	sim.LogPeriod = 4e-3
	m := machineOf(t, sim)
	var stuck *fault
	for i := range planted {
		if planted[i].name == "rod position stuck for a while" {
			stuck = &planted[i]
		}
	}
	r := read(t, twin.Survey(sim), stuck)
	count := func(id string) (n int) {
		for _, f := range Check([]*trace.Reading{r}, m).Findings {
			if f.ID == id {
				n++
			}
		}
		return n
	}
	if count(Flat) == 0 || count(LeftOut) != 0 {
		t.Fatalf("before: %d flat, %d left out", count(Flat), count(LeftOut))
	}
	if err := r.LeaveOut(trace.Stretch{From: 14.9, To: 17.1}); err != nil {
		t.Fatal(err)
	}
	if count(Flat) != 0 || count(LeftOut) != 1 {
		t.Errorf("after: %d flat, %d left out", count(Flat), count(LeftOut))
	}
}

// Counts that are called turns come with how many there are to a turn.
func TestCountsCalledTurns(t *testing.T) {
	sim := twin.Random(twin.Resisting, 100)
	sim.LogPeriod = 4e-3
	l := twin.Survey(sim)
	for _, perTurn := range []float64{4096, 2500, 1 << 17} {
		f := &fault{plant: func(c map[string][]float64, _ float64) {
			for i, y := range c["motor_position"] {
				c["motor_position"][i] = math.Round(y/rev*perTurn) * rev
			}
		}}
		report := Check([]*trace.Reading{read(t, l, f)}, machineOf(t, sim))
		found := false
		for _, g := range report.Findings {
			found = found || g.Cure == Cure{Kind: CountTurns, Channel: trace.MotorPosition, Factor: perTurn} && g.Severity == Stop
		}
		if !found {
			t.Errorf("%g counts a turn are not told", perTurn)
			show(t, report)
		}
	}
}

// A stated sample period that is twice the true one shows as a speed scale, and comes
// with what it should be.
func TestWrongPeriodIsCured(t *testing.T) {
	sim := twin.Random(twin.Resisting, 100)
	sim.LogPeriod = 4e-3
	var text bytes.Buffer
	if err := twin.Survey(sim).WriteCSV(&text); err != nil {
		t.Fatal(err)
	}
	r, err := trace.Read(context.Background(), &text, "survey", trace.ReadOptions{Period: 8e-3, Columns: map[trace.Channel]trace.Column{trace.Time: {Header: trace.NoColumn}}})
	if err != nil {
		t.Fatal(err)
	}
	report := Check([]*trace.Reading{r}, machineOf(t, sim))
	for _, f := range report.Findings {
		if c := f.Cure; f.ID == SpeedScale && c.Kind == Retime && math.Abs(c.Factor-2) < 0.02 {
			return
		}
	}
	t.Error("no period proposed")
	show(t, report)
}
