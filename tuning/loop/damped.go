package loop

import (
	"math"

	"eha/strokewise/tuning/law"
)

// MaxDampedGain is MaxGain for a loop with pressure damping: outer is the path
// through position at a gain of one, inner the path through pressure. Broken at
// the position signal the loop is k·outer/(1+inner), and all targets hold on it; broken at the
// drive's command it is k·outer + inner, and the sensitivity peak holds on it. The
// damping must leave the loop stable at k = 0.
func MaxDampedGain(omega []float64, outer, inner []complex128, t law.Targets) (k, at float64) {
	closed := make([]complex128, len(outer))
	for i := range outer {
		closed[i] = outer[i] / (1 + inner[i])
	}
	k, at = MaxGain(omega, closed, t)
	for i := range outer {
		if limit := discLimit(1+inner[i], outer[i], t.SensitivityPeak); limit < k {
			k, at = limit, omega[i]
		}
	}
	return k, at
}

// discLimit returns the smallest positive k at which |base + k·g| falls to 1/ms,
// zero where it is below at k = 0, +Inf where it never is.
func discLimit(base, g complex128, ms float64) float64 {
	a := real(g)*real(g) + imag(g)*imag(g)
	b := real(base)*real(g) + imag(base)*imag(g)
	c := real(base)*real(base) + imag(base)*imag(base) - 1/(ms*ms)
	if c <= 0 {
		return 0
	}
	if disc := b*b - a*c; b < 0 && disc >= 0 {
		return (-b - math.Sqrt(disc)) / a
	}
	return math.Inf(1)
}
