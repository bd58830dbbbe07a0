package tuning

import (
	"fmt"
	"math"
	"strings"

	"eha/strokewise/ident/plant"
	"eha/strokewise/ident/trace"
)

// Belief is how far a replay bears the simulation out. What counts is not the
// travel, which any loop that follows its reference repeats, but how far the rod was
// from its reference.
type Belief struct {
	Following float64 // m, rms of the recorded position less its reference
	Off       float64 // m, rms of the replayed position less the recorded one
	Worst     float64 // m, the largest of that
	Left      float64 // Off over Following; NaN where that says nothing
	Presses   bool    // the log presses: its reference runs on beyond the work, and following it is no merit
}

// Shares of the following error left open up to which a replay is believed, or
// believed in shape: with the right settings simulated machines leave 1 to 8 %,
// with gains that are off by a third 15 to 30 %.
const (
	believed = 0.10
	doubted  = 0.25
)

// leastMoved is the travel of the reference (m) from which a replay shows anything.
const leastMoved = 0.5e-3

// Believe judges the overlays that Replay gave for the log.
func Believe(t *trace.Trace, overlays []plant.Overlay) Belief {
	b := Belief{Left: math.NaN(), Presses: t.Has(trace.ForceCommand)}
	command, ok := t.Samples(trace.PositionCommand)
	if !ok || len(overlays) == 0 || len(overlays[0].Measured) == 0 {
		return b
	}
	o := overlays[0]
	low, high := math.Inf(1), math.Inf(-1)
	for i, x := range o.Measured {
		off := o.Modeled[i] - x
		b.Off += off * off
		b.Worst = max(b.Worst, math.Abs(off))
		b.Following += (command[i] - x) * (command[i] - x)
		low, high = min(low, command[i]), max(high, command[i])
	}
	n := float64(len(o.Measured))
	b.Off, b.Following = math.Sqrt(b.Off/n), math.Sqrt(b.Following/n)
	if high-low >= leastMoved && b.Following > 0 && !b.Presses {
		b.Left = b.Off / b.Following
	}
	return b
}

// String says in a sentence or two how far to believe the simulation.
func (b Belief) String() string {
	verdict, advice := b.Words()
	return strings.TrimSpace(verdict + " " + advice)
}

// Words returns how far to believe the simulation, and what to do about it; "" where it is believed.
func (b Belief) Words() (verdict, advice string) {
	repeats := fmt.Sprintf("under these settings the model repeats %.0f %% of the recorded following error.", 100*max(1-b.Left, 0))
	const check = "Check that these were the settings in use then, and that load, oil and drive were as in the fitted logs."
	switch {
	case b.Presses:
		return "This log presses, so how the reference was followed says little: judge by the curves of position and pressures.", "Replay a log without pressing for a verdict."
	case math.IsNaN(b.Left):
		return "The reference hardly moves in this log, so the replay shows nothing.", "Replay a log with steps and moves."
	case b.Left <= believed:
		return "Believe the simulation for moves like these: " + repeats, ""
	case b.Left <= doubted:
		return "Believe the shape, not the last figure: " + repeats, check
	}
	return "Do not believe the simulation yet: " + repeats, check
}
