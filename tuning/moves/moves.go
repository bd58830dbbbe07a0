// Package moves plans the test moves that a technician lets the drive play and
// log: command tables at the controller's period that start and end at rest and
// cannot leave the stroke margins, whatever areas, slip and load turn out to be
// within stated bounds. It computes only; who calls it writes the files.
//
// A speed table is played open loop, so the rod may end anywhere between the
// worst cases of stroke per turn and slip. Each move is therefore short, most go
// one way only, and each begins at a place to which the rod is jogged by hand.
// With a position command the loop keeps the place and the moves can be longer.
package moves

import (
	"fmt"
	"strings"

	"eha/strokewise/ident/machine"
	"eha/strokewise/ident/motion"
	"eha/strokewise/ident/plant"
	"eha/strokewise/ident/trace"
)

// Options are what a plan may be told besides machine and plant.
type Options struct {
	// Command is what the tables command: trace.SpeedCommand or
	// trace.PositionCommand. Pressing is always by force.
	Command trace.Channel
}

// Sizes are the shares of full size at which each move is played, in order.
var Sizes = [...]float64{0.25, 0.5, 1}

// Plan is the list of test moves for one machine, in the order to play them.
type Plan struct {
	Machine string
	Demo    bool // the invented demo machine
	Command trace.Channel
	Period  float64 // s, of the tables
	Moves   []Move
	LeftOut []LeftOut
	Bounds  Bounds
	Holding bool // a load-holding valve traps pressure at rest
	// Upright says that weight acts along the axis, or may: the angle is not stated.
	Upright bool
	// Torque (N·m) is what working pressure takes at the motor without losses, 0 where the displacement is not known.
	Torque float64
	// ForceLimit is the pushing (pulling) force (N) that the machine file allows; 0 where it states none.
	ForceLimit float64
}

// Move is one table of one test move at one size.
type Move struct {
	Kind motion.MoveKind
	Part string  // "extend" or "retract" for moves that go one way, else ""
	Size float64 // share of full size
	// Table holds the command, one entry per period: rad/s, m or N by Column.
	// It starts and ends at rest.
	Column trace.Channel
	Table  []float64
	Period float64 // s

	Start     float64    // m, where the rod must stand, to within Tolerance; NaN: at touch
	Tolerance float64    // m
	Reach     [2]float64 // m, lowest and highest rod position in the worst case
	// Drift is how far (m, in- and outwards) the rod can wander in twice the
	// table's time at worst slip and area; both zero in closed loop.
	Drift    [2]float64
	Speed    float64 // rad/s, largest motor speed, in closed loop the largest it may take
	Accel    float64 // rad/s², likewise
	RodSpeed float64 // m/s, largest in the worst case
	Notes    []string
}

// LeftOut is a move that cannot be planned, with why and what would allow it.
type LeftOut struct {
	Kind   motion.MoveKind
	Part   string
	Reason string
}

// Duration returns the table's time (s).
func (m *Move) Duration() float64 { return float64(len(m.Table)-1) * m.Period }

// Name returns id and part, such as "pulses_extend".
func (m *Move) Name() string { return nameOf(m.Kind, m.Part) }

func nameOf(k motion.MoveKind, part string) string {
	if part == "" {
		return k.String()
	}
	return k.String() + "_" + part
}

// File returns the name of the move's file, such as "pulses_extend_050.csv".
func (m *Move) File() string { return fmt.Sprintf("%s_%03.0f.csv", m.Name(), 100*m.Size) }

// For plans the test moves of a machine, by an earlier fit where p is not nil.
// What the plant knows takes the place of assumptions, with doubt added: 5 % on
// stroke per turn, a quarter on slip, a fifth on the load.
//
// For returns a *NeedError where machine and plant together lack what safe
// bounds need, and a *LoadError where the load leaves no pressure for moving.
func For(m *machine.Machine, p *plant.Plant, opt Options) (*Plan, error) {
	if m == nil {
		m = &machine.Machine{}
		if p != nil {
			m = &p.Machine
		}
	}
	b, err := boundsOf(m, p)
	if err != nil {
		return nil, err
	}
	plan := &Plan{Machine: m.Name, Demo: p != nil && p.Demo, Command: opt.Command, Period: b.period, Bounds: *b, Holding: m.Valve.Holding,
		Upright: upright(m), Torque: m.Pump.Displacement * b.Pressure, ForceLimit: max(m.Limits.Force, m.Limits.ForcePull)}
	if opt.Command == trace.PositionCommand {
		b = b.closedLoop()
		plan.Bounds.Assumed = b.Assumed
	}
	w := &planner{b: b, plan: plan, machine: m, plant: p, excited: map[float64]excitation{}}
	w.hold()
	for _, add := range []func(plant.Direction){w.slowStrokes, w.speedSteps} {
		add(plant.Extend)
		add(plant.Retract)
	}
	w.reversals()
	for _, add := range []func(plant.Direction){w.pulses, w.multisine} {
		add(plant.Extend)
		add(plant.Retract)
	}
	w.pressHold()
	w.positionSteps()
	return plan, nil
}

// IsTable reports whether a file name is one that a plan gives its tables.
func IsTable(name string) bool {
	stem, isCSV := strings.CutSuffix(name, ".csv")
	if !isCSV {
		return false
	}
	for _, k := range motion.MoveKinds() {
		rest, ok := strings.CutPrefix(stem, k.String())
		if !ok {
			continue
		}
		for _, part := range []string{"", "_" + plant.Extend.String(), "_" + plant.Retract.String()} {
			for _, size := range Sizes {
				if rest == fmt.Sprintf("%s_%03.0f", part, 100*size) {
					return true
				}
			}
		}
	}
	return false
}
