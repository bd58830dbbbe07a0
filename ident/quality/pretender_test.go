package quality

import (
	"math/rand/v2"
	"testing"

	"eha/strokewise/ident/machine"
	"eha/strokewise/ident/trace"
)

// looped is 60 s of a position loop of gain 12 1/s about a speed loop of 10 ms: its command jumps or
// runs at a constant pace, the rod follows the turns but for slip, and its sensor is noisy and late.
func looped(t *testing.T, jumps bool, late int, exchanged bool) *trace.Reading {
	const dt, n, slope = 2e-3, 30000, 2e-4
	rng := rand.New(rand.NewPCG(3, 5))
	command, theta, place, rod, ask := make([]float64, n), make([]float64, n), make([]float64, n), make([]float64, n), make([]float64, n)
	speed, x, angle := 0.0, 0.1, 0.0
	for i := range command {
		s := float64(i) * dt
		goal := []float64{0.1, 0.14, 0.12, 0.2, 0.11}[int(s/2)%5]
		command[i] = goal
		if last := command[max(i-1, 0)]; !jumps && i > 0 {
			command[i] = last + max(-0.04*dt, min(0.04*dt, goal-last))
		}
		ask[i] = max(-400, min(400, 12*(command[i]-x)/slope))
		speed += (ask[i] - speed) * dt / 0.01
		angle += speed * dt
		x += 0.98*slope*speed*dt - 1e-5*dt
		theta[i], place[i] = angle, x
		rod[i] = place[max(0, i-late)] + 1e-5*rng.NormFloat64()
	}
	if exchanged {
		command, rod = rod, command
	}
	return reading(t, dt, map[trace.Channel][]float64{trace.SpeedCommand: ask, trace.MotorPosition: theta, trace.RodPosition: rod, trace.PositionCommand: command})
}

// The rod position and its command are told apart by which follows the turns; a sensor that
// is late is no command.
func TestRodPositionAndItsCommand(t *testing.T) {
	for _, jumps := range []bool{false, true} {
		f, ok := find(Check([]*trace.Reading{looped(t, jumps, 0, true)}, nil), SwappedColumns, trace.RodPosition)
		if !ok || f.Severity != Stop {
			t.Errorf("jumps %v: the exchange is not found", jumps)
		}
		if want := (Cure{Kind: Exchange, Channel: trace.RodPosition, With: trace.PositionCommand}); f.Cure != want {
			t.Errorf("jumps %v: cure %+v", jumps, f.Cure)
		}
		for _, late := range []int{0, 20, 50} {
			if f, ok := find(Check([]*trace.Reading{looped(t, jumps, late, false)}, nil), SwappedColumns, trace.RodPosition); ok {
				t.Errorf("jumps %v, rod %d ms late: %s", jumps, 2*late, f.Text)
			}
		}
	}
}

// A rod sensor that is dead is no command, however true to the turns the command is.
func TestADeadRodPositionIsNoCommand(t *testing.T) {
	samples := map[trace.Channel][]float64{}
	r := looped(t, false, 0, true) // its command is the rod's place
	for _, c := range []trace.Channel{trace.SpeedCommand, trace.MotorPosition, trace.PositionCommand} {
		samples[c], _ = r.Trace.Samples(c)
	}
	rng := rand.New(rand.NewPCG(3, 6))
	dead := make([]float64, r.Trace.Len())
	for i := range dead {
		dead[i] = 0.15 + 1e-5*rng.NormFloat64()
	}
	samples[trace.RodPosition] = dead
	m := &machine.Machine{} // areas that give the loop's 0.2 mm/rad
	m.Cylinder.Bore, m.Cylinder.Rod, m.Pump.Displacement = 0.08, 0.056, 1e-6
	found := Check([]*trace.Reading{reading(t, r.Trace.Period(), samples)}, m)
	if f, ok := find(found, SwappedColumns, trace.RodPosition); ok {
		t.Error(f.Text)
	}
	if _, ok := find(found, Flat, trace.RodPosition); !ok {
		t.Errorf("the dead sensor is not named: %+v", found.Findings)
	}
}
