package spectral

import "math"

// fft is a discrete Fourier transform of one length whose only prime factors are
// 2, 3 and 5, by Stockham's self-sorting form: each stage takes the transforms of
// radix r numbers that lie a r-th of the signal apart and writes them side by side,
// so that the result comes out in order without a permutation. Two stages of two
// are done as one of four, which saves a quarter of the multiplications.
//
// C. Van Loan, "Computational Frameworks for the Fast Fourier Transform", SIAM
// 1992, section 1.7 (value from memory); the small transforms follow from the
// definition with equal products joined.
type fft struct {
	radices []int
	turn    []complex128 // e^(-j2πk/n)
	work    []complex128
}

func newFFT(n int) *fft {
	f := &fft{turn: make([]complex128, n), work: make([]complex128, n)}
	for k := range f.turn {
		sin, cos := math.Sincos(-2 * math.Pi * float64(k) / float64(n))
		f.turn[k] = complex(cos, sin)
	}
	for _, radix := range []int{4, 2, 3, 5} {
		for ; n%radix == 0; n /= radix {
			f.radices = append(f.radices, radix)
		}
	}
	return f
}

// transform replaces x by the sums over i of x[i] e^(-j2πik/n).
func (f *fft) transform(x []complex128) {
	from, to, done := x, f.work, 1
	for _, radix := range f.radices {
		apart := len(x) / radix
		switch radix {
		case 2:
			f.stage2(to, from, apart, done)
		case 3:
			f.stage3(to, from, apart, done)
		case 4:
			f.stage4(to, from, apart, done)
		case 5:
			f.stage5(to, from, apart, done)
		}
		from, to, done = to, from, done*radix
	}
	if len(f.radices)%2 == 1 {
		copy(x, f.work)
	}
}

// The stages read r numbers apart from one another and write them done apart, done
// being the length of the transforms that lie side by side in x already. The q-th
// group turns its k-th output by e^(-j2πqk/(n/done)).

func (f *fft) stage2(to, from []complex128, apart, done int) {
	for i, o := 0, 0; i < apart; o += done {
		w := f.turn[i]
		for end := i + done; i < end; i, o = i+1, o+1 {
			a, b := from[i], from[i+apart]
			to[o] = a + b
			to[o+done] = (a - b) * w
		}
	}
}

func (f *fft) stage4(to, from []complex128, apart, done int) {
	for i, o := 0, 0; i < apart; o += 3 * done {
		w1, w2, w3 := f.turn[i], f.turn[2*i], f.turn[3*i]
		for end := i + done; i < end; i, o = i+1, o+1 {
			a, b, c, d := from[i], from[i+apart], from[i+2*apart], from[i+3*apart]
			sum, difference := a+c, a-c
			other, turned := b+d, timesJ(d-b)
			to[o] = sum + other
			to[o+done] = (difference + turned) * w1
			to[o+2*done] = (sum - other) * w2
			to[o+3*done] = (difference - turned) * w3
		}
	}
}

func (f *fft) stage3(to, from []complex128, apart, done int) {
	const sin = 0.86602540378443864676 // of 120 degrees
	for i, o := 0, 0; i < apart; o += 2 * done {
		w1, w2 := f.turn[i], f.turn[2*i]
		for end := i + done; i < end; i, o = i+1, o+1 {
			a, b, c := from[i], from[i+apart], from[i+2*apart]
			sum, turned := b+c, timesJ(scale(sin, c-b))
			half := a - scale(0.5, sum)
			to[o] = a + sum
			to[o+done] = (half + turned) * w1
			to[o+2*done] = (half - turned) * w2
		}
	}
}

func (f *fft) stage5(to, from []complex128, apart, done int) {
	const ( // of 72 and 144 degrees
		cos1, sin1 = 0.30901699437494742410, 0.95105651629515357212
		cos2, sin2 = -0.80901699437494742410, 0.58778525229247312917
	)
	for i, o := 0, 0; i < apart; o += 4 * done {
		w1, w2, w3, w4 := f.turn[i], f.turn[2*i], f.turn[3*i], f.turn[4*i]
		for end := i + done; i < end; i, o = i+1, o+1 {
			a, b, c, d, e := from[i], from[i+apart], from[i+2*apart], from[i+3*apart], from[i+4*apart]
			outer, inner := b+e, c+d
			p, q := e-b, d-c
			even1, even2 := a+scale(cos1, outer)+scale(cos2, inner), a+scale(cos2, outer)+scale(cos1, inner)
			odd1, odd2 := timesJ(scale(sin1, p)+scale(sin2, q)), timesJ(scale(sin2, p)-scale(sin1, q))
			to[o] = a + outer + inner
			to[o+done] = (even1 + odd1) * w1
			to[o+2*done] = (even2 + odd2) * w2
			to[o+3*done] = (even2 - odd2) * w3
			to[o+4*done] = (even1 - odd1) * w4
		}
	}
}

func timesJ(z complex128) complex128 { return complex(-imag(z), real(z)) }

func scale(k float64, z complex128) complex128 { return complex(k*real(z), k*imag(z)) }
