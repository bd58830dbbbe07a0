package moves

import "math"

// profile is a motor speed (rad/s) by time as it is put together, one entry per
// period. It begins at rest.
type profile struct {
	period float64
	accel  float64 // rad/s², most of a ramp
	speed  []float64
}

func (w *planner) profile() *profile {
	return &profile{period: w.b.period, accel: w.b.accel, speed: []float64{0}}
}

func (p *profile) last() float64 { return p.speed[len(p.speed)-1] }

// hold keeps the present speed for some seconds.
func (p *profile) hold(seconds float64) {
	v := p.last()
	for range int(math.Round(seconds / p.period)) {
		p.speed = append(p.speed, v)
	}
}

// ramp goes to a speed along half a cosine, as gently as accel asks:
//
//	n = n0 + (n1 - n0)·(1 - cos(π·t/T))/2,  T = π/2·|n1 - n0|/accel
func (p *profile) ramp(to float64) { p.rampIn(to, math.Pi/2*math.Abs(to-p.last())/p.accel) }

// rampIn does so in a given time (s), of ten periods at least.
func (p *profile) rampIn(to, seconds float64) {
	from := p.last()
	n := max(10, int(math.Ceil(seconds/p.period)))
	for i := 1; i <= n; i++ {
		p.speed = append(p.speed, from+(to-from)*(1-math.Cos(math.Pi*float64(i)/float64(n)))/2)
	}
}

// stop ramps to rest and stays there for a moment, so that the log shows the end.
func (p *profile) stop() []float64 {
	p.ramp(0)
	p.hold(restTime)
	return p.speed
}

// restTime (s) stands at rest before and after the motion: the log then shows
// the pressures at rest, and the move counts as one between two rests.
const restTime = 0.4

// envelope returns how far (m) the rod can get from its start, inwards (negative
// or zero) and outwards, and where it can stand at the end, while the speeds times
// size are played: every turn counts at the least and the most travel, all the time
// slip pulls either way. In closed loop a wrong scale lets the rod run ahead of its
// command by l, with dl/dt = lead·v - slowLoop·l.
func (b *Bounds) envelope(speed []float64, size, period float64) (reach, end [2]float64) {
	out, back := b.PerTurn.Extend, b.PerTurn.Retract
	var ahead [2]float64
	for _, n := range speed {
		n *= size
		low, high := n*out[0], n*out[1]
		if n < 0 {
			low, high = n*back[1], n*back[0]
		}
		end[0] += (low + b.Drift[0]) * period
		end[1] += (high + b.Drift[1]) * period
		ahead[0] += (b.lead*min(low, 0) - slowLoop*ahead[0]) * period
		ahead[1] += (b.lead*max(high, 0) - slowLoop*ahead[1]) * period
		reach[0], reach[1] = min(reach[0], end[0]+ahead[0]), max(reach[1], end[1]+ahead[1])
	}
	return reach, end
}

// scaled returns the speeds times f.
func scaled(speed []float64, f float64) []float64 {
	out := make([]float64, len(speed))
	for i, v := range speed {
		out[i] = f * v
	}
	return out
}

// place returns where the rod must start (m) so that the profile stays inside at
// every size, and whether there is such a place: the middle of what is possible.
func (b *Bounds) place(speed []float64) (start float64, ok bool) {
	var reach [2]float64
	for _, size := range Sizes {
		r, _ := b.envelope(speed, size, b.period)
		reach = [2]float64{min(reach[0], r[0]), max(reach[1], r[1])}
	}
	aside := b.tolerance + b.give
	low, high := b.Low-reach[0]+aside, b.High-reach[1]-aside
	return (low + high) / 2, low <= high
}

// peaks returns the largest speed (rad/s) and acceleration (rad/s²).
func peaks(speed []float64, period float64) (top, accel float64) {
	for i, n := range speed {
		top = max(top, math.Abs(n))
		if i > 0 {
			accel = max(accel, math.Abs(n-speed[i-1])/period)
		}
	}
	return top, accel
}
