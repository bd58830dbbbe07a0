package ident

import (
	"context"
	"errors"
	"fmt"

	"eha/strokewise/ident/balance"
	"eha/strokewise/ident/contact"
	"eha/strokewise/ident/drive"
	"eha/strokewise/ident/flow"
	"eha/strokewise/ident/lostmotion"
	"eha/strokewise/ident/machine"
	"eha/strokewise/ident/motion"
	"eha/strokewise/ident/plant"
	"eha/strokewise/ident/response"
	"eha/strokewise/ident/trace"
)

// Options are what a fit may be told besides logs and machine.
type Options struct {
	// AsFound is the position loop in use while closed-loop logs were made, nil
	// where not known. It sharpens the outer delay.
	AsFound *drive.Law
	// Progress is told the stage that begins and the share done; nil for none.
	// It is called from Fit's own goroutine.
	Progress func(stage string, done float64)
}

// A log shorter than this holds no move: time (s) and samples.
const (
	shortest = 0.5
	fewest   = 100
)

// DataError says that the logs hold neither turns against travel, nor the
// drive, nor mass and friction.
type DataError struct{ Logs int }

// Error implements error.
func (e *DataError) Error() string {
	logs := "logs"
	if e.Logs == 1 {
		logs = "log"
	}
	return fmt.Sprintf("ident: fit: %d %s: neither stroke per turn, the drive nor mass and friction could be found; log slow_strokes, speed_steps and multisine with speed command, motor position, rod position and both pressures", e.Logs, logs)
}

// fitting is a fit on its way: what goes in and what each stage found. A result
// that is nil was not to be had from these logs.
type fitting struct {
	machine *machine.Machine
	opt     Options

	given   []*trace.Trace   // all logs
	full    []*trace.Trace   // those long enough
	logs    []*trace.Trace   // the moves held out are gaps
	motion  []*motion.Motion // of logs
	heldOut [][]trace.Span   // per log

	stroke    *flow.Stroke
	oil       *flow.Oil
	resonance *flow.Resonance
	blind     *flow.Resonance // from position alone
	balance   *balance.Result
	force     *balance.ForceFit // where the force was measured and pressures were not
	drive     drive.Result
	loop      drive.Loop
	lost      lostmotion.Result
	contact   contact.Result
	responses []plant.FrequencyResponse
	lostSpeed lostSpeed // where no pressures tell slip
	ranges    map[trace.Channel][2]float64

	params     map[plant.Param]plant.Estimate
	refinement string // how output error ended
	warnings   []string
}

// Fit fits all parameters of the plant to the logs together; they must be of the
// same machine. Some moves are held out, and the model is tried on them.
//
// Every parameter is in the result: one that the logs cannot tell is missing and
// names the move to log, or assumed with its band. Fit returns a *DataError
// together with the plant where next to nothing was found, and ctx's error
// where it was cancelled. It panics if there are no logs.
func Fit(ctx context.Context, logs []*trace.Trace, m *machine.Machine, opt Options) (*plant.Plant, error) {
	if len(logs) == 0 {
		panic("ident: fit without logs")
	}
	if m == nil {
		m = &machine.Machine{}
	}
	f := &fitting{machine: m, opt: opt, given: logs}
	for _, t := range logs {
		if t.Duration() >= shortest && t.Len() >= fewest {
			f.full = append(f.full, t)
		} else {
			f.warnings = append(f.warnings, fmt.Sprintf("%s: %.3g s with %d samples is too short to be used", t.Name(), t.Duration(), t.Len()))
		}
	}
	stages := []struct {
		name string
		run  []func()
	}{
		{"finding moves", []func(){f.findMoves}},
		{"turns against travel, forces", []func(){f.fitForces, func() { f.fitStroke(); f.measureResponses(); f.findRanges() }}},
		{"oil and drive", []func(){f.fitOil, func() { f.fitDrive(); f.fitBlind() }}},
		{"reversals and contact", []func(){f.fitReversals}},
	}
	for i, s := range stages {
		if err := ctx.Err(); err != nil {
			return nil, err
		}
		f.progress(s.name, float64(i)/float64(len(stages)+1))
		together(s.run)
	}
	if err := ctx.Err(); err != nil {
		return nil, err
	}
	f.progress("trying the model on moves held out", float64(len(stages))/float64(len(stages)+1))
	p := f.assemble()
	f.progress("done", 1)
	if !f.anythingFound() {
		return p, &DataError{len(logs)}
	}
	return p, nil
}

func (f *fitting) progress(stage string, done float64) {
	if f.opt.Progress != nil {
		f.opt.Progress(stage, done)
	}
}

// fitStroke fits turns to stroke, slip and the transducer.
func (f *fitting) fitStroke() {
	stroke, err := flow.FitStroke(f.logs, f.machine)
	if err != nil {
		if !errors.Is(err, flow.ErrNoMotion) && !errors.Is(err, flow.ErrTooLittle) {
			f.warnings = append(f.warnings, err.Error())
		}
		return
	}
	for _, p := range []plant.Param{plant.StrokePerTurnExtend, plant.StrokePerTurnRetract, plant.StrokePerTurnCap, plant.StrokePerTurnRod} {
		if e := stroke.Params[p]; e.Known() && e.Value <= 0 || stroke.Displacement.Value <= 0 {
			f.warnings = append(f.warnings, "motor turns and rod position run against each other: check their signs and columns")
			return
		}
	}
	f.stroke = stroke
}

