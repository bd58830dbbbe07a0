// Package balance finds moving mass, friction and load from the balance of
// forces on the rod:
//
//	F = m·x” + b·x' + F_c·sgn(x') - F_a(x)
//
// F is the hydraulic force p_cap·A_cap - p_rod·A_rod or a measured one (N), x
// the rod position (m), F_a the axial load (N), positive pushing the rod out. All
// windows in which the rod keeps moving one way are used together, ramps,
// ringing and steady travel alike; speed and acceleration are never computed
// from samples (see package window).
package balance

import (
	"errors"
	"math"

	"eha/strokewise/ident/plant"
	"eha/strokewise/ident/trace"
)

// Log is a recording with the stretches to leave out: pressing, contact and
// whatever else acts on the rod besides friction and load.
type Log struct {
	Trace   *trace.Trace
	Exclude []trace.Span
}

// Known is what the machine file says. Areas are needed; zero for the rest means unknown.
type Known struct {
	Area         plant.PerChamber[float64] // m²
	Displacement float64                   // m³/rad
	MaxSpeed     float64                   // rad/s at the motor
}

// Result is what the balance of forces tells. Missing estimates name the move to log.
type Result struct {
	Mass, Viscous, Coulomb, Load  plant.Estimate
	LineLoss, Breakaway, Stribeck plant.Estimate
	// Lag is the delay of the rod position behind the force (s): transducer delay
	// less pressure lag.
	Lag plant.Estimate
	// Friction is the friction curve: rod speed (m/s) against friction force (N).
	Friction []plant.Point
	Map      plant.LoadMap
	// FullSpeed is the rod speed (m/s) that shares of speed refer to: the largest seen.
	FullSpeed float64
	Warnings  []string
}

// ErrNoForce says that no log holds both pressures and the rod position, or that areas are unknown.
var ErrNoForce = errors.New("balance: no log with rod position and both pressures, or bore and rod unknown")

const (
	moveSpeeds = "speed_steps: several speeds in both directions, with the changes between them"
	moveStarts = "slow_strokes: starts out of rest and travel at low speed in both directions"
)

// Fit returns mass, friction and load with 95 % intervals from the logs
// together, closed-loop ones included. It returns ErrNoForce where there is no
// force to balance; what the logs cannot tell is missing in the result.
func Fit(logs []Log, known Known) (*Result, error) {
	var records []*record
	for _, l := range logs {
		if r := hydraulic(l, known.Area); r != nil {
			records = append(records, r)
		}
	}
	if len(records) == 0 {
		return nil, ErrNoForce
	}
	s := newSurvey(records)
	res := empty()
	res.FullSpeed = s.full
	if s.full == 0 {
		return res, nil
	}
	s.expectLoss(known)
	line := s.friction(res)
	if line == nil {
		return res, nil
	}
	res.offsetDoubt(known.Area)
	s.lineLoss(res, line, known)
	s.mass(res)
	s.loadBehind(res, line)
	s.breakaway(res, line)
	return res, nil
}

func empty() *Result {
	return &Result{
		Mass: plant.MissingFrom("pulses: speed steps while the rod moves, both directions"), Viscous: plant.MissingFrom(moveSpeeds),
		Coulomb: plant.MissingFrom(moveSpeeds), Load: plant.MissingFrom(moveSpeeds), LineLoss: plant.MissingFrom(moveSpeeds),
		Breakaway: plant.MissingFrom(moveStarts), Stribeck: plant.MissingFrom(moveStarts),
		Lag: plant.MissingFrom("pulses: speed steps while the rod moves, both directions"),
	}
}

// Params returns the estimates by parameter.
func (r *Result) Params() map[plant.Param]plant.Estimate {
	return map[plant.Param]plant.Estimate{
		plant.MovingMass: r.Mass, plant.ViscousFriction: r.Viscous, plant.CoulombFriction: r.Coulomb, plant.AxialLoad: r.Load,
		plant.LineLoss: r.LineLoss, plant.BreakawayForce: r.Breakaway, plant.StribeckSpeed: r.Stribeck,
	}
}

// PressureLag returns the lag of the pressure sensors (s) from the delay of the
// rod position behind the encoder: pressure lag = transducer delay - Lag.
func (r *Result) PressureLag(transducerDelay plant.Estimate) plant.Estimate {
	if !r.Lag.Known() || !transducerDelay.Known() {
		return plant.MissingFrom(r.Lag.From)
	}
	value := transducerDelay.Value - r.Lag.Value
	half := math.Hypot(transducerDelay.HalfWidth(), r.Lag.HalfWidth())
	return plant.PressureLag.Found(value, value-half, value+half, "transducer delay less the delay of position behind force")
}
