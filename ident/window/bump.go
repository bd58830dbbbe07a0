// Package window turns differential equations into linear regressions without
// ever differentiating a sample. A smooth bump phi of finite width is slid over
// the log, and derivatives are moved onto it by parts:
//
//	∫ phi·y⁽ᵏ⁾ dt = (-1)ᵏ ∫ phi⁽ᵏ⁾·y dt
//
// so that each term of the equation becomes one number per window, a weighted
// sum of the logged samples. The regressions that follow are solved by
// instrumental variables with robust weights, Gaussian priors and a covariance
// that does not take overlapping windows for independent ones.
//
// A Slider places the windows, a Mask says which of them may be used, Solve
// fits. Rows of several logs are put one behind the other before Solve.
//
// The method is that of modulating functions: M. Shinbrot, "On the analysis of
// linear and nonlinear systems", Trans. ASME 79, 1957, pp. 547–552 (value from memory).
package window

import (
	"math"

	"gonum.org/v1/gonum/mat"
)

// MaxDerivative is the highest derivative that a bump can take over.
const MaxDerivative = 4

// bump returns the samples of (-1)ᵏ·phi⁽ᵏ⁾·h for
//
//	phi = 4^q (s(1-s))^q, s = (i - shift)/(n-1)
//
// over i = first ... first+len-1, so that their sum with samples y is the
// integral of phi·y⁽ᵏ⁾(t + shift·h). The sums are corrected to be exact for
// polynomials up to degree k+1: a large constant in y must not leak in.
func bump(q, k, n int, period, shift float64) (first int, weights []float64) {
	first = int(math.Floor(shift))
	last := int(math.Ceil(shift)) + n - 1
	width := float64(n-1) * period
	s := make([]float64, last-first+1)
	phi := make([]float64, len(s))
	weights = make([]float64, len(s))
	sign := 1.0
	if k%2 == 1 {
		sign = -1
	}
	for i := range s {
		s[i] = (float64(first+i) - shift) / float64(n-1)
		phi[i] = bumpDerivative(q, 0, s[i]) * period
		weights[i] = sign * bumpDerivative(q, k, s[i]) * period / math.Pow(width, float64(k))
	}
	exactMoments(weights, phi, s, k, width)
	return first, weights
}

// bumpDerivative returns the k-th derivative by s of 4^q (s(1-s))^q, zero outside 0 to 1.
func bumpDerivative(q, k int, s float64) float64 {
	if s <= 0 || s >= 1 {
		return 0
	}
	u, d := s*(1-s), 1-2*s
	// falling is q(q-1)...(q-j+1)·u^(q-j).
	falling := func(j int) float64 {
		f := 1.0
		for i := range j {
			f *= float64(q - i)
		}
		return f * math.Pow(u, float64(q-j))
	}
	var v float64
	switch k {
	case 0:
		v = falling(0)
	case 1:
		v = falling(1) * d
	case 2:
		v = falling(2)*d*d - 2*falling(1)
	case 3:
		v = falling(3)*d*d*d - 6*falling(2)*d
	case MaxDerivative:
		v = falling(4)*d*d*d*d - 12*falling(3)*d*d + 12*falling(2)
	default:
		panic("window: derivative out of range")
	}
	return v * math.Pow(4, float64(q))
}

// exactMoments adds phi times a polynomial to the weights such that their sums
// with s^j are those of the integrals ∫ phi (s^j)⁽ᵏ⁾: nothing for j < k, and the
// sums of phi itself for j = k and k+1.
func exactMoments(weights, phi, s []float64, k int, width float64) {
	if k == 0 {
		return
	}
	order := k + 2
	system, rhs := mat.NewDense(order, order, nil), mat.NewVecDense(order, nil)
	var sum, moment float64
	for i, p := range phi {
		sum += p
		moment += p * (s[i] - 0.5)
	}
	for j := range order {
		var want float64
		factorial := 1.0
		for i := 2; i <= k; i++ {
			factorial *= float64(i)
		}
		switch j {
		case k:
			want = factorial * sum
		case k + 1:
			want = factorial * float64(k+1) * moment
		}
		want /= math.Pow(width, float64(k))
		for i, w := range weights {
			power := math.Pow(s[i]-0.5, float64(j))
			want -= w * power
			for c := range order {
				system.Set(j, c, system.At(j, c)+phi[i]*power*math.Pow(s[i]-0.5, float64(c)))
			}
		}
		rhs.SetVec(j, want)
	}
	var poly mat.VecDense
	if err := poly.SolveVec(system, rhs); err != nil {
		return // too few samples to correct; NewSlider rules that out
	}
	for i := range weights {
		var add float64
		for c := order - 1; c >= 0; c-- {
			add = add*(s[i]-0.5) + poly.AtVec(c)
		}
		weights[i] += add * phi[i]
	}
}
