package trace

import (
	"math"
	"slices"
)

const (
	longestSpike = 3
	// A spike stands this many times above both the noise of the channel and the
	// bends of its neighbourhood: gaussian noise never does, nor does a machine.
	spikeOverNoise = 25
	spikeOverBends = 8
	spikeAround    = 12 // samples on either side that make the neighbourhood
	// shortestPulse (s) is as long as a pulse of current is at least that speeds a motor up; a
	// slow log shows such a pulse as one or two samples.
	shortestPulse = 2e-3
)

// despike bridges short runs of samples far outside both neighbours and the noise,
// in place, and lists them.
func despike(x []float64, c Channel, timeAt func(int) float64) []Spike {
	noise := bendScale(x)
	low, high := usualRange(x)
	threshold := math.Max(spikeOverNoise*noise, 0.005*(high-low))
	if !(threshold > 0) {
		return nil
	}
	longest := longestSpike
	if c == MotorCurrent || c == MotorTorque {
		longest = min(longest, int(shortestPulse/(timeAt(1)-timeAt(0))+0.01))
	}
	var spikes []Spike
	for i := 1; i < len(x)-1; i++ {
		if math.Abs(x[i]-x[i-1]) < threshold {
			continue
		}
		for run := 1; run <= longest && i+run < len(x); run++ {
			if isSpike(x, i, i+run, threshold) {
				far := farthest(x, i, i+run)
				spikes = append(spikes, Spike{Channel: c, Time: timeAt(far), Value: x[far], Samples: run})
				fill(x, i, i+run)
				i += run - 1
				break
			}
		}
	}
	return spikes
}

// isSpike reports whether [a, b) stands off the line between its neighbours,
// which continue each other.
func isSpike(x []float64, a, b int, threshold float64) bool {
	left, right := x[a-1], x[b]
	nearest := math.Inf(1)
	for i := a; i < b; i++ {
		line := left + (right-left)*float64(i-a+1)/float64(b-a+1)
		nearest = math.Min(nearest, math.Abs(x[i]-line))
	}
	if nearest < threshold || math.Abs(right-left) > 0.25*nearest {
		return false
	}
	bends := 0.0
	for i := max(a-spikeAround, 2); i < min(b+spikeAround, len(x)); i++ {
		if i >= a && i < b+2 {
			continue
		}
		bends = math.Max(bends, math.Abs(x[i]-2*x[i-1]+x[i-2]))
	}
	return nearest > spikeOverBends*bends
}

func farthest(x []float64, a, b int) int {
	line := (x[a-1] + x[b]) / 2
	far := a
	for i := a; i < b; i++ {
		if math.Abs(x[i]-line) > math.Abs(x[far]-line) {
			far = i
		}
	}
	return far
}

// bendScale returns a robust standard deviation of second differences, from a
// sample spread over x, zeros left out where they are the rule.
func bendScale(x []float64) float64 {
	var bends []float64
	stride := max(1, len(x)/3000)
	for i := 2; i < len(x); i += stride {
		if d := math.Abs(x[i] - 2*x[i-1] + x[i-2]); d > 0 {
			bends = append(bends, d)
		}
	}
	return 1.4826 * median(bends)
}

// usualRange returns the 1 % and 99 % points of x, from a sample.
func usualRange(x []float64) (low, high float64) {
	var some []float64
	stride := max(1, len(x)/2000)
	for i := 0; i < len(x); i += stride {
		some = append(some, x[i])
	}
	slices.Sort(some)
	return some[len(some)/100], some[len(some)-1-len(some)/100]
}
