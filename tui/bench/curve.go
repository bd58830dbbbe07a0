package bench

import (
	"fmt"
	"math"

	"eha/strokewise/ident/plant"
	"eha/strokewise/tuning"
	"eha/strokewise/tuning/loop"
)

// slowShare is the share of full speed of the slow travel that margins are stated
// for (CONTRACT section 5).
const slowShare = 0.06

// curve returns the open position loop at a point of the proposal's grid, with
// the outer delay as fitted and no process load; the point's own margin is the
// worst over those.
func curve(t *tuning.Proposal, at tuning.Margin) (omega []float64, open []complex128, err error) {
	set := t.Loops.Position
	if set == nil || at.Loop != "position" {
		return nil, nil, fmt.Errorf("there is no position loop at this point")
	}
	m := &t.Model
	speed := slowShare * set.SpeedLimit * math.Max(m.StrokePerTurn(plant.Cap), m.StrokePerTurn(plant.Rod))
	force := m.SteadyForce(at.Direction.Sign()*speed, at.MassFactor)
	least := m.LowPressure + 0.25*m.Coulomb.At(at.Direction)/m.Area.At(at.Chamber)
	place := loop.Place{Direction: at.Direction, Chamber: at.Chamber, Position: at.Position,
		Pressure: math.Max(m.PressureFor(at.Chamber, force), least), MassFactor: at.MassFactor}
	l := loop.NewPosition(m, place, m.OuterDelay)
	l.Hold.Period = set.Period
	l.Kp, l.Ki, l.Turns = set.Kp.At(at.Direction), set.Ki.At(at.Direction), turns(t, at)
	l.PressureDamping, l.Highpass, l.Lowpass = set.PressureDamping, set.Highpass, set.Lowpass
	for _, w := range l.Grid(loop.Fine) {
		omega, open = append(omega, w), append(open, l.Open(w))
	}
	return omega, open, nil
}

// turns is the scale (rad/m) in force at a point.
func turns(t *tuning.Proposal, at tuning.Margin) float64 {
	set := t.Loops.Position
	switch {
	case set.ByChamber && at.Chamber == plant.Rod:
		return set.Turns.Retract
	case set.ByChamber:
		return set.Turns.Extend
	case set.Table != nil:
		return set.Table.At(at.Position, at.Direction)
	}
	return set.Turns.At(at.Direction)
}
