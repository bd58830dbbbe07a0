package response

import (
	"math"
	"math/rand/v2"
	"testing"

	"eha/strokewise/ident/plant"
)

// TestScatterBecomesError: lines that scatter about a smooth curve by 10 % get
// error bars of that size, lines on the curve keep theirs.
func TestScatterBecomesError(t *testing.T) {
	rng := rand.New(rand.NewPCG(7, 7))
	for _, sigma := range []float64{0, 0.1} {
		var f plant.FrequencyResponse
		for k := range 200 {
			f.Omega = append(f.Omega, float64(k+1))
			h := complex(1, float64(k)/200)
			f.Measured = append(f.Measured, h+complex(sigma*rng.NormFloat64(), sigma*rng.NormFloat64()))
			f.RelError = append(f.RelError, 1e-3)
		}
		widenByScatter(&f)
		mean := 0.0
		for k := range f.RelError {
			mean += f.RelError[k] * math.Hypot(1, float64(k)/200) / 200
		}
		want := math.Hypot(sigma, 1.15e-3)
		if math.Abs(mean-want) > 0.1*want {
			t.Errorf("scatter %.3g: error bars %.4g on average, want %.4g", sigma, mean, want)
		}
	}
}
