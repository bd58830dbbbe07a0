package spectral

import (
	"errors"
	"fmt"
	"math"
	"math/cmplx"
)

// ErrTooFewSegments says that a frequency response has too few segments for its
// coherence to mean anything: with a single one coherence is 1 whatever the signals are.
var ErrTooFewSegments = errors.New("spectral: frequency response: too few segments")

// minSegments keeps the 95 % threshold of zero coherence below 0.6.
const minSegments = 5

// Averager gathers cross-spectra of several signals over many stretches of log:
// Hann-windowed segments at half overlap, each with its straight line taken out.
// Channel 0 is the instrument: the excitation that came from outside the loop.
// In open loop that is the input itself.
type Averager struct {
	period   float64
	t        *Transform
	window   []float64
	segments int
	buf      [2][]float64
	spectra  [][]complex128
	cross    [][]complex128 // upper triangle, i*channels+j, conj(X_i)·X_j summed
}

// NewAverager returns an Averager for segments of n samples at the period (s)
// of the given number of channels. It panics if one of them is not positive.
func NewAverager(n int, period float64, channels int) *Averager {
	if n <= 0 || period <= 0 || channels <= 0 {
		panic("spectral: averager needs positive sizes")
	}
	a := &Averager{period: period, t: NewTransform(n), window: Hann(n)}
	a.buf = [2][]float64{make([]float64, n), make([]float64, n)}
	a.spectra = make([][]complex128, channels+channels%2)
	for i := range a.spectra {
		a.spectra[i] = make([]complex128, n/2+1)
	}
	a.cross = make([][]complex128, channels*channels)
	for i := range channels {
		for j := i; j < channels; j++ {
			a.cross[i*channels+j] = make([]complex128, n/2+1)
		}
	}
	return a
}

func (a *Averager) channels() int { return int(math.Sqrt(float64(len(a.cross))) + 0.5) }

// Add takes in a stretch: one slice per channel, all of the same length. What
// is left at its end after the last whole segment is not used. It panics if the
// number of channels or the lengths do not fit.
func (a *Averager) Add(signals ...[]float64) {
	if len(signals) != a.channels() {
		panic("spectral: number of signals differs from the averager's")
	}
	for _, s := range signals {
		if len(s) != len(signals[0]) {
			panic("spectral: signals differ in length")
		}
	}
	n := a.t.Len()
	for from := 0; from+n <= len(signals[0]); from += max(n/2, 1) {
		for i := 0; i < len(a.spectra); i += 2 {
			a.load(0, signals[i][from:from+n])
			if i+1 < len(signals) {
				a.load(1, signals[i+1][from:from+n])
			} else {
				clear(a.buf[1])
			}
			a.t.Pair(a.spectra[i], a.spectra[i+1], a.buf[0], a.buf[1])
		}
		a.accumulate(len(signals))
	}
}

func (a *Averager) load(slot int, x []float64) {
	b, window := a.buf[slot][:len(x)], a.window[:len(x)]
	start, slope := trend(x)
	for i, v := range x {
		b[i] = (v - start - slope*float64(i)) * window[i]
	}
}

func (a *Averager) accumulate(channels int) {
	for i := range channels {
		for j := i; j < channels; j++ {
			sum, x, y := a.cross[i*channels+j], a.spectra[i], a.spectra[j]
			for k := range sum {
				sum[k] += cmplx.Conj(x[k]) * y[k]
			}
		}
	}
	a.segments++
}

// Independent returns what the segments gathered are worth as independent ones,
// taking their overlap into account.
func (a *Averager) Independent() float64 {
	k := float64(a.segments)
	if a.segments < 2 {
		return k
	}
	return k / (1 + overlapVariance*(1-1/k))
}

// Response is a frequency response with its random error.
type Response struct {
	Omega     []float64 // rad/s
	H         []complex128
	Coherence []float64
	// RelError is one standard deviation of the magnitude over the magnitude, and
	// of the phase in radians.
	RelError []float64
}

// Between returns the frequency response from channel in to channel out, with
// channel 0 as the instrument r:
//
//	H = S_r,out / S_r,in
//
// With in = 0 that is the usual estimate H1 with the ordinary coherence. In a
// closed loop it is free of the bias that the feedback of noise gives H1. The
// coherence returned is 1/(1+See·Srr/|H·S_r,in|²) with See the spectrum of
// out - H·in, which is the ordinary one for in = 0, and
//
//	σ(|H|)/|H| = sqrt((1-γ²)/(2 n γ²))
//
// with n independent segments. It returns ErrTooFewSegments with fewer than 5
// segments, and panics if a channel is out of range.
//
// J. S. Bendat and A. G. Piersol, "Random Data" (formula from memory).
func (a *Averager) Between(in, out int) (Response, error) {
	channels := a.channels()
	if in < 0 || out < 0 || in >= channels || out >= channels {
		panic("spectral: channel out of range")
	}
	if a.segments < minSegments {
		return Response{}, fmt.Errorf("%w: %d, need %d", ErrTooFewSegments, a.segments, minSegments)
	}
	lines := len(a.spectra[0])
	r := Response{Omega: make([]float64, lines), H: make([]complex128, lines), Coherence: make([]float64, lines), RelError: make([]float64, lines)}
	step := 2 * math.Pi / (float64(a.t.Len()) * a.period)
	for k := range lines {
		r.Omega[k] = float64(k) * step
		through := a.at(0, in, k)
		if through == 0 {
			r.RelError[k] = math.Inf(1)
			continue
		}
		h := a.at(0, out, k) / through
		noise := real(a.at(out, out, k)) - 2*real(cmplx.Conj(a.at(in, out, k))*h) + real(h*cmplx.Conj(h))*real(a.at(in, in, k))
		noise = max(noise, 0)
		signal := real(h*cmplx.Conj(h)*through*cmplx.Conj(through)) / real(a.at(0, 0, k))
		r.H[k] = h
		if signal > 0 { // nothing over nothing, of an output that never changes, is no coherence
			r.Coherence[k] = signal / (signal + noise)
		}
		r.RelError[k] = RandomError(r.Coherence[k], a.Independent())
	}
	return r, nil
}

// at returns the summed cross-spectrum conj(X_i)·X_j of line k.
func (a *Averager) at(i, j, k int) complex128 {
	if i > j {
		return cmplx.Conj(a.at(j, i, k))
	}
	return a.cross[i*a.channels()+j][k]
}

// RandomError returns one standard deviation of a frequency response's
// magnitude over the magnitude, sqrt((1-γ²)/(2 n γ²)), at coherence γ² from n
// independent segments; +Inf at no coherence.
func RandomError(coherence, n float64) float64 {
	if !(coherence > 0) {
		return math.Inf(1)
	}
	return math.Sqrt(max(1-coherence, 0) / (2 * n * coherence))
}

// ZeroCoherence returns the coherence that n independent segments of unrelated
// signals stay below in 95 of 100 cases, 1 - 0.05^(1/(n-1)); 1 for n up to 1.
func ZeroCoherence(n float64) float64 {
	if n <= 1 {
		return 1
	}
	return 1 - math.Pow(0.05, 1/(n-1))
}
