package lsq

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"
)

func line(seed uint64, n int, sigma float64) Linear {
	rng := rand.New(rand.NewPCG(seed, 2))
	p := Linear{Columns: [][]float64{make([]float64, n), make([]float64, n)}, Y: make([]float64, n)}
	for i := range n {
		x := float64(i) / float64(n)
		p.Columns[0][i], p.Columns[1][i] = 1, x
		p.Y[i] = 2 - 3*x + sigma*rng.NormFloat64()
	}
	return p
}

func TestLinearRecoversExactly(t *testing.T) {
	p := line(1, 50, 0)
	before := slices.Clone(p.Y)
	fit, err := p.Solve()
	if err != nil {
		t.Fatal(err)
	}
	if math.Abs(fit.X[0]-2) > 1e-12 || math.Abs(fit.X[1]+3) > 1e-12 {
		t.Errorf("got %v, want [2 -3]", fit.X)
	}
	if !slices.Equal(before, p.Y) {
		t.Error("the right side was modified")
	}
}

// TestStdDevCovers: the claimed deviation holds 68 % of 400 fits within one.
func TestStdDevCovers(t *testing.T) {
	const fits = 400
	inside := 0
	for i := range fits {
		fit, err := line(uint64(i), 40, 0.3).Solve()
		if err != nil {
			t.Fatal(err)
		}
		if math.Abs(fit.X[1]+3) < fit.StdDev(1) {
			inside++
		}
	}
	// Three standard deviations of a binomial count of 400 at 0.68 are 28.
	if inside < 272-28 || inside > 272+28 {
		t.Errorf("%d of %d inside one standard deviation, want 272 within 28", inside, fits)
	}
}

func TestPriorWeighsAsMeasurement(t *testing.T) {
	// One measurement 3 of deviation 1 and a prior 1 of deviation 0.5: mean with
	// weights 1 and 4, by hand 1.4, deviation sqrt(1/5).
	p := Linear{Columns: [][]float64{{1}}, Y: []float64{3}, Weights: []float64{1}, Priors: []Prior{{1, 0.5}}}
	fit, err := p.Solve()
	if err != nil {
		t.Fatal(err)
	}
	if math.Abs(fit.X[0]-1.4) > 1e-12 || math.Abs(fit.Covariance(0, 0)-0.2) > 1e-12 {
		t.Errorf("got %.6f variance %.6f, want 1.4 and 0.2", fit.X[0], fit.Covariance(0, 0))
	}
}

func TestRobustIgnoresOutliers(t *testing.T) {
	p := line(3, 200, 0.01)
	for i := 0; i < 200; i += 10 {
		p.Y[i] += 5
	}
	fit, err := p.SolveRobust(8)
	if err != nil {
		t.Fatal(err)
	}
	plain, err := p.Solve()
	if err != nil {
		t.Fatal(err)
	}
	if math.Abs(fit.X[0]-2) > 0.01 || math.Abs(plain.X[0]-2) < 0.2 {
		t.Errorf("robust %.4f, plain %.4f, want 2 and far off", fit.X[0], plain.X[0])
	}
}

func TestConditionIsRefused(t *testing.T) {
	p := line(4, 50, 0)
	p.Columns = append(p.Columns, slices.Clone(p.Columns[1]))
	_, err := p.Solve()
	if _, ok := err.(*ConditionError); !ok {
		t.Errorf("twice the same column: got %v, want a ConditionError", err)
	}
	p = line(4, 50, 0)
	p.Y[3] = math.NaN()
	if _, err := p.Solve(); err == nil {
		t.Error("a row that is not a number: no error")
	}
	p = line(4, 1, 0)
	if _, err := p.Solve(); err == nil {
		t.Error("fewer rows than unknowns: no error")
	}
}

// TestRosenbrock: H. H. Rosenbrock, Computer Journal 3(3), 1960, pp. 175-184; minimum 0 at (1, 1).
func TestRosenbrock(t *testing.T) {
	p := Nonlinear{Start: []float64{-1.2, 1}, Rows: 2, Residuals: func(dst, x []float64) {
		dst[0], dst[1] = 10*(x[1]-x[0]*x[0]), 1-x[0]
	}}
	fit := p.Minimise()
	if fit.Ending != Converged || fit.Cost > 1e-18 {
		t.Errorf("ended %s at %v with cost %g", fit.Ending, fit.X, fit.Cost)
	}
	p.Upper = []float64{0.5, 2}
	fit = p.Minimise()
	if fit.Ending != Converged || math.Abs(fit.X[0]-0.5) > 1e-12 || math.Abs(fit.X[1]-0.25) > 1e-6 || !fit.AtBound[0] {
		t.Errorf("bounded: ended %s at %v, bounds %v, want (0.5, 0.25) on a bound", fit.Ending, fit.X, fit.AtBound)
	}
}

