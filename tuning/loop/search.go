package loop

import "math"

// root returns a zero of f between a and b, where f has different signs, by the
// Illinois form of false position.
func root(a, b float64, f func(float64) float64) float64 {
	fa, fb := f(a), f(b)
	for range 60 {
		if fa == fb || math.Abs(b-a) <= 1e-12*math.Abs(b) {
			break
		}
		c := (a*fb - b*fa) / (fb - fa)
		fc := f(c)
		if math.Abs(fc) < 1e-13 {
			return c
		}
		if math.Signbit(fc) != math.Signbit(fb) {
			a, fa = b, fb
		} else {
			fa /= 2
		}
		b, fb = c, fc
	}
	return b
}

// highest returns the largest value of f, which has one hump between a and b, and
// where it is, by golden section.
func highest(a, b float64, f func(float64) float64) (value, at float64) {
	share := (math.Sqrt(5) - 1) / 2
	c, d := b-share*(b-a), a+share*(b-a)
	fc, fd := f(c), f(d)
	for b-a > 1e-6*b {
		if fc > fd {
			b, d, fd = d, c, fc
			c = b - share*(b-a)
			fc = f(c)
		} else {
			a, c, fc = c, d, fd
			d = a + share*(b-a)
			fd = f(d)
		}
	}
	if fc > fd {
		return fc, c
	}
	return fd, d
}
