package loop

import (
	"math"
	"math/cmplx"
)

// Loop is an open loop L, broken at one place, with what its response along the
// frequency axis alone does not tell.
type Loop struct {
	L           Response
	Integrators int // poles of L at the origin
	Unstable    int // poles of L in the right half-plane
}

// Margins are the margins of a closed loop.
type Margins struct {
	Stable bool
	// Gain is the factor on the loop gain that makes a stable loop unstable, +Inf
	// where none does. For an unstable loop it is the smallest factor, below 1,
	// that brings a crossing of the negative real axis to -1, 0 where there is none.
	Gain     float64
	GainFreq float64 // rad/s, +Inf where L goes to a constant
	// Phase is the smallest angle (rad) that turns L onto -1, +Inf where |L| is
	// never 1; it is signed for an unstable loop.
	Phase             float64
	PhaseFreq         float64 // rad/s
	Delay             float64 // s, smallest additional delay that ends stability; +Inf for none, 0 for an unstable loop
	Sensitivity       float64 // peak of |1/(1+L)|, +Inf for an unstable loop
	PeakFreq          float64 // rad/s
	ComplementaryPeak float64 // peak of |L/(1+L)|, +Inf for an unstable loop
}

// Analyse returns the margins of the loop. The grid (rad/s, increasing) must
// span from well below to well above the crossovers; between its points the
// response is refined until it can be followed round -1.
func Analyse(l Loop, grid []float64) Margins {
	s := refine(l.L, grid)
	m := Margins{Stable: unstablePoles(l, s, 1) == 0, Gain: math.Inf(1), Phase: math.Inf(1), Delay: math.Inf(1)}
	m.gainMargin(l.L, s)
	m.phaseMargin(l.L, s)
	if !m.Stable {
		if m.Delay, m.Sensitivity, m.ComplementaryPeak = 0, math.Inf(1), math.Inf(1); m.Gain > 1 {
			m.Gain = 0
		}
		return m
	}
	m.Sensitivity, m.PeakFreq = peak(l.L, s, func(L complex128) float64 { return 1 / cmplx.Abs(1+L) })
	m.ComplementaryPeak, _ = peak(l.L, s, func(L complex128) float64 { return cmplx.Abs(L / (1 + L)) })
	return m
}

// gainMargin looks at every crossing of the negative real axis and at the end of the axis.
func (m *Margins) gainMargin(l Response, s samples) {
	crossing := func(size, omega float64) {
		if m.Stable == (size < 1) && 1/size < m.Gain {
			m.Gain, m.GainFreq = 1/size, omega
		}
	}
	for i := 1; i < len(s.omega); i++ {
		a, b := s.l[i-1], s.l[i]
		if math.Signbit(imag(a)) == math.Signbit(imag(b)) || min(real(a), real(b)) >= 0 {
			continue
		}
		omega := root(s.omega[i-1], s.omega[i], func(w float64) float64 { return imag(l(w)) })
		if at := real(l(omega)); at < -negligible {
			crossing(-at, omega)
		}
	}
	if end, constant := limit(l, s); constant && real(end) < -negligible {
		crossing(-real(end), math.Inf(1))
	}
}

// phaseMargin looks at every frequency where |L| is 1.
func (m *Margins) phaseMargin(l Response, s samples) {
	for i := 1; i < len(s.omega); i++ {
		if (cmplx.Abs(s.l[i-1]) > 1) == (cmplx.Abs(s.l[i]) > 1) {
			continue
		}
		omega := root(s.omega[i-1], s.omega[i], func(w float64) float64 { return math.Log(cmplx.Abs(l(w))) })
		angle := cmplx.Phase(-l(omega)) // from -180 degrees
		phase := angle
		if m.Stable {
			phase = math.Abs(angle)
		}
		if phase < m.Phase {
			m.Phase, m.PhaseFreq = phase, omega
		}
		if angle < 0 {
			angle += 2 * math.Pi
		}
		m.Delay = min(m.Delay, angle/omega)
	}
}

// negligible is a loop gain too small to count as a crossing.
const negligible = 1e-6