func TestEndings(t *testing.T) {
	bad := Nonlinear{Start: []float64{1}, Rows: 1, Residuals: func(dst, _ []float64) { dst[0] = math.NaN() }}
	if got := bad.Minimise().Ending; got != NotStarted {
		t.Errorf("residuals that are no numbers: ended %s", got)
	}
	far := Nonlinear{Start: []float64{-1.2, 1}, Rows: 2, MaxIterations: 1, Residuals: func(dst, x []float64) {
		dst[0], dst[1] = 10*(x[1]-x[0]*x[0]), 1-x[0]
	}}
	if got := far.Minimise().Ending; got != OutOfSteps {
		t.Errorf("one iteration: ended %s", got)
	}
	useless := Nonlinear{Start: []float64{1, 2}, Rows: 3, Residuals: func(dst, x []float64) {
		for i := range dst {
			dst[i] = x[0] - float64(i)
		}
	}}
	fit := useless.Minimise()
	if math.Abs(fit.X[0]-1) > 1e-9 || !math.IsInf(fit.StdDev(1), 1) {
		t.Errorf("an unknown without effect: x %v, deviation %g, want infinite", fit.X, fit.StdDev(1))
	}
}

// TestBlockStdDev: with one block per residual the sandwich is the usual
// deviation; with each residual four times over it stays that of the quarter.
func TestBlockStdDev(t *testing.T) {
	rng := rand.New(rand.NewPCG(5, 2))
	e := make([]float64, 400)
	for i := range e {
		e[i] = rng.NormFloat64()
	}
	block, repeated := make([]int, 400), make([]int, 1600)
	for i := range block {
		block[i] = i
	}
	for i := range repeated {
		repeated[i] = i / 4
	}
	mean := func(copies int) NonlinearFit {
		return Nonlinear{Start: []float64{0}, Rows: 400 * copies, Residuals: func(dst, x []float64) {
			for i := range dst {
				dst[i] = e[i/copies] - x[0]
			}
		}}.Minimise()
	}
	once, four := mean(1), mean(4)
	want := once.StdDev(0)
	for name, got := range map[string]float64{"single": once.BlockStdDev(0, block), "four copies": four.BlockStdDev(0, repeated)} {
		if math.Abs(got-want) > 0.01*want {
			t.Errorf("%s: %.5f, want %.5f", name, got, want)
		}
	}
	if got := four.StdDev(0); got > 0.6*want {
		t.Errorf("copies taken as independent: %.5f, want about half of %.5f", got, want)
	}
}

// TestSettled: a search that may stop at a gain of one in a thousand takes fewer
// steps and ends as converged near where a full one does.
func TestSettled(t *testing.T) {
	p := Nonlinear{Rows: 20, Start: []float64{0.5, 5}, Residuals: func(dst, x []float64) {
		for i := range dst {
			at := float64(i) / 10
			dst[i] = x[0]*math.Exp(-x[1]*at) - 2*math.Exp(-at) - 0.1*math.Sin(9*at)
		}
	}}
	full := p.Minimise()
	p.Settled = 1e-3
	early := p.Minimise()
	if early.Ending != Converged || early.Iterations >= full.Iterations {
		t.Errorf("%v after %d steps, a full search takes %d; want converged and fewer", early.Ending, early.Iterations, full.Iterations)
	}
	if early.Cost > 1.002*full.Cost {
		t.Errorf("sum of squares %.6g, want that of a full search, %.6g, to 0.2 %%", early.Cost, full.Cost)
	}
}

// TestColumnsOfExtremeSize: the squares of such columns are no numbers.
func TestColumnsOfExtremeSize(t *testing.T) {
	a, b := []float64{1, 2, 3, 4, 5}, []float64{1, -1, 2, 0.5, 7}
	p := Linear{Columns: [][]float64{make([]float64, 5), make([]float64, 5)}, Y: make([]float64, 5)}
	for i := range a {
		p.Columns[0][i], p.Columns[1][i] = 1e-180*a[i], 1e180*b[i]
		p.Y[i] = 2*a[i] + 3*b[i]
	}
	fit, err := p.Solve()
	if err != nil || math.Abs(fit.X[0]/2e180-1) > 1e-12 || math.Abs(fit.X[1]/3e-180-1) > 1e-12 {
		t.Errorf("got %g, %v; want 2e+180 and 3e-180", fit.X, err)
	}
}
