package tuning

import (
	"errors"
	"fmt"
	"math"

	"eha/strokewise/ident/plant"
	"eha/strokewise/ident/trace"
	"eha/strokewise/tuning/law"
	"eha/strokewise/tuning/sim"
)

// Errors of Replay.
var (
	ErrNoLoop    = errors.New("tuning: replay: no position loop: needed the settings in use when the log was made")
	ErrNoCommand = errors.New("tuning: replay: the log holds no position command: needed the reference that the loop followed")
)

// longestReplay is the time (s) that a replay covers at most, from the log's start.
const longestReplay = 120

// Replay runs the plant's model under the settings that were in use through the
// references of a closed-loop log, and returns what was recorded with what the simulation
// gives: rod position, and motor speed and pressures where they were logged. Whoever sees the
// two together can judge whether to believe the predictions. Only the start is taken from the
// recording. It returns ErrNoLoop or ErrNoCommand, wrapped, where something is missing.
func Replay(p *plant.Plant, l law.Loops, t *trace.Trace) ([]plant.Overlay, error) {
	if l.Position == nil || !(l.Position.Period > 0) {
		return nil, ErrNoLoop
	}
	if !t.Has(trace.PositionCommand, trace.RodPosition) {
		return nil, fmt.Errorf("%s: %w", t.Name(), ErrNoCommand)
	}
	if err := p.Model.Check(); err != nil {
		return nil, fmt.Errorf("tuning: replay: %w", err)
	}
	rod, _ := t.Samples(trace.RodPosition)
	model := p.Model
	if !t.Has(trace.ForceCommand) {
		model = clearOf(model)
		l.Force = nil
	}
	run := sim.Do(sim.Experiment{
		Model: &model, MassFactor: 1, Loops: l, Start: min(max(rod[0], 0), model.Stroke), Duration: min(t.Duration(), longestReplay),
		Demand: recorded(t, l.Position.Period, l.Position.SpeedLimit*max(model.StrokePerTurn(plant.Cap), model.StrokePerTurn(plant.Rod))),
		All:    true, Relief: p.Machine.Limits.Relief,
	})
	overlays := []plant.Overlay{overlay(t, trace.RodPosition, run.Period, run.Position)}
	for _, o := range []struct {
		channel trace.Channel
		modeled []float64
	}{{trace.MotorSpeed, run.MotorSpeed}, {trace.CapPressure, run.CapPressure}, {trace.RodPressure, run.RodPressure}} {
		if t.Has(o.channel) {
			overlays = append(overlays, overlay(t, o.channel, run.Period, o.modeled))
		}
	}
	return overlays, nil
}

// recorded returns the log's references as a course. Their rate is taken over a
// period of the controller (s), whose changes a finer log shows as steps. A reference that
// changes faster than the rod can move (m/s) is a step, whose rate no controller passes on.
func recorded(t *trace.Trace, period, fastest float64) func(float64) law.Demand {
	command, _ := t.Samples(trace.PositionCommand)
	force, _ := t.Samples(trace.ForceCommand)
	over := max(int(math.Round(period/t.Period())), 1)
	rate := func(i int) float64 {
		if i < over {
			return 0
		}
		v := (command[i] - command[i-over]) / (float64(over) * t.Period())
		if math.Abs(v) > 2*fastest {
			return 0
		}
		return v
	}
	return func(at float64) law.Demand {
		i := min(int(at/t.Period()+1e-6), len(command)-1)
		d := law.Demand{Position: command[i], Rate: rate(i)}
		if force != nil {
			d.Force = force[i]
		}
		return d
	}
}

// overlay lays a modelled course over a channel, on the log's own samples.
func overlay(t *trace.Trace, c trace.Channel, period float64, modeled []float64) plant.Overlay {
	measured, _ := t.Samples(c)
	n := min(len(measured), int(float64(len(modeled)-1)*period/t.Period())+1)
	o := plant.Overlay{Channel: c.String(), Period: t.Period(), Start: t.TimeAt(0), Measured: measured[:n:n], Modeled: make([]float64, n)}
	for i := range o.Modeled {
		at := float64(i) * t.Period() / period
		k := min(int(at), len(modeled)-2)
		o.Modeled[i] = modeled[k] + (at-float64(k))*(modeled[k+1]-modeled[k])
	}
	return o
}
