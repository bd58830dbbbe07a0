package quality

import (
	"fmt"
	"math"

	"eha/strokewise/ident/machine"
	"eha/strokewise/ident/motion"
	"eha/strokewise/ident/plant"
	"eha/strokewise/ident/trace"
)

// content is what the logs together hold that parameters are found from.
type content struct {
	both             bool // encoder and rod position in one log
	pressures        bool
	command          bool    // speed command with encoder or reported speed
	positionLoop     bool    // position command and steps or moves of it
	areas            bool    // bore and rod on the nameplate
	extend, retract  bool    // steady travel each way
	capHigh, rodHigh bool    // steady travel with that side carrying
	excited          bool    // multisine
	steps            bool    // command steps or pulses
	accelerations    bool    // changes of speed in motion
	speeds           float64 // largest over smallest steady speed
	reversals        int
	pressing         bool
	rest             bool
	travel           float64 // m
	limited          bool    // an acceleration limit was met
	levels           bool    // pressure across the pump differs by 10 bar and more between stretches
	loaded           bool    // or stays above 10 bar: slip then shows against speed
}

func gather(views []*view, m *machine.Machine) content {
	c := content{areas: m.Cylinder.Bore > 0 && m.Cylinder.Rod > 0}
	slowest, fastest := math.Inf(1), 0.0
	for _, v := range views {
		c.add(v)
		for _, s := range v.motion.Segments {
			if s.Kind == motion.Steady && v.has(trace.MotorPosition) {
				slowest, fastest = min(slowest, math.Abs(s.MotorSpeed)), max(fastest, math.Abs(s.MotorSpeed))
			}
		}
	}
	if fastest > 0 {
		c.speeds = fastest / slowest
	}
	return c
}

func (c *content) add(v *view) {
	m := v.motion
	c.both = c.both || v.has(trace.MotorPosition, trace.RodPosition)
	c.command = c.command || v.has(trace.SpeedCommand) && (v.has(trace.MotorPosition) || v.has(trace.MotorSpeed))
	c.positionLoop = c.positionLoop || v.has(trace.PositionCommand, trace.SpeedCommand, trace.RodPosition) && (m.Has(motion.PositionSteps) || m.Has(motion.UsualRun))
	c.excited = c.excited || len(m.Periodic) > 0
	c.steps = c.steps || m.Has(motion.SpeedSteps) || m.Has(motion.Pulses) || m.Has(motion.PositionSteps) || m.Has(motion.Jog)
	c.accelerations = c.accelerations || m.Has(motion.SpeedSteps) || m.Has(motion.Pulses) || m.Has(motion.PositionSteps) || m.Has(motion.UsualRun)
	c.reversals += len(m.Reversals)
	c.pressing = c.pressing || m.Has(motion.PressHold)
	c.rest = c.rest || m.Has(motion.Hold)
	for _, l := range m.Limits {
		c.limited = c.limited || l.Kind == motion.AccelLimit
	}
	if x := v.frame[trace.RodPosition]; x != nil {
		low, high := extremes(x)
		c.travel = max(c.travel, high-low)
	}
	for _, s := range m.Segments {
		if s.Kind == motion.Steady {
			c.extend = c.extend || s.MotorSpeed > 0
			c.retract = c.retract || s.MotorSpeed < 0
		}
	}
	c.addPressures(v)
}

func (c *content) addPressures(v *view) {
	p1, p2 := v.frame[trace.CapPressure], v.frame[trace.RodPressure]
	if p1 == nil || p2 == nil {
		return
	}
	c.pressures = true
	var across []float64
	capHigh, rodHigh := 0, 0
	for k := range p1 {
		if v.kind[k] == motion.Accelerating {
			continue
		}
		across = append(across, p1[k]-p2[k])
		if v.kind[k] == motion.Steady {
			if p1[k] > p2[k]+clearlyHigh {
				capHigh++
			} else if p2[k] > p1[k]+clearlyHigh {
				rodHigh++
			}
		}
	}
	if v.wiring.has(swapped) {
		capHigh, rodHigh = rodHigh, capHigh
	}
	half := int(0.5 / v.dt)
	c.capHigh = c.capHigh || capHigh > half
	c.rodHigh = c.rodHigh || rodHigh > half
	c.levels = c.levels || quantile(across, 0.95)-quantile(across, 0.05) > 10e5
	for k := range across {
		across[k] = math.Abs(across[k])
	}
	c.loaded = c.loaded || median(across) > 10e5
}

// need is one condition of a parameter: what must be there, else why not and which
// move supplies it. A need without a move is a channel or a line of the machine file.
type need struct {
	met  bool
	move motion.MoveKind
	log  bool // a move supplies it
	why  string
}

