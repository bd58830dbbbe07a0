package tui

import (
	"context"
	"errors"
	"math"
	"sync"
	"time"

	"eha/strokewise/ident/machine"
	"eha/strokewise/ident/plant"
	"eha/strokewise/ident/quality"
	"eha/strokewise/ident/quantity"
	"eha/strokewise/ident/trace"
	"eha/strokewise/tuning"
	"eha/strokewise/tuning/job"
	"eha/strokewise/tuning/law"
)

// The invented machine of these tests; its numbers are plausible, nothing more.

func found(p plant.Param, v, half float64, from string) plant.Estimate {
	f := p.Info().Factor
	return p.Found(v/f, (v-half)/f, (v+half)/f, from)
}

func fakePlant() *plant.Plant {
	p := &plant.Plant{
		Machine:    machine.Machine{Name: "test press", Cylinder: machine.Cylinder{Bore: 0.05, Rod: 0.028, Stroke: 0.3}},
		AreasKnown: true, MassKnown: true, PressuresSeen: true,
		Params: map[plant.Param]plant.Estimate{
			plant.StrokePerTurnExtend:  found(plant.StrokePerTurnExtend, 2.551, 0.006, "4 slow strokes"),
			plant.StrokePerTurnRetract: found(plant.StrokePerTurnRetract, 3.713, 0.009, "4 slow strokes"),
			plant.StrokePerTurnCap:     found(plant.StrokePerTurnCap, 2.55, 0.005, "4 slow strokes"),
			plant.Slip:                 found(plant.Slip, 0.0112, 0.0006, "12 speeds at 6 pressures"),
			plant.LostMotion:           plant.MissingFrom("reversals"),
			plant.HydraulicFrequency:   found(plant.HydraulicFrequency, 18.2, 0.7, "multisine"),
			plant.HydraulicDamping:     found(plant.HydraulicDamping, 0.12, 0.07, "multisine"),
			plant.BulkModulus:          found(plant.BulkModulus, 1.05, 0.11, "compliance and areas"),
			plant.DriveBandwidth:       found(plant.DriveBandwidth, 41, 1.5, "multisine"),
			plant.DriveDamping:         found(plant.DriveDamping, 0.71, 0.03, "multisine"),
			plant.DeadTime:             found(plant.DeadTime, 1.8, 0.3, "multisine"),
			plant.OuterDelay:           {Value: 1.5e-3, Low: 0.5e-3, High: 3e-3, Status: plant.Assumed, From: "1.5 controller periods"},
			plant.MovingMass:           found(plant.MovingMass, 480, 31, "pulses"),
			plant.CoulombFriction:      found(plant.CoulombFriction, 0.91, 0.05, "speed steps"),
			plant.AxialLoad:            found(plant.AxialLoad, -4.71, 0.04, "slow strokes"),
			plant.ContactStiffness:     plant.MissingFrom("press and hold"),
		},
		Warnings: []string{"slip and viscosity hold for 31 to 38 degC oil"},
	}
	p.Model = plant.Model{Stroke: 0.3, Mass: 480, Area: plant.PerChamber[float64]{Cap: 1.963e-3, Rod: 1.348e-3},
		Displacement: 0.8e-6, Coulomb: plant.PerDirection[float64]{Extend: 910, Retract: 910}, Viscous: 1500, OuterDelay: 1.5e-3}
	p.Seen = plant.Seen{RodSpeed: [2]float64{-0.18, 0.15}, Force: [2]float64{-3000, 9000}}
	p.Validation = plant.Validation{HeldOut: 60, RodSpeed: 0.081, CapPressure: 0.12, RodPressure: 0.15, StrokeFromTurns: 0.2e-3, Verdict: "On moves left out it explains 92 % of rod speed."}
	for i := 0; i <= 20; i++ {
		x := float64(i) / 20
		p.StrokeMap.Position = append(p.StrokeMap.Position, 0.3*x)
		p.StrokeMap.PerTurn.Extend = append(p.StrokeMap.PerTurn.Extend, (2.55+0.01*math.Sin(9*x))/plant.StrokePerTurnExtend.Info().Factor)
		p.StrokeMap.PerTurn.Retract = append(p.StrokeMap.PerTurn.Retract, (3.71+0.02*math.Cos(7*x))/plant.StrokePerTurnExtend.Info().Factor)
		v := -0.18 + 0.33*x
		p.Evidence.Friction = append(p.Evidence.Friction, plant.Point{X: v, Y: math.Copysign(910, v) + 1500*v + 60*math.Sin(40*x)})
		p.Evidence.Slip = append(p.Evidence.Slip, plant.Point{X: 1e7 * x, Y: 0.0112 * 1e2 * x * 2 * math.Pi})
		p.Evidence.Resonance = append(p.Evidence.Resonance, plant.Point{X: 0.3 * x, Y: 2 * math.Pi * (18 + 14*(x-0.5)*(x-0.5))})
	}
	p.StrokeMap.ResidualWorst = 0.21e-3
	r := plant.FrequencyResponse{From: "speed_command", To: "motor_speed", Position: 0.15}
	for i := 0; i < 30; i++ {
		w := 2 * math.Pi * math.Pow(10, float64(i)/14)
		h := 1 / complex(1-w*w/257/257, 2*0.71*w/257)
		r.Omega, r.Fitted = append(r.Omega, w), append(r.Fitted, h)
		r.Measured = append(r.Measured, h*complex(1+0.03*math.Sin(float64(i)*2), 0))
		r.Coherence = append(r.Coherence, 1-0.2*float64(i)/30)
	}
	p.Evidence.Responses = []plant.FrequencyResponse{r}
	return p
}

