package balance

import (
	"math"
	"testing"

	"gonum.org/v1/gonum/mat"

	"eha/strokewise/ident/trace"
	"eha/strokewise/ident/window"
)

// twoTerms is a fit of a line's loss (value, standard deviation) and of friction
// over speed, whose errors go against it.
func twoTerms(loss, sigma float64) *line {
	const b, sigmaB, correlation = 5000.0, 40.0, -0.9
	sigma /= frictionInflation
	cov := mat.NewSymDense(2, []float64{sigmaB * sigmaB, correlation * sigmaB * sigma, correlation * sigmaB * sigma, sigma * sigma})
	return &line{fit: &window.Fit{Coef: []float64{b, loss}, Cov: cov}, index: map[term]int{speed: 0, flow: 1}}
}

func TestBoundLossLeavesAClearLossAlone(t *testing.T) {
	l := twoTerms(10, 1)
	l.boundLoss(20)
	near(t, "loss", l.coef(flow), 10, 1e-6)
	near(t, "viscous", l.coef(speed), 5000, 1e-9)
	near(t, "sigma", l.sigma(speed), 40, 1e-6)
}

// A standard normal cut off at zero has the mean sqrt(2/π) and the variance
// 1 - 2/π (textbook value). With τ small against s the odds on no line vanish.
func TestBoundLossCutsOffAtZero(t *testing.T) {
	l := twoTerms(0, 1)
	l.boundLoss(1e-9)
	mean := math.Sqrt(2 / math.Pi)
	near(t, "loss", l.coef(flow), mean, 1e-6)
	near(t, "loss's sigma", l.sigma(flow)*frictionInflation, math.Sqrt(1-2/math.Pi), 1e-6)
	near(t, "viscous", l.coef(speed), 5000-0.9*40*mean*frictionInflation, 1e-6)
	// What is left is friction's own part and that of the loss.
	left := math.Sqrt(1 - 0.81 + 0.81*(1-2/math.Pi))
	near(t, "viscous's sigma", l.sigma(speed), 40*left, 1e-6)
}

// A loss below zero is none, so that friction comes back by what it lost to it.
func TestBoundLossTakesNegativeForNone(t *testing.T) {
	l := twoTerms(-2, 1)
	l.boundLoss(20)
	if c := l.coef(flow); c < 0 || c > 0.05 {
		t.Errorf("loss %g, want hardly above 0", c)
	}
	near(t, "viscous", l.coef(speed), 5000-0.9*40*2*frictionInflation, 2e-3)
	if s := l.sigma(speed); s > 0.5*40 {
		t.Errorf("sigma %g, want less than half of 40: the loss is known now", s)
	}
}

// A work piece pushes until the rod has left it: the way back is left out too.
func TestPressedStretchReachesToTheRelease(t *testing.T) {
	n := 4000
	x, force := make([]float64, n), make([]float64, n)
	for i := range x {
		switch {
		case i < 1000: // approach, 10 mm/s
			x[i] = 0.1 + 1e-5*float64(i)
		case i < 2000: // pressing
			x[i] = 0.11
		default: // backing off, 5 mm/s
			x[i] = 0.11 - 5e-6*float64(i-2000)
		}
	}
	tr, err := trace.New("press", 1e-3, 0, map[trace.Channel][]float64{trace.RodPosition: x, trace.Force: force}, nil)
	if err != nil {
		t.Fatal(err)
	}
	r := newRecord(tr, force, []trace.Span{{From: 500, To: 2000}})
	for i, bad := range map[int]bool{400: false, 600: true, 1999: true, 2900: true, 3100: false} {
		if r.mask.Bad(i) != bad {
			t.Errorf("sample %d left out: %v, want %v", i, !bad, bad)
		}
	}
}