// samples is a response on a grid.
type samples struct {
	omega []float64
	l     []complex128
}

// refine evaluates the response on the grid and between its points until L turns
// by less than half a radian round -1 from one point to the next.
func refine(l Response, grid []float64) samples {
	s := samples{omega: make([]float64, 0, len(grid)), l: make([]complex128, 0, len(grid))}
	var between func(a, b float64, la, lb complex128, depth int)
	between = func(a, b float64, la, lb complex128, depth int) {
		if depth == 0 || turnsLittle(1+la, 1+lb) {
			return
		}
		middle := math.Sqrt(a * b)
		lm := l(middle)
		between(a, middle, la, lm, depth-1)
		s.omega, s.l = append(s.omega, middle), append(s.l, lm)
		between(middle, b, lm, lb, depth-1)
	}
	for i, omega := range grid {
		value := l(omega)
		if i > 0 {
			between(grid[i-1], omega, s.l[len(s.l)-1], value, 20)
		}
		s.omega, s.l = append(s.omega, omega), append(s.l, value)
	}
	return s
}

// turnsLittle reports whether b lies less than half a radian from a, seen from zero, or
// is no number, which no further point between would tell more of.
func turnsLittle(a, b complex128) bool {
	const tan = 0.54630248984379051326 // of half a radian
	along := real(a)*real(b) + imag(a)*imag(b)
	across := real(a)*imag(b) - imag(a)*real(b)
	return !(math.Abs(across) >= tan*along)
}

// unstablePoles returns the number of closed-loop poles in the right half-plane
// with the gain k by Nyquist's criterion: the open loop's own less the turns of
// 1+k·L round zero, the small arc round the poles at the origin included.
func unstablePoles(l Loop, s samples, k float64) int {
	first := s.l[0] * cmplx.Pow(complex(0, s.omega[0]), complex(float64(l.Integrators), 0))
	start := 0.0
	if real(first) < 0 && (l.Integrators > 0 || k*real(s.l[0]) < -1) {
		start = math.Pi
	}
	expected := start - float64(l.Integrators)*math.Pi/2
	angle := math.Atan2(k*imag(s.l[0]), 1+k*real(s.l[0]))
	angle += 2*math.Pi*math.Round((expected-angle)/(2*math.Pi)) + swept(s.l, k)
	return l.Unstable - int(math.Round((angle-start)/math.Pi))
}

// swept returns the angle (rad) by which 1+k·L turns round zero from the first
// sample to the last, each step the short way: the difference of their phases, and
// a turn for each step across the negative real axis, where phases jump.
func swept(l []complex128, k float64) float64 {
	turns := 0
	x, y := 1+k*real(l[0]), k*imag(l[0])
	first := math.Atan2(y, x)
	for _, v := range l[1:] {
		toX, toY := 1+k*real(v), k*imag(v)
		switch across := x*toY - y*toX; {
		case math.Signbit(y) == math.Signbit(toY):
		case math.Signbit(toY) && across > 0:
			turns++
		case math.Signbit(y) && across < 0:
			turns--
		}
		x, y = toX, toY
	}
	return math.Atan2(y, x) - first + 2*math.Pi*float64(turns)
}

// limit returns the value that L goes to at high frequency, if it goes to one
// that is not zero.
func limit(l Response, s samples) (complex128, bool) {
	last := len(s.l) - 1
	beyond, far := l(1e3*s.omega[last]), l(1e4*s.omega[last])
	constant := cmplx.Abs(beyond) > negligible && cmplx.Abs(far-beyond) < 1e-2*cmplx.Abs(beyond)
	return far, constant
}

// peak returns the largest figure over the response and where it is.
func peak(l Response, s samples, figure func(complex128) float64) (value, omega float64) {
	best := 0
	for i, v := range s.l {
		if f := figure(v); f > value {
			value, best = f, i
		}
	}
	if end, constant := limit(l, s); constant && figure(end) > value {
		return figure(end), math.Inf(1)
	}
	low, high := s.omega[max(best-1, 0)], s.omega[min(best+1, len(s.omega)-1)]
	return highest(low, high, func(w float64) float64 { return figure(l(w)) })
}
