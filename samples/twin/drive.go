package twin

import "math"

// drive is the motor under its speed loop. The loop's integral acts on the speed
// error and its proportional part on the speed alone, so that command to speed
// is a plain second-order lag
//
//	J·dω/dt = T - T_load,  T = J·(I - 2·ζ·w·ω),  dI/dt = w²·(command - ω)
//
// with T limited to the peak torque and I held consistent with the limit.
type drive struct {
	integral, omega, theta float64
	torque                 float64

	a11, a12, a21, a22 float64 // transition of (I, ω) over one step
	b1, b2, c1, c2     float64 // response to command and to load acceleration
	damp, inertia      float64
	peak, maxSpeed     float64

	hold    float64 // command in force
	pending []timed
	delay   float64
}

type timed struct{ at, value float64 }

func newDrive(m *Machine, h float64) drive {
	w, z := m.DriveFreq, m.DriveDamping
	d := drive{damp: 2 * z * w, inertia: m.Inertia, peak: m.PeakTorque, maxSpeed: m.MaxSpeed, delay: m.DeadTime}
	e := exponential([4][4]float64{
		{0, -w * w, w * w, 0},
		{1, -2 * z * w, 0, -1},
	}, h)
	d.a11, d.a12, d.b1, d.c1 = e[0][0], e[0][1], e[0][2], e[0][3]
	d.a21, d.a22, d.b2, d.c2 = e[1][0], e[1][1], e[1][2], e[1][3]
	return d
}

// exponential returns e^(A·h) by its power series; A·h is small here.
func exponential(a [4][4]float64, h float64) [4][4]float64 {
	var sum, term [4][4]float64
	for i := range sum {
		sum[i][i], term[i][i] = 1, 1
	}
	for k := 1; k < 16; k++ {
		var next [4][4]float64
		for i := range next {
			for j := range next {
				for l := range next {
					next[i][j] += term[i][l] * a[l][j] * h / float64(k)
				}
				sum[i][j] += next[i][j]
			}
		}
		term = next
	}
	return sum
}

// command hands the drive a speed command (rad/s) at time t (s).
func (d *drive) command(t, speed float64) {
	speed = math.Max(-d.maxSpeed, math.Min(d.maxSpeed, speed))
	d.pending = append(d.pending, timed{t + d.delay, speed})
}

// held returns the mean command over the step from t to t+h, so that a dead time
// of any fraction of a step counts in full.
func (d *drive) held(t, h float64) float64 {
	if len(d.pending) == 0 || d.pending[0].at >= t+h {
		return d.hold
	}
	sum, from := 0.0, t
	for len(d.pending) > 0 && d.pending[0].at < t+h {
		next := d.pending[0]
		at := math.Max(next.at, t)
		sum += d.hold * (at - from)
		d.hold, from = next.value, at
		d.pending = d.pending[:copy(d.pending, d.pending[1:])]
	}
	return (sum + d.hold*(t+h-from)) / h
}

// step advances by h (s) under command (rad/s) and load torque (N·m) and returns
// the mean speed over the step (rad/s).
func (d *drive) step(command, load, h float64) float64 {
	before := d.omega
	acc := load / d.inertia
	integral := d.a11*d.integral + d.a12*before + d.b1*command + d.c1*acc
	omega := d.a21*d.integral + d.a22*before + d.b2*command + d.c2*acc
	torque := d.inertia * (integral - d.damp*omega)
	if torque > d.peak || torque < -d.peak {
		torque = math.Copysign(d.peak, torque)
		omega = before + h*(torque-load)/d.inertia
		integral = torque/d.inertia + d.damp*omega
	}
	d.integral, d.omega, d.torque = integral, omega, torque
	mean := 0.5 * (before + omega)
	d.theta += h * mean
	return mean
}