func fakeOptions() tuning.Options {
	return tuning.Options{GainShare: 0.8, Targets: law.Targets{SensitivityPeak: 1.5, GainMargin: ratio(9), PhaseMargin: math.Pi / 4}}
}

func fakePropose(_ context.Context, p *plant.Plant, o tuning.Options) (*tuning.Proposal, error) {
	k := 11 * o.GainShare
	t := &tuning.Proposal{Targets: o.Targets, Model: p.Model, NotProposed: map[string]string{"force": "the logs hold no pressing; log press and hold"},
		Loops: law.Loops{Position: &law.Position{Period: 1e-3, Kp: plant.PerDirection[float64]{Extend: k, Retract: 0.9 * k}, Feedforward: 1,
			Turns: plant.PerDirection[float64]{Extend: 2463, Retract: 1692}, SpeedLimit: 283, Window: 2e-5, WindowTime: 0.1}},
		Worst:    map[string]tuning.Margin{},
		Limits:   []tuning.Limit{{What: "hydraulic resonance at 18.2 Hz, rod side, 240 mm, 768 kg", Remedy: "half the hose volume", Gain: 1.31}},
		Cautions: tuning.Cautions(true, false), Demo: p.Demo,
		Scales:  []tuning.ScaleForm{{Form: "integers", Text: "12345 : 4836", ErrorPPM: 3, Error: 1e-6, Note: "fits 16 bits"}},
		BringUp: []tuning.BringUpStep{{Title: "Save and print what is in the drive now", Do: []string{"save the parameter set"}, Back: "load that set"}, {Title: "A quarter of the gain", Settings: nil, Do: []string{"enter, enable, step 2 mm"}, Expect: []string{"rise about 0.9 s"}, StopIf: []string{"hum or growing swing"}, Back: "disable"}},
		Events: []tuning.PressEvent{{Scenario: Scenario{ID: "press", Title: "Approach, press with 4 kN, step to 8 kN and back", Force: true}, From: 4e3, To: 8e3,
			PeakForce: tuning.Range{Value: 8200, Low: 8000, High: 8900}, PeakWork: tuning.Range{Value: 7600, Low: 7400, High: 8300}, RodSpeed: tuning.Range{Value: 6e-3, Low: 5e-3, High: 7e-3},
			Thrown: tuning.Range{Value: 0.013, Low: 0.013, High: 0.013}, Rests: tuning.Range{Value: -2e-3, Low: -3e-3, High: -1e-3}, HandOvers: tuning.Range{Value: 1, Low: 0, High: 3}}},
		Guards: tuning.Guards{Mismatch: 4e-3, MismatchTime: 0.5, PlainMismatch: 6e-3, PressureLimit: 1.6e7, SoftLow: 0.01, SoftHigh: 0.29, Why: []string{"Mismatch: four times what the logs show."}},
	}
	for _, d := range []plant.Direction{plant.Extend, plant.Retract} {
		for i := 0; i < 7; i++ {
			m := tuning.Margin{Loop: "position", Direction: d, Chamber: plant.Chamber(d), Position: 0.01 + 0.04*float64(i), MassFactor: 1.6, Mass: 768, Stable: true,
				GainMargin: ratio(9.1 + 0.3*math.Abs(float64(i)-3) + float64(d)), PhaseMargin: 1.1, Sensitivity: 1.48, DelayMargin: 6e-3, Why: "the resonance in the middle of the stroke"}
			t.Margins = append(t.Margins, m)
			if d == plant.Extend && i == 3 {
				t.Worst["position"] = m
			}
		}
	}
	return t, nil
}

