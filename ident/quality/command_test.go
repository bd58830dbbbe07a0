package quality

import (
	"testing"

	"eha/strokewise/ident/trace"
)

// steps is 60 s of speed steps (rad/s) that the motor follows along a ramp (rad/s²); over
// the span stuck (s) the logged command stands still and the motor goes on.
func steps(t *testing.T, ramp float64, stuck [2]float64) *trace.Reading {
	const dt, n = 1e-3, 60000
	command, theta, x := make([]float64, n), make([]float64, n), make([]float64, n)
	levels := []float64{0, 60, 0, -60, 0, 120, 0, -120, 0, 250, 0, -250}
	speed, angle := 0.0, 0.0
	for i := range command {
		s := float64(i) * dt
		want := levels[int(s/2.5)%len(levels)]
		if d := want - speed; d > ramp*dt {
			speed += ramp * dt
		} else if d < -ramp*dt {
			speed -= ramp * dt
		} else {
			speed = want
		}
		angle += speed * dt
		command[i], theta[i], x[i] = want, angle, 0.1+2e-4*angle
		if s > stuck[0] && s < stuck[1] {
			command[i] = 60
		}
	}
	return reading(t, dt, map[trace.Channel][]float64{trace.SpeedCommand: command, trace.MotorPosition: theta, trace.RodPosition: x})
}

// A motor that draws nearer to a standing command along a slow ramp is no stuck
// channel, and the ramp is named; one that speeds away from it is.
func TestStuckCommandAgainstRamp(t *testing.T) {
	report := Check([]*trace.Reading{steps(t, 300, [2]float64{})}, nil)
	if f, ok := find(report, Flat, trace.SpeedCommand); ok {
		t.Errorf("a ramp: %s", f.Text)
	}
	if _, ok := find(report, RampLimited, trace.SpeedCommand); !ok {
		t.Error("the ramp is not named")
		show(t, report)
	}
	report = Check([]*trace.Reading{steps(t, 3000, [2]float64{12, 20})}, nil)
	if _, ok := find(report, Flat, trace.SpeedCommand); !ok {
		t.Error("the stuck command is not named")
		show(t, report)
	}
}
