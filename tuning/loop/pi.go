package loop

import (
	"math"
	"math/cmplx"
)

// MaxIntegral returns the controller kp + ki/s with the largest ki that keeps the
// sensitivity peak of the loop with the process samples p at or below ms at
// every smaller ki too. K. J. Åström, H. Panagopoulos and T. Hägglund, "Design of PI
// controllers based on non-convex optimization", Automatica 34(5), 1998, pp.
// 585-601 states the problem (value from memory); it is solved here by scanning
// kp from zero to highest and closing in on the best. Both gains are zero where nothing is permitted.
func MaxIntegral(omega []float64, p []complex128, ms, highest float64) (kp, ki float64) {
	at := func(k float64) float64 { return integralLimit(omega, p, ms, k) }
	const steps = 200
	best := 0.0
	for i := 0; i <= steps; i++ {
		if k := highest * float64(i) / steps; at(k) > ki {
			best, ki = k, at(k)
		}
	}
	low, high := math.Max(best-highest/steps, 0), best+highest/steps
	ki, kp = highestOf(low, high, at, ki, best)
	return kp, ki
}

func highestOf(low, high float64, f func(float64) float64, value, at float64) (float64, float64) {
	if v, w := highest(low, high, f); v > value {
		return v, w
	}
	return value, at
}

// integralLimit returns the smallest ki above zero at which |1+L| falls to 1/ms
// at some frequency, 0 where kp alone breaks it. With L = kp·P + ki·Q, Q = P/(jω),
// the limit at each frequency is the smaller root of a quadratic in ki.
func integralLimit(omega []float64, p []complex128, ms, kp float64) float64 {
	limit := math.Inf(1)
	for i, w := range omega {
		base, q := 1+complex(kp, 0)*p[i], p[i]/complex(0, w)
		a := real(q)*real(q) + imag(q)*imag(q)
		b := real(q * cmplx.Conj(base))
		c := real(base)*real(base) + imag(base)*imag(base) - 1/(ms*ms)
		if c < 0 {
			return 0
		}
		if disc := b*b - a*c; b < 0 && disc >= 0 {
			limit = math.Min(limit, (-b-math.Sqrt(disc))/a)
		}
	}
	return limit
}
