package moves

import (
	"math"
	"math/rand/v2"
)

const (
	crestStarts = 4    // sets of phases to begin with
	crestRounds = 60   // of clipping each
	crestClip   = 0.75 // of the peak, where a round clips
	crestSeed   = 20260
	crestGrid   = 1024 // points of one period in the search
)

// lowCrest returns one period of n samples of the lines at their levels, with
// phases that make its peak low, and the peak. It begins with Schroeder's phases
// for a flat spectrum, π·i²/L (M. R. Schroeder, "Synthesis of low-peak-factor
// signals and binary sequences with low autocorrelation", IEEE Trans. Information
// Theory 16(1), 1970, pp. 85-89; value from memory), and with seeded random ones;
// from each it goes on by clipping: cut the peaks off, keep the phases that the
// lines then have, put the levels back (E. Van der Ouderaa, J. Schoukens and J.
// Renneboog, "Peak factor minimization using a time-frequency domain swapping
// algorithm", IEEE Trans. Instrumentation and Measurement 37(1), 1988, pp. 145-147; from memory).
func lowCrest(lines []int, level []float64, n int) (one []float64, peak float64) {
	rng := rand.New(rand.NewPCG(crestSeed, uint64(len(lines))))
	var best []float64
	lowest := math.Inf(1)
	phase := make([]float64, len(lines))
	for start := range crestStarts {
		for i := range phase {
			if phase[i] = math.Pi * float64(i*i) / float64(len(lines)); start > 0 {
				phase[i] = 2 * math.Pi * rng.Float64()
			}
		}
		for range crestRounds {
			y := lineSum(lines, level, phase, crestGrid)
			top, _ := peaks(y, 1)
			if top < lowest {
				lowest, best = top, append(best[:0], phase...)
			}
			for i, v := range y {
				y[i] = math.Max(-crestClip*top, math.Min(crestClip*top, v))
			}
			phasesOf(y, lines, phase)
		}
	}
	one = lineSum(lines, level, best, n)
	peak, _ = peaks(one, 1)
	return one, peak
}

// waves returns one period of sine and cosine in n samples.
func waves(n int) (sine, cosine []float64) {
	sine, cosine = make([]float64, n), make([]float64, n)
	for i := range n {
		sine[i], cosine[i] = math.Sincos(2 * math.Pi * float64(i) / float64(n))
	}
	return sine, cosine
}

// lineSum returns one period of n samples of the sum of level·sin(2π·k·t + phase).
func lineSum(lines []int, level, phase []float64, n int) []float64 {
	y := make([]float64, n)
	sine, cosine := waves(n)
	for i, k := range lines {
		a, b := level[i]*math.Cos(phase[i]), level[i]*math.Sin(phase[i])
		for j := range y {
			at := j * k % n
			y[j] += a*sine[at] + b*cosine[at]
		}
	}
	return y
}

// phasesOf sets the phases that the lines have in one period y.
func phasesOf(y []float64, lines []int, phase []float64) {
	sine, cosine := waves(len(y))
	for i, k := range lines {
		var a, b float64
		for j, v := range y {
			at := j * k % len(y)
			a += v * sine[at]
			b += v * cosine[at]
		}
		phase[i] = math.Atan2(b, a)
	}
}
