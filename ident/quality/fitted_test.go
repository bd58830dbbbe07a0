package quality

import (
	"math"
	"testing"

	"eha/strokewise/ident/trace"
)

// pressingLog is an approach of 20 mm at a falling speed and then a minute of
// holding against slip, with steps in which oil and contact give a fifth of
// the travel that the turns would: scale is the unit's.
func pressingLog(t *testing.T, scale float64) *trace.Reading {
	const dt, perTurn, n = 1e-3, 4e-4, 60000
	x, theta := make([]float64, n), make([]float64, n)
	position, angle := 0.1, 0.0
	for i := range x {
		s := float64(i) * dt
		slip, rod := 1.5, 0.0
		switch {
		case s < 8:
			rod = 5e-3 * math.Exp(-s/4)
			slip = 0.2
		case math.Mod(s, 4) < 0.3:
			rod = 2e-3 * math.Copysign(1, math.Mod(s, 8)-4)
			angle += 4 * rod / perTurn * dt
		}
		angle += (rod/perTurn + slip) * dt
		position += rod * dt
		x[i], theta[i] = scale*position, angle
	}
	return reading(t, dt, map[trace.Channel][]float64{trace.MotorPosition: theta, trace.RodPosition: x})
}

// travelLog is a slow swing with the stroke per turn of pressingLog.
func travelLog(t *testing.T) *trace.Reading {
	const dt, perTurn, n = 1e-3, 4e-4, 60000
	x, theta := make([]float64, n), make([]float64, n)
	for i := range x {
		x[i] = 0.15 - 0.1*math.Cos(2*math.Pi*float64(i)*dt/15)
		theta[i] = x[i] / perTurn
	}
	return reading(t, dt, map[trace.Channel][]float64{trace.MotorPosition: theta, trace.RodPosition: x})
}

// A log that mostly presses turns the motor for little travel: no fault of units. The
// same log in other units is one, whichever log stands first.
func TestUnitsAcrossLogs(t *testing.T) {
	for scale, want := range map[float64]bool{1: false, 25.4: true, 1 / 25.4: true} {
		views := []*view{newView(pressingLog(t, scale), nil), newView(travelLog(t), nil)}
		if got := acrossLogs(views); (len(got) == 1) != want || want && got[0].ID != UnitDoubtful {
			t.Errorf("scale %g: %v", scale, got)
		}
	}
}