// identifiable judges every parameter, after the table of MODEL 1.4, and returns the
// moves that would complete the set, each once, in the order to run them.
func identifiable(views []*view, m *machine.Machine) (map[plant.Param]Identifiable, []string) {
	c := gather(views, m)
	out := map[plant.Param]Identifiable{}
	wanted := map[motion.MoveKind]bool{}
	for _, p := range plant.Params() {
		answer := Identifiable{Can: true, Why: "the logs hold what it takes"}
		for _, n := range c.needs(p) {
			if n.met {
				continue
			}
			answer = Identifiable{Why: n.why}
			if n.log {
				answer.Move = n.move.String()
				wanted[n.move] = true
			}
			break
		}
		out[p] = answer
	}
	var moves []string
	for _, k := range motion.MoveKinds() {
		if wanted[k] {
			moves = append(moves, k.String())
		}
	}
	return out, moves
}

// byMove is a need that a test move supplies, byChannel one that only another channel or
// the machine file does.
func byMove(met bool, k motion.MoveKind, why string) need { return need{met, k, true, why} }
func byChannel(met bool, why string) need                 { return need{met: met, why: why} }

func (c *content) needs(p plant.Param) []need {
	positions := byChannel(c.both, "no log holds motor position and rod position together; log both")
	pressures := byChannel(c.pressures, "no log holds both pressures in working order; log both")
	areas := byChannel(c.areas, "bore and rod are not stated in the machine file")
	bothWays := byMove(c.extend && c.retract, motion.SlowStrokes, "steady travel both ways is not in the logs")
	moving := byMove(c.accelerations, motion.SpeedSteps, "no change of speed in motion is in the logs")
	excitation := byMove(c.excited || c.accelerations, motion.Multisine, "nothing in the logs excites the resonance")
	pressing := byMove(c.pressing, motion.PressHold, "the rod presses on nothing in these logs")
	switch p {
	case plant.StrokePerTurnExtend:
		return []need{positions, byMove(c.extend, motion.SlowStrokes, "no steady extending in the logs")}
	case plant.StrokePerTurnRetract:
		return []need{positions, byMove(c.retract, motion.SlowStrokes, "no steady retracting in the logs")}
	case plant.StrokePerTurnCap:
		return []need{positions, pressures, byChannel(c.capHigh || c.areas && c.rodHigh, "the cap side never carries the load in these logs, and bore and rod are not stated")}
	case plant.StrokePerTurnRod:
		return []need{positions, pressures, byChannel(c.rodHigh || c.areas && c.capHigh, "the rod side never carries the load in these logs, and bore and rod are not stated")}
	case plant.Slip:
		return []need{positions, pressures, byMove(c.levels || c.loaded || c.pressing, motion.PressHold, "the pressure across the pump stays low throughout the logs")}
	case plant.LostMotion:
		return []need{positions, byMove(c.reversals >= 2, motion.ReversalMove, "no slow reversals in the logs")}
	case plant.CoulombFriction:
		return []need{positions, pressures, areas, bothWays}
	case plant.BreakawayForce, plant.StribeckSpeed:
		return []need{positions, pressures, areas, byMove(c.reversals >= 2 || c.rest && c.steps, motion.ReversalMove, "no slow start from rest in the logs")}
	case plant.ViscousFriction, plant.LineLoss:
		return []need{positions, pressures, areas, bothWays, byMove(c.speeds >= 3, motion.SpeedSteps, "steady speeds lie within a factor of three")}
	case plant.MovingMass:
		return []need{positions, pressures, areas, moving}
	case plant.AxialLoad:
		return []need{pressures, areas, bothWays}
	case plant.OuterDelay:
		return []need{byMove(c.positionLoop, motion.PositionSteps, "no log in closed loop with its position command")}
	case plant.AccelerationLimit:
		return []need{byChannel(c.limited, "no limit was met; the largest acceleration seen stands for it")}
	case plant.BulkModulus, plant.BulkModulusCap, plant.BulkModulusRod, plant.ComplianceCap, plant.ComplianceRod:
		return append([]need{positions, pressures, areas, excitation}, c.sideNeed(p)...)
	case plant.HydraulicFrequency, plant.HydraulicDamping:
		return []need{byChannel(c.both, "no log holds motor position and rod position together; log both"), excitation}
	case plant.DriveBandwidth, plant.DriveDamping, plant.DeadTime:
		return []need{byChannel(c.command, "no log holds speed command and motor position together; log both"), byMove(c.excited || c.steps, motion.Multisine, "the speed command hardly changes")}
	case plant.ContactStiffness:
		return []need{byChannel(c.both, "no log holds motor position and rod position together; log both"), pressures, areas, pressing}
	case plant.PressingStiffness:
		return []need{pressures, areas, pressing}
	case plant.TransducerDelay:
		return []need{positions, excitation}
	case plant.PressureLag:
		return []need{pressures, positions, excitation}
	}
	panic(fmt.Sprintf("quality: identifiable: no rule for %v", p))
}

// sideNeed asks that the chamber of the parameter carries the load somewhere.
func (c *content) sideNeed(p plant.Param) []need {
	switch p {
	case plant.BulkModulusCap, plant.ComplianceCap:
		return []need{byChannel(c.capHigh, "the cap side never carries the load in these logs")}
	case plant.BulkModulusRod, plant.ComplianceRod:
		return []need{byChannel(c.rodHigh, "the rod side never carries the load in these logs")}
	}
	return nil
}
