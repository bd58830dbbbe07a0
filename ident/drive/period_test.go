package drive

import (
	"math"
	"math/cmplx"
	"testing"
)

// The poles of a second-order loop closed step by step, against the first-order
// law that the doubt is taken from: bandwidth and damping ζ·ω·h/2 off.
func TestLoopPeriodMovesTheLoop(t *testing.T) {
	for _, c := range []struct{ hz, damping float64 }{{25, 0.9}, {36, 0.7}, {48, 0.75}, {60, 0.8}} {
		omega := 2 * math.Pi * c.hz
		// a += h·(ω²(u - n) - 2ζω·a); n += h·a
		keep := 1 - 2*c.damping*omega*loopPeriod
		trace := keep + 1 - omega*omega*loopPeriod*loopPeriod
		pole := cmplx.Log((complex(trace, 0)+cmplx.Sqrt(complex(trace*trace-4*keep, 0)))/2) / complex(loopPeriod, 0)
		want := c.damping * omega * loopPeriod / 2
		if got := cmplx.Abs(pole)/omega - 1; math.Abs(got/want-1) > 0.1 {
			t.Errorf("%g Hz: bandwidth off by %.4f, law %.4f", c.hz, got, want)
		}
		if got := -real(pole)/cmplx.Abs(pole)/c.damping - 1; math.Abs(got/want-1) > 0.1 {
			t.Errorf("%g Hz: damping off by %.4f, law %.4f", c.hz, got, want)
		}
	}
}
