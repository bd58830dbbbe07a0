package twin

import "math"

// lostMotion measures the distance between the two branches of a slow reversal
// in mid-stroke on the machine itself, without sensors, slip taken out.
func (t *Truth) lostMotion(m *Machine) {
	out := reversal(m, 0.04, 1)
	t.set("lost_motion", "rev", out*toTurn, reversal(m, 0.03, 1)*toTurn, reversal(m, 0.06, 1)*toTurn, reversal(m, 0.04, 0.6)*toTurn)
}

// reversal extends and retracts at a share of full speed for a time of 0.7 s
// times stretch each way and returns the motor angle (rad) between the branches
// at the turning point.
func reversal(m *Machine, share, stretch float64) float64 {
	speed := share * m.MaxSpeed
	mid := m.Stroke / 2
	if c := m.Contact; c != nil && c.Sign > 0 {
		mid = math.Min(mid, 0.5*c.Position)
	} else if c != nil {
		mid = math.Max(mid, 0.5*(m.Stroke+c.Position))
	}
	s := NewSim(m, mid, StepTime)
	s.noRipple = true
	slipped := 0.0
	type point struct{ theta, x float64 }
	record := func(seconds, sign float64) []point {
		s.Command(sign * speed)
		var branch []point
		for range int(seconds / s.h) {
			s.Step()
			slipped += m.slip() * (s.p[0] - s.p[1]) * s.h
			branch = append(branch, point{s.drive.theta - slipped, s.x})
		}
		return branch
	}
	half := 0.7 * stretch
	record(half, 1)
	record(half, -1)
	up := record(half, 1)
	down := record(half, -1)
	turn := math.Inf(-1)
	for _, p := range append(up, down...) {
		turn = math.Max(turn, p.x)
	}
	// line returns the angle at which the straight line through the last half of
	// a branch passes x.
	line := func(branch []point, x float64) float64 {
		var n, sx, sxx, st, sxt float64
		for _, p := range branch[len(branch)/2:] {
			d := p.x - turn
			n, sx, sxx, st, sxt = n+1, sx+d, sxx+d*d, st+p.theta, sxt+d*p.theta
		}
		slope := (n*sxt - sx*st) / (n*sxx - sx*sx)
		return (st-slope*sx)/n + slope*(x-turn)
	}
	return math.Abs(line(up, turn) - line(down, turn))
}
