package twin

import "math"

// lostMotion measures the distance between the two branches of a slow reversal
// in mid-stroke on the machine itself, without sensors, slip taken out: the mean of
// turning back from either way.
func (t *Truth) lostMotion(m *Machine) {
	at := func(share, stretch, held float64) float64 { return reversal(m, share, stretch, held) * toTurn }
	t.set("lost_motion", "rev", at(0.04, 1, 1), at(0.04, 1, 0), at(0.03, 1, 1), at(0.06, 1, 1), at(0.04, 0.6, 1))
}

// turned is a motor angle (rad), slip taken out, with the rod position (m) there.
type turned struct{ theta, x float64 }

// reversal extends and retracts at a share of full speed for a time of 0.7 s
// times stretch each way and returns the motor angle (rad) between the branches
// at the turning points. The share held of slip is added to the speed, so that with
// all of it the rod is as fast either way.
func reversal(m *Machine, share, stretch, held float64) float64 {
	speed := share * m.MaxSpeed
	s := NewSim(m, m.Stroke/2, StepTime)
	s.noRipple = true
	slipped := 0.0
	record := func(sign float64) []turned {
		s.Command(sign*speed + held*m.slip()*(s.p[0]-s.p[1]))
		var branch []turned
		for range int(0.7 * stretch / s.h) {
			s.Step()
			slipped += s.slip() * s.h
			branch = append(branch, turned{s.drive.theta - slipped, s.x})
		}
		return branch
	}
	record(1)
	record(-1)
	up := record(1)
	down := record(-1)
	return (between(up, down, 1) + between(down, record(1), -1)) / 2
}

// slip returns the motor speed (rad/s) that goes into leaks now: across the pump
// and from the loaded port.
func (s *Sim) slip() float64 {
	flow, _ := s.cross(s.drive.omega)
	if s.p[0] > s.p[1] {
		flow += s.m.LeakCase * (s.p[0] - s.reservoir)
	} else {
		flow -= s.m.LeakCase * (s.p[1] - s.reservoir)
	}
	return flow / s.m.Displacement
}

// between returns the distance (rad) of two branches where the rod turns, at its
// farthest in the direction of sign.
func between(before, after []turned, sign float64) float64 {
	turn := math.Inf(-1)
	for _, branch := range [][]turned{before, after} {
		for _, p := range branch {
			turn = math.Max(turn, sign*p.x)
		}
	}
	return math.Abs(lineAt(before, sign*turn) - lineAt(after, sign*turn))
}

// lineAt returns the angle at which the straight line through the last half of
// a branch passes x.
func lineAt(branch []turned, x float64) float64 {
	var n, sx, sxx, st, sxt float64
	for _, p := range branch[len(branch)/2:] {
		d := p.x - x
		n, sx, sxx, st, sxt = n+1, sx+d, sxx+d*d, st+p.theta, sxt+d*p.theta
	}
	slope := (n*sxt - sx*st) / (n*sxx - sx*sx)
	return (st - slope*sx) / n
}