// fitForces fits mass, friction and load from pressures, else from a load cell.
func (f *fitting) fitForces() {
	logs := make([]balance.Log, len(f.logs))
	for i, t := range f.logs {
		logs[i] = balance.Log{Trace: t}
		for _, p := range f.presses(i) {
			logs[i].Exclude = append(logs[i].Exclude, p.Span)
		}
	}
	area, _ := areas(f.machine)
	known := balance.Known{Area: area, Displacement: f.machine.Pump.Displacement, MaxSpeed: f.machine.Motor.MaxSpeed}
	result, err := balance.Fit(logs, known)
	if err == nil {
		f.balance = result
		return
	}
	if force, err := balance.FromForceLogs(logs); err == nil {
		f.force = force
	}
}

// fitOil fits the oil's compliance and from it and the mass the resonance.
func (f *fitting) fitOil() {
	if f.stroke == nil {
		return
	}
	lag := f.pressureLag()
	oil, err := flow.FitOil(f.logs, f.machine, f.stroke, max(lag.Value, 0), f.slowForce())
	if err == nil {
		f.oil = oil
		if mass := f.mass(); mass.Known() {
			r, ok := oil.Resonance(number(mass), number(f.viscous()))
			if ok {
				f.resonance = &r
			}
		}
	}
}

// slowShare is the share of full speed that counts as slow travel.
const slowShare = 0.06

// slowForce is the hydraulic force of slow travel in each direction, nil where
// friction or load is not known.
func (f *fitting) slowForce() *plant.PerDirection[flow.Number] {
	if f.balance == nil || f.stroke == nil || !f.stroke.Pressures {
		return nil
	}
	full := f.balance.FullSpeed
	if n := f.machine.Motor.MaxSpeed; n > 0 && f.stroke.AreasKnown {
		full = n * f.stroke.Displacement.Value / f.stroke.Areas.Cap
	}
	var out plant.PerDirection[flow.Number]
	for _, d := range []plant.Direction{plant.Extend, plant.Retract} {
		force, sigma, ok := f.balance.SlowForce(d, slowShare*full, f.stroke.Travel/2)
		if !ok {
			return nil
		}
		out.Set(d, flow.Number{Value: force, Sigma: sigma})
	}
	return &out
}

// fitBlind finds the resonance from turns and travel alone.
func (f *fitting) fitBlind() {
	if f.stroke == nil {
		return
	}
	if r, ok := flow.BlindResonance(f.logs, f.machine, f.stroke); ok {
		f.blind = &r
	}
}

func (f *fitting) fitDrive() {
	logs := make([]drive.Log, len(f.logs))
	for i, t := range f.logs {
		logs[i] = drive.Log{Trace: t, Motion: f.motion[i]}
	}
	f.drive = drive.Fit(logs, f.machine.Controller.Period, max(f.pressureLag().Value, 0))
	law := drive.Law{}
	if f.opt.AsFound != nil {
		law = *f.opt.AsFound
	}
	f.loop = drive.FitLoop(logs, law)
}

// fitReversals fits lost motion and what the rod presses on.
func (f *fitting) fitReversals() {
	area, known := areas(f.machine)
	k := lostmotion.Known{MaxSpeed: f.machine.Motor.MaxSpeed}
	c := contact.Known{}
	if known && f.stroke != nil && f.stroke.Pressures {
		k.Area, k.Stroke = area, f.stroke.Travel
		k.Displacement, k.Slip, k.SlipDoubt = f.stroke.Displacement.Value, f.stroke.Slip.Value, f.stroke.Slip.Sigma
		c.Area, c.Stroke, c.Displacement, c.Slip = k.Area, k.Stroke, k.Displacement, k.Slip
		if f.oil != nil {
			oil := plant.PerChamber[plant.Oil]{Cap: f.oil.Model(plant.Cap), Rod: f.oil.Model(plant.Rod)}
			k.Oil, c.Oil = &oil, &oil
			c.OilDoubt = f.oilDoubt()
			k.OilDoubt = c.OilDoubt
		}
	}
	if f.stroke != nil {
		delay := f.stroke.Params[plant.TransducerDelay]
		k.TransducerDelay, k.DelayDoubt = delay.Value, delay.Sigma()
	}
	if f.balance != nil {
		c.Lag = f.balance.Lag.Value
	}
	if f.balance != nil && f.balance.Coulomb.Known() && f.balance.Load.Known() {
		friction, load := f.balance.Coulomb.Value, f.balance.Load.Value
		c.FreeForce = &plant.PerDirection[float64]{Extend: friction - load, Retract: -friction - load}
		if slow := f.slowForce(); slow != nil {
			k.FreeForce = &plant.PerDirection[float64]{Extend: slow.Extend.Value, Retract: slow.Retract.Value}
		}
	}
	var reversing []lostmotion.Log
	var presses []contact.Press
	for i, t := range f.logs {
		reversing = append(reversing, lostmotion.Log{Trace: t, Segments: f.motion[i].Segments})
		presses = append(presses, f.presses(i)...)
	}
	f.lost = lostmotion.Fit(reversing, k)
	f.contact = contact.Fit(presses, c)
}

func (f *fitting) measureResponses() {
	logs := make([]response.Log, len(f.logs))
	for i, t := range f.logs {
		logs[i] = response.Log{Trace: t, Motion: f.motion[i]}
	}
	f.responses = response.Measure(logs)
}