// fakeQuickLook scales the gain and knows nothing else of the options.
func fakeQuickLook(p *plant.Plant, t *tuning.Proposal, was, now tuning.Options, id string) (*tuning.Proposal, *Response, error) {
	set := *t.Loops.Position
	set.Kp.Extend *= now.GainShare / was.GainShare
	look := &tuning.Proposal{Loops: law.Loops{Position: &set}, Targets: now.Targets, Model: t.Model, NotProposed: t.NotProposed, Worst: t.Worst, Cautions: t.Cautions, Margins: t.Margins}
	r, err := fakeRespond(context.Background(), p, look, nil, id)
	r.Quick, r.Note, r.Proposed.Low, r.Proposed.High = true, "Quick look.", nil, nil
	for i := range r.Figures {
		v := r.Figures[i].Proposed.Value
		r.Figures[i].Proposed = tuning.Range{Value: v, Low: v, High: v}
	}
	return look, r, err
}

func fakeScenarios(*plant.Plant, *tuning.Proposal) []Scenario {
	return []Scenario{{ID: "step", Title: "Step of 9 mm, extending"}, {ID: "kick", Title: "Load kick of 2 kN"}}
}

func fakeRespond(_ context.Context, p *plant.Plant, t *tuning.Proposal, found *law.Loops, id string) (*Response, error) {
	s := fakeScenarios(p, t)[0]
	if id == "kick" {
		s = fakeScenarios(p, t)[1]
	}
	r := &Response{Scenario: s, Period: 1e-3, Note: "Band: 20 draws from the fit's intervals."}
	k := t.Loops.Position.Kp.Extend
	for i := 0; i < 800; i++ {
		ti := float64(i) * 1e-3
		at := func(k float64) float64 { return 0.141 + 0.009*(1-math.Exp(-k*ti)) }
		r.Reference = append(r.Reference, 0.15)
		r.Proposed.Output = append(r.Proposed.Output, at(k))
		r.Proposed.Low = append(r.Proposed.Low, at(0.8*k))
		r.Proposed.High = append(r.Proposed.High, at(1.2*k))
		r.Proposed.Speed = append(r.Proposed.Speed, 100*math.Exp(-k*ti))
		r.Proposed.CapPressure = append(r.Proposed.CapPressure, 4e6+1e6*math.Exp(-k*ti))
		r.Proposed.RodPressure = append(r.Proposed.RodPressure, 3e5)
	}
	figure := func(name string, d quantity.Dimension, value, low, high float64) Figure {
		return Figure{Name: name, Quantity: d, Proposed: tuning.Range{Value: value, Low: low, High: high}}
	}
	r.Figures = []Figure{figure("rise", quantity.Time, 2.2/k, 2/k, 2.5/k), figure("settling", quantity.Time, 4/k, 3.5/k, math.Inf(1)),
		figure("overshoot", quantity.Percent, 0.01, 0, 0.03)}
	return r, nil
}

// fakeTrace is a minute of slow strokes; traces never change, so one serves all tests.
var fakeTrace = sync.OnceValue(func() *trace.Trace {
	const n = 6000
	s := map[trace.Channel][]float64{}
	for i := 0; i < n; i++ {
		t := float64(i) * 1e-2
		s[trace.SpeedCommand] = append(s[trace.SpeedCommand], 100*math.Sin(t/3))
		s[trace.MotorPosition] = append(s[trace.MotorPosition], -300*math.Cos(t/3))
		s[trace.RodPosition] = append(s[trace.RodPosition], 0.15-0.1*math.Cos(t/3))
		s[trace.CapPressure] = append(s[trace.CapPressure], 4e6+3e5*math.Cos(t/3)+1e5*math.Sin(9*t))
		s[trace.RodPressure] = append(s[trace.RodPressure], 3e5+1e5*math.Sin(7*t))
		s[trace.MotorSpeed] = append(s[trace.MotorSpeed], 99*math.Sin((t-0.01)/3))
	}
	tr, err := trace.New("survey.csv", 1e-2, 0, s, []trace.Span{{From: 2000, To: 2100}})
	if err != nil {
		panic(err)
	}
	return tr
})

