// Package loop evaluates control loops in the frequency domain as they will run:
// sampled, held, delayed and filtered. It finds margins, decides stability by the
// Nyquist count, and finds the gains that keep stated margins. Frequencies are
// rad/s, phases rad, gain margins ratios.
package loop

import (
	"math"
	"math/cmplx"
)

// Response is a frequency response: the complex gain at angular frequency omega (rad/s, positive).
type Response func(omega float64) complex128

// Times returns the response multiplied by a real gain.
func (r Response) Times(k float64) Response {
	return func(omega float64) complex128 { return complex(k, 0) * r(omega) }
}

// Transfer is a continuous transfer function with dead time,
//
//	Gain · Π Num_i(s) / Π Den_i(s) · e^(-s·Delay)
//
// each factor a polynomial in s, lowest power first.
type Transfer struct {
	Gain     float64
	Num, Den [][]float64
	Delay    float64 // s
}

// At returns the response at omega (rad/s).
func (t Transfer) At(omega float64) complex128 {
	s := complex(0, omega)
	value := complex(t.Gain, 0)
	for _, p := range t.Num {
		value *= polynomial(p, s)
	}
	for _, p := range t.Den {
		value /= polynomial(p, s)
	}
	if t.Delay != 0 {
		value *= cmplx.Exp(-s * complex(t.Delay, 0))
	}
	return value
}

func polynomial(p []float64, s complex128) complex128 {
	var value complex128
	for i := len(p) - 1; i >= 0; i-- {
		value = value*s + complex(p[i], 0)
	}
	return value
}

// Sampled is what a sampled controller adds to a loop: its period and the pure
// delay from measurement to what moves, beyond the hold.
type Sampled struct {
	Period, Delay float64 // s
}

// At returns hold and delay at omega (rad/s),
//
//	(1 - e^(-sT))/(sT) · e^(-s·Delay)
//
// The images of the sampling above half the rate change the response by less than
// a thousandth where the loop has gain, and are left out.
func (s Sampled) At(omega float64) complex128 {
	half := omega * s.Period / 2
	size := 1.0
	if half != 0 {
		size = math.Sin(half) / half
	}
	sin, cos := math.Sincos(-half - omega*s.Delay)
	return complex(size*cos, size*sin)
}

// Back returns z^-1 = e^(-jωT), the delay by one period.
func (s Sampled) Back(omega float64) complex128 {
	sin, cos := math.Sincos(-omega * s.Period)
	return complex(cos, sin)
}

// Lowpass returns the response of the law's first-order filter with the corner (rad/s;
// none lets all through): a/(1 - (1-a)·z^-1), a = 1 - e^(-corner·T).
func (s Sampled) Lowpass(corner, omega float64) complex128 {
	return lowpass(s.share(corner), s.Back(omega))
}

// Filter writes Lowpass of one corner (rad/s) into dst, given Back of each frequency.
func (s Sampled) Filter(dst, back []complex128, corner float64) {
	share := s.share(corner)
	for i, z := range back {
		dst[i] = lowpass(share, z)
	}
}

func (s Sampled) share(corner float64) float64 {
	if corner <= 0 {
		return 1
	}
	return -math.Expm1(-corner * s.Period)
}

func lowpass(share float64, back complex128) complex128 {
	if share == 1 {
		return 1
	}
	return complex(share, 0) * inverse(1-complex(1-share, 0)*back)
}

// inverse returns 1/z for a z of moderate size that is not zero; complex division
// looks after the others too, at three times the cost.
func inverse(z complex128) complex128 {
	k := 1 / (real(z)*real(z) + imag(z)*imag(z))
	return complex(k*real(z), -k*imag(z))
}

// PI returns the response of the law's proportional and integral action,
// kp + ki·T/(1 - z^-1).
func (s Sampled) PI(kp, ki, omega float64) complex128 {
	if ki == 0 {
		return complex(kp, 0)
	}
	return complex(kp, 0) + complex(ki*s.Period, 0)/(1-s.Back(omega))
}
