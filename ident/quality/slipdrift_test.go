package quality

import (
	"math"
	"math/rand/v2"
	"testing"
)

// Holds and slow strokes of a plain machine: 50 bar across the pump, more or less by friction,
// 2 mm a turn, slip 0.01 turns/s per bar at the middle of the log, which rises by the share.
func drifting(share float64, rng *rand.Rand) []slipRow {
	const perTurn, slip = 2e-3 / (2 * math.Pi), 0.01 * 2 * math.Pi / 1e5
	rows := make([]slipRow, 120)
	for i := range rows {
		at := 2 * float64(i)
		speed := []float64{0, 8, -8}[i%3] // rad/s
		across := (50e5 + 6e5*float64(i%3-1) + 3e5*rng.NormFloat64()) * driftPiece
		turned, oil := speed*driftPiece, 1e5*rng.NormFloat64()
		tau := at/(2*float64(len(rows)-1)) - 0.5
		travel := perTurn*turned - perTurn*slip*(1+share*tau)*across - 2e-11*oil + 3e-6*rng.NormFloat64()
		rows[i] = slipRow{at, travel, turned, across, oil, 0.1 + 0.05*rng.Float64(), i%3 == 0}
	}
	return rows
}

func TestSlipTrend(t *testing.T) {
	rng := rand.New(rand.NewPCG(7, 8))
	for _, share := range []float64{0, 0.2, 0.5, -0.3} {
		missed := 0
		for range 40 {
			drift, half, ok := slipTrend(drifting(share, rng))
			if !ok || half > 0.2 {
				t.Fatalf("drift %g: %g ± %g, ok %v", share, drift, half, ok)
			}
			if math.Abs(drift-share) > half {
				missed++
			}
		}
		// 40 intervals at 95 %: seven or more misses come once in 300 times.
		if missed > 6 {
			t.Errorf("drift %g lies outside %d of 40 intervals", share, missed)
		}
	}
}