func fakeLogs() *Logs {
	r := &trace.Reading{Trace: fakeTrace(), Rows: 6000, Clock: trace.Clock{Has: true, Period: 1e-2}, Layout: trace.Layout{Headers: []string{"t", "n_set", "enc", "LT", "pA", "pB", "n_act", "spare"}},
		Guesses: []trace.Guess{
			{Channel: trace.RodPosition, Column: "LT", Index: 3, Unit: "mm", Sure: 0.97, Why: "header word, unit, follows the encoder"},
			{Channel: trace.CapPressure, Column: "pA", Index: 4, Unit: "bar", Sure: 0.7, Why: "unit, rises while extending", Others: []string{"pB"}},
			{Channel: trace.OilTemperature, Column: "spare", Index: 7, Asked: true, Others: []string{"aux"}},
		}}
	return &Logs{Job: &job.Job{Machine: machine.Machine{Name: "test press"}, Readings: []*trace.Reading{r}}, Paths: []string{"/data/survey.csv"},
		Report: quality.Report{Findings: []quality.Finding{
			{ID: "missing_rows", Severity: quality.Harm, Channel: trace.CapPressure, Log: "survey.csv", From: 20, To: 21, Text: "100 rows are missing.", Do: "log again with a longer buffer"},
			{ID: "held_samples", Severity: quality.Note, Channel: trace.RodPosition, Log: "survey.csv", From: 0, To: 60, Text: "rod position is updated every 4 ms."}},
			Identifiable: map[plant.Param]quality.Identifiable{plant.Slip: {Can: true}, plant.LostMotion: {Move: "reversals"}, plant.ContactStiffness: {Move: "press_hold", Why: "nothing is pressed"}}}}
}

// sheetOf is a table whose columns have the names; each is a curve of its own.
func sheetOf(names ...string) *trace.Sheet {
	s := &trace.Sheet{File: "survey.csv", Rows: 6000}
	for j, name := range names {
		c := trace.SheetColumn{Name: name, Header: name, Numbers: true, First: []float64{0, 0.01 * float64(j), 0.02 * float64(j)}, Low: -float64(j), High: 100 * float64(j)}
		for k := range 50 {
			c.Curve = append(c.Curve, math.Sin(float64(k*(j+1))/20), math.Sin(float64(k*(j+1))/20)+0.1)
		}
		s.Columns = append(s.Columns, c)
	}
	return s
}

// fakeSheet is the table that the fake logs were read from.
func fakeSheet() *trace.Sheet {
	r := fakeLogs().Readings[0]
	s := sheetOf(r.Layout.Headers...)
	s.Guesses = r.Guesses
	return s
}

// unmapped is a program whose logs cannot be read before the rod position is stated.
func unmapped(names ...string) Services {
	s := fakeServices()
	s.Load = func(_ context.Context, req Request, _ Progress) (*Logs, error) {
		if req.Columns[trace.RodPosition].Header == "" && !req.Demo {
			return nil, &job.FileError{Path: "/data/survey.csv", Err: &trace.ReadError{File: "survey.csv", Problem: "no column could be taken for a channel of the machine",
				Advice: "say which column is which, such as --channel 'rod_position=ch1[mm]'"}}
		}
		return fakeLogs(), nil
	}
	s.Look = func(_ context.Context, req Request, _ string, _ Progress) (*trace.Sheet, map[trace.Channel]trace.Column, error) {
		return sheetOf(names...), req.Columns, nil
	}
	return s
}

// closedTrace is half a minute under a position loop with a gain of 8 1/s; the time
// was not logged.
var closedTrace = sync.OnceValue(func() *trace.Trace {
	const n = 3000
	s := map[trace.Channel][]float64{}
	x := 0.1
	for i := 0; i < n; i++ {
		r := 0.1
		if i%1000 >= 500 {
			r = 0.12
		}
		s[trace.PositionCommand] = append(s[trace.PositionCommand], r)
		s[trace.RodPosition] = append(s[trace.RodPosition], x)
		s[trace.MotorSpeed] = append(s[trace.MotorSpeed], 8*(r-x)*2463)
		x += 8 * (r - x) * 0.01
	}
	tr, err := trace.New("usual.csv", 1e-2, 0, s, nil)
	if err != nil {
		panic(err)
	}
	return tr
})

