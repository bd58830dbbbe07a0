package tui

import (
	"context"
	"math"

	"eha/strokewise/ident/plant"
	"eha/strokewise/ident/trace"
	"eha/strokewise/tuning/compare"
)

// fakeCompare is a comparison in which slip doubled and a step went better after
// than before; the other way round what was better is worse.
func fakeCompare(_ context.Context, _ Request, _ *Logs, p *plant.Plant, _ Progress) (*Comparison, error) {
	other := fakeLogs()
	t, err := trace.New("as-found-monday.csv", 1e-2, 0, map[trace.Channel][]float64{trace.RodPosition: {0, 1}}, nil)
	if err != nil {
		return nil, err
	}
	other.Readings[0].Trace = t
	return &Comparison{Other: other, OtherBefore: fakeReport(p, 1), OtherAfter: fakeReport(p, -1)}, nil
}

// fakeReport is the report one way (sign 1) or the other (-1).
func fakeReport(p *plant.Plant, sign float64) *compare.Report {
	verdict := func(v compare.Verdict) compare.Verdict {
		if sign < 0 && (v == compare.Better || v == compare.Worse) {
			return compare.Better + compare.Worse - v
		}
		return v
	}
	figure := func(f compare.Figure, before, after, half float64, v compare.Verdict) compare.Difference {
		if sign < 0 {
			before, after = after, before
		}
		return compare.Difference{Figure: f, Before: before, After: after, BeforeCount: 5, AfterCount: 6, Difference: after - before,
			Low: after - before - half, High: after - before + half, Verdict: verdict(v)}
	}
	move := func(from, to float64) compare.Move {
		m := compare.Move{From: from, To: to, Kind: compare.Step, Window: 1, Before: 5, After: 6, Figures: []compare.Difference{
			figure(compare.Rise, 0.31, 0.22, 0.01, compare.Better), figure(compare.Settling, math.NaN(), 0.41, 0.02, compare.TooFew),
			figure(compare.Overshoot, 0.001, 0.052, 0.004, compare.Worse), figure(compare.FollowingPeak, 0.0096, 0.0095, 1e-4, compare.NoDifference),
			figure(compare.FollowingRMS, 0.0024, 0.0021, 1e-5, compare.Better), figure(compare.FinalError, 4e-5, 1e-5, 1e-5, compare.Better),
			figure(compare.Hunting, 5e-6, 6e-6, 1e-6, compare.NoDifference), figure(compare.PeakPressure, 61e5, 62e5, 4e5, compare.TooFew),
			figure(compare.PeakSpeed, 210, 262, 3, compare.Worse), figure(compare.OilWork, 113, 115, 1, compare.NoDifference)}}
		for i := 0; i < 200; i++ {
			t := float64(i) * 5e-3
			at := func(k float64) float64 { return from + (to-from)*(1-math.Exp(-k*t)) }
			m.Overlay.Time = append(m.Overlay.Time, t)
			m.Overlay.Command = append(m.Overlay.Command, to)
			m.Overlay.Before = append(m.Overlay.Before, at(7-sign*2))
			m.Overlay.After = append(m.Overlay.After, at(7+sign*2))
		}
		return m
	}
	change := func(param plant.Param, ratio float64, changed bool) compare.Change {
		after := p.Est(param)
		before := after
		before.Value, before.Low, before.High = after.Value/ratio, after.Low/ratio, after.High/ratio
		if sign < 0 {
			before, after, ratio = after, before, 1/ratio
		}
		c := compare.Change{Param: param, Before: before, After: after, Ratio: ratio, RatioLow: 0.9 * ratio, RatioHigh: 1.1 * ratio, Changed: changed}
		if changed {
			c.OftenMeans, c.CouldAlsoBe = "a worn pump or leaking piston seal, or hot, thin oil", "warmer, thinner oil, or another oil"
		}
		return c
	}
	load := change(plant.AxialLoad, 1, false)
	load.Ratio, load.Difference, load.DiffLow, load.DiffHigh = math.NaN(), 5, -50, 60
	return &compare.Report{Moves: []compare.Move{move(0.141, 0.15), move(0.15, 0.141), move(0.1, 0.2), move(0.2, 0.1)},
		Plant: []compare.Change{change(plant.StrokePerTurnExtend, 1.001, false), change(plant.Slip, 2, true), change(plant.CoulombFriction, 0.98, false), load, change(plant.MovingMass, 1.01, false)},
		Notes: []string{"Left out, because the other set lacks them: 2 moves of before, 0 of after.", "Oil temperature was not logged in both sets."}}
}
