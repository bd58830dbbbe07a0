package quality

import (
	"math"
	"testing"

	"eha/strokewise/ident/machine"
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
		views := []*view{newView(pressingLog(t, scale), &machine.Machine{}), newView(travelLog(t), &machine.Machine{})}
		if got := acrossLogs(views); (len(got) == 1) != want || want && got[0].ID != UnitDoubtful {
			t.Errorf("scale %g: %v", scale, got)
		}
	}
}

// sinkingLog is a motor that swings about its place while a load lets the rod sink by
// slip, and stands for the last eight seconds, as asked or, if not bid, by a stuck encoder.
func sinkingLog(t *testing.T, bid bool) *trace.Reading {
	const dt, perTurn, n = 1e-3, 4e-4, 16000
	x, theta, u := make([]float64, n), make([]float64, n), make([]float64, n)
	for i := range x {
		s := float64(i) * dt
		theta[i] = 0.3 * math.Sin(2*math.Pi*min(s, 8))
		if s < 8 || !bid {
			u[i] = 40 * math.Cos(2*math.Pi*s)
		}
		x[i] = 0.3 + perTurn*theta[i] - 2e-3*s
	}
	return reading(t, dt, map[trace.Channel][]float64{trace.MotorPosition: theta, trace.RodPosition: x, trace.SpeedCommand: u})
}

// Slip moves the rod without turns: no fault of units, and none of an encoder that
// stands because it is asked to.
func TestSinkingRod(t *testing.T) {
	sinking := newView(sinkingLog(t, true), &machine.Machine{})
	sinking.motion.StrokePerTurn = 5e-4 // what is made of such a log
	if got := acrossLogs([]*view{sinking, newView(travelLog(t), &machine.Machine{})}); len(got) != 0 {
		t.Errorf("units: %v", got)
	}
	for _, bid := range []bool{true, false} {
		v := newView(sinkingLog(t, bid), &machine.Machine{})
		v.motion.StrokePerTurn = 4e-4
		if got := v.stuckEncoder(); (len(got) == 0) != bid {
			t.Errorf("bid to stand: %v, got %v", bid, got)
		}
	}
}