// closedLogs are the fake logs with a closed-loop one.
func closedLogs() *Logs {
	l := fakeLogs()
	l.Readings = append(l.Readings, &trace.Reading{Trace: closedTrace(), Rows: 3000, Clock: trace.Clock{Period: 1e-2}})
	l.Paths = append(l.Paths, "/data/usual.csv")
	return l
}

// fakeReplay follows the reference with the gain given.
func fakeReplay(_ *plant.Plant, found law.Loops, t *trace.Trace) ([]plant.Overlay, error) {
	r, _ := t.Samples(trace.PositionCommand)
	rod, _ := t.Samples(trace.RodPosition)
	speed, _ := t.Samples(trace.MotorSpeed)
	x := rod[0]
	y, n := make([]float64, len(r)), make([]float64, len(r))
	for i := range r {
		y[i], n[i] = x, found.Position.Kp.Extend*(r[i]-x)*2463
		x += found.Position.Kp.Extend * (r[i] - x) * t.Period()
	}
	return []plant.Overlay{{Channel: trace.RodPosition.String(), Period: t.Period(), Measured: rod, Modeled: y},
		{Channel: trace.MotorSpeed.String(), Period: t.Period(), Measured: speed, Modeled: n}}, nil
}

func stoppedLogs() *Logs {
	l := fakeLogs()
	l.Report.Findings = append([]quality.Finding{{ID: "wrong_sign", Severity: quality.Stop, Channel: trace.RodPosition, Log: "survey.csv", From: 0, To: 60, Affects: []plant.Param{plant.StrokePerTurnExtend, plant.AxialLoad},
		Cure: quality.Cure{Kind: quality.TurnSign, Channel: trace.RodPosition},
		Text: "rod position runs against the encoder: closing a loop on it is a runaway.", Do: "turn the sign of rod position (m) or its wiring, and log a jog again"}}, l.Report.Findings...)
	return l
}

func fakeServices() Services {
	return Services{
		Load: func(context.Context, Request, Progress) (*Logs, error) { return fakeLogs(), nil },
		Look: func(_ context.Context, req Request, path string, _ Progress) (*trace.Sheet, map[trace.Channel]trace.Column, error) {
			return fakeSheet(), req.Columns, nil
		},
		Fit:       func(context.Context, *Logs, Progress) (*plant.Plant, error) { return fakePlant(), nil },
		Propose:   fakePropose,
		QuickLook: fakeQuickLook,
		Scenarios: fakeScenarios,
		Respond:   fakeRespond,
		Replay:    fakeReplay,
		Curve: func(_ *plant.Plant, t *tuning.Proposal, _ tuning.Margin) (omega []float64, open []complex128, err error) {
			for i := 0; i < 300; i++ {
				w := math.Pow(10, float64(i)/100)
				omega = append(omega, w)
				open = append(open, complex(t.Loops.Position.Kp.Extend, 0)/complex(0, w)/complex(1-w*w/114/114, 0.24*w/114))
			}
			return omega, open, nil
		},
		Folder: func(dir string) ([]File, error) {
			if dir == "/bad" {
				return nil, errors.New("no such folder")
			}
			return []File{{Name: "older", Path: "/data/older", Kind: FolderFile}, {Name: "survey.csv", Path: "/data/survey.csv", Kind: LogFile, Size: 43_400_000, Changed: time.Unix(1, 0)},
				{Name: "machine.toml", Path: "/data/machine.toml", Kind: MachineFile, Size: 900, Changed: time.Unix(1, 0)}}, nil
		},
		SaveProposal:   func(string, *plant.Plant, *tuning.Proposal) error { return nil },
		SaveComparison: func(string, *plant.Plant, *Comparison, quantity.System) error { return nil },
		SaveInUse:      func(string, *law.Loops) error { return nil },
		Compare:        fakeCompare,
		SaveColumns:    func(string, string, map[trace.Channel]trace.Column) error { return nil },
	}
}

// demoWork is a bench as the program opens with.
func demoWork() Work {
	p := fakePlant()
	p.Demo = true
	return Work{Demo: true, Plant: p, Options: fakeOptions()}
}
