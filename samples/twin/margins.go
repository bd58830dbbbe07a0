package twin

import (
	"math"
	"math/cmplx"
)

// Margins are those of one loop of the true machine at one place.
type Margins struct {
	Loop        string  // "position" or "force"
	Sign        float64 // +1 extending, -1 retracting
	Position    float64 // m
	MassFactor  float64
	Stable      bool
	Steady      bool    // slow travel was steady; the rest means little without
	GainMargin  float64 // upward, ratio, +Inf for none
	PhaseMargin float64 // rad, +Inf for none
	Sensitivity float64
}

// gridHz returns the frequencies (Hz) at which margins are read, up to half the
// controller's rate.
func gridHz(period float64) []float64 {
	top := 0.499 / period
	const low, n = 0.03, 1400
	f := make([]float64, n)
	for i := range f {
		f[i] = low * math.Pow(top/low, float64(i)/(n-1))
	}
	return f
}

// PositionMargins returns the margins of the position loop in slow travel
// through x (m), broken at the speed command and, with pressure damping, at the
// position signal too: the worse of the two.
func PositionMargins(m *Machine, l *PositionLoop, x, sign float64) Margins {
	plant := Linearise(m, x, sign)
	return plant.positionMargins(l, x, sign)
}

func (p *Plant) positionMargins(l *PositionLoop, x, sign float64) Margins {
	kp, ki := l.KpExtend, l.KiExtend
	if sign < 0 {
		kp, ki = l.KpRetract, l.KiRetract
	}
	gain := l.turns(sign, x*1e3, p.carrier) * 2 * math.Pi * 1e3 // 1/s of kp to rad/s per m
	damp := l.Damping * 2 * math.Pi * 1e-5                      // to rad/s per Pa
	areas := p.m.AreaRod() / p.m.AreaCap()
	freqs := gridHz(l.Period)
	grid := p.onGrid(l.Period)
	command, position := make([]complex128, len(freqs)), make([]complex128, len(freqs))
	for i, f := range freqs {
		omega := 2 * math.Pi * f
		gx, gc, gr := grid[i].x, grid[i].pCap, grid[i].pRod
		pi := complex(kp, 0) + complex(ki*l.Period, 0)/(1-cmplx.Exp(complex(0, -omega*l.Period)))
		low := firstOrder(l.Lowpass, omega, l.Period)
		inner := low * complex(damp, 0) * (1 - firstOrder(l.Highpass, omega, l.Period)) * (gc - complex(areas, 0)*gr)
		if l.Damping == 0 {
			inner = 0
		}
		outer := low * complex(gain, 0) * pi * gx
		command[i] = outer + inner
		position[i] = outer / (1 + inner)
	}
	out := readMargins(freqs, command)
	if l.Damping != 0 {
		other := readMargins(freqs, position)
		out.GainMargin = math.Min(out.GainMargin, other.GainMargin)
		out.PhaseMargin = math.Min(out.PhaseMargin, other.PhaseMargin)
		out.Sensitivity = math.Max(out.Sensitivity, other.Sensitivity)
	}
	out.Loop, out.Sign, out.Position, out.Steady = "position", sign, x, p.steady
	return out
}

// ForceMargins returns the margins of the force loop while pressing slowly at
// the hydraulic force (N).
func ForceMargins(m *Machine, l *ForceLoop, force float64) Margins {
	p := linearisePressed(m, force)
	freqs := gridHz(l.Period)
	loop := make([]complex128, len(freqs))
	for i, f := range freqs {
		omega := 2 * math.Pi * f
		_, gc, gr := p.Response(omega, l.Period)
		pi := complex(l.Kp, 0) + complex(l.Ki*l.Period, 0)/(1-cmplx.Exp(complex(0, -omega*l.Period)))
		loop[i] = pi * complex(2*math.Pi*1e-3, 0) * firstOrder(l.Lowpass, omega, l.Period) *
			(complex(m.AreaCap(), 0)*gc - complex(m.AreaRod(), 0)*gr)
	}
	out := readMargins(freqs, loop)
	out.Loop, out.Sign, out.Position, out.Steady = "force", m.Contact.Sign, m.Contact.Position, true
	return out
}

// firstOrder is the response of the law's sampled low-pass; 1 where freqHz is 0.
func firstOrder(freqHz, omega, period float64) complex128 {
	if freqHz <= 0 {
		return 1
	}
	share := complex(1-math.Exp(-2*math.Pi*freqHz*period), 0)
	return share / (1 - (1-share)*cmplx.Exp(complex(0, -omega*period)))
}

// readMargins reads the margins off a sampled loop response and counts how often
// 1 + L turns about the origin, which decides stability for a loop whose only
// poles on or outside the unit circle are integrators.
func readMargins(freqs []float64, loop []complex128) Margins {
	out := Margins{GainMargin: math.Inf(1), PhaseMargin: math.Inf(1)}
	turned := cmplx.Phase(1 + loop[0])
	if turned > math.Pi/2 {
		turned -= 2 * math.Pi
	}
	for i, l := range loop {
		out.Sensitivity = math.Max(out.Sensitivity, 1/cmplx.Abs(1+l))
		if i == 0 {
			continue
		}
		before := loop[i-1]
		turned += cmplx.Phase((1 + l) / (1 + before))
		if imag(l)*imag(before) < 0 {
			at := real(before) - imag(before)*(real(l)-real(before))/(imag(l)-imag(before))
			if at < 0 && at > -1 {
				out.GainMargin = math.Min(out.GainMargin, -1/at)
			}
		}
		a, b := math.Log(cmplx.Abs(before)), math.Log(cmplx.Abs(l))
		if a*b < 0 {
			crossing := before * cmplx.Pow(l/before, complex(a/(a-b), 0))
			angle := math.Abs(math.Pi - math.Abs(cmplx.Phase(crossing)))
			out.PhaseMargin = math.Min(out.PhaseMargin, angle)
		}
	}
	out.Stable = math.Abs(turned) < math.Pi
	if !out.Stable {
		out.GainMargin = math.Min(out.GainMargin, 1)
	}
	return out
}
