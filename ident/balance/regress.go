package balance

import (
	"errors"
	"math"

	"gonum.org/v1/gonum/stat/distuv"

	"eha/strokewise/ident/window"
)

// line is one fit of
//
//	F = c_a·x” + b·x' + F_c·sgn(x') + F_0 + l_1·ξ + l_2·(ξ² - 1/3) + c_j·x”' + c_l·n·|n|
//
// A delay δ of the position behind the force moves b·δ from friction to
// acceleration, so that m = c_a - b·δ with δ = c_j/c_a.
type line struct {
	fit   *window.Fit
	rows  *rows
	index map[term]int
	// shrink is the share of the acceleration's power that is transducer noise:
	// without instruments c_a comes out low by it.
	shrink float64
	// lagUnseen says that the delay was not fitted, since noise would have
	// decided it, and is in the covariance as lagSigma.
	lagUnseen bool
}

// term names a column of the regression.
type term int

const (
	accel term = iota
	speed
	sign
	constant
	slope
	bend
	jerk
	flow
)

// maxShrink bounds the correction for noise; beyond it the acceleration is lost.
const maxShrink = 0.5

// lagSigma is the standard deviation (s) of the delay of position behind force
// that is expected before it is fitted: transducer and pressure filter.
const lagSigma = 1e-3

// solve fits the terms to the rows; the priors hold only for the terms they name.
func (a *rows) solve(terms []term, priors map[term]window.Prior) (*line, error) {
	p := window.Problem{Y: a.force, Z: a.instruments, Block: a.block}
	l := &line{rows: a, index: map[term]int{}}
	for _, t := range terms {
		l.index[t] = len(p.X)
		p.X = append(p.X, a.column(t))
		p.Priors = append(p.Priors, priors[t])
	}
	if p.Z != nil {
		// What carries no transducer noise is its own instrument.
		for _, t := range terms {
			switch t {
			case slope, bend, flow:
				p.Z = append(p.Z, a.column(t))
			}
		}
	}
	var err error
	l.fit, err = window.Solve(p)
	return l, err
}

func (a *rows) column(t term) []float64 {
	switch t {
	case accel:
		return a.accel
	case speed:
		return a.speed
	case sign:
		return a.sign()
	case constant:
		return a.ones()
	case slope:
		return a.slope
	case bend:
		return a.bend
	case jerk:
		return a.jerk
	case flow:
		return a.flow
	}
	panic("balance: unknown term")
}

// coef returns the coefficient of the term, 0 where it was not fitted.
func (l *line) coef(t term) float64 {
	if j, ok := l.index[t]; ok {
		return l.fit.Coef[j]
	}
	return 0
}

// sigma returns the standard deviation of the coefficient.
func (l *line) sigma(t term) float64 {
	if j, ok := l.index[t]; ok {
		return l.fit.Sigma(j)
	}
	return 0
}

// few returns the factor (1 and more) by which a 95 % interval from the spread over
// few blocks must be wider than from many, Student's t over the normal, and
// whether they are too few for it to mean much.
func (l *line) few() (factor float64, tooFew bool) {
	blocks := 0.0
	for i, b := range l.rows.block {
		if i == 0 || b != l.rows.block[i-1] {
			blocks++
		}
	}
	const used = 4 // acceleration, speed, sign and constant
	free := math.Max(blocks-used, 1)
	t := distuv.StudentsT{Mu: 0, Sigma: 1, Nu: free}.Quantile(0.975)
	return t / 1.96, blocks < 2*used
}

// lag returns the delay of position behind force (s).
func (l *line) lag() float64 {
	if a := l.coef(accel); a != 0 {
		return l.coef(jerk) / a
	}
	return 0
}

// lagTold returns the delay and its standard deviation (s), and whether the fit tells them:
// where it left the delay out, none is not what was found.
func (l *line) lagTold() (lag, sigma float64, told bool) {
	_, fitted := l.index[jerk]
	a := math.Abs(l.coef(accel))
	if !fitted || a == 0 {
		return 0, 0, false
	}
	return l.lag(), l.sigma(jerk) / a, true
}

// mass returns the mass (kg), with the delay taken out, and its standard deviation.
func (l *line) mass() (m, sigma float64) {
	a, b, j := l.coef(accel), l.coef(speed), l.coef(jerk)
	m = a - b*l.lag()
	gradient := make([]float64, len(l.fit.Coef))
	gradient[l.index[accel]] = 1
	if l.lagUnseen {
		return m, math.Hypot(math.Sqrt(l.fit.Variance(gradient)), b*lagSigma)
	}
	if i, ok := l.index[jerk]; ok && a != 0 {
		gradient[l.index[accel]] += b * j / (a * a)
		gradient[l.index[speed]] = -j / a
		gradient[i] = -b / a
	}
	return m, math.Sqrt(l.fit.Variance(gradient))
}

// load returns the axial load (N) at the position xi (-1 to 1 over the travel).
func (l *line) load(xi float64) float64 {
	return -(l.coef(constant) + l.coef(slope)*xi + l.coef(bend)*(xi*xi-1.0/3))
}

// fitBalance fits mass, friction, the delay and the survey's further terms: first
// without the delay, to know the mass that its prior scales with.
func (a *rows) fitBalance(s *survey) (*line, error) {
	terms := append([]term{accel, speed, constant}, s.terms...)
	if a.bothWays() {
		terms = append(terms, sign)
	}
	size := rms(a.force)
	priors := map[term]window.Prior{slope: {Sigma: 0.5 * size}, bend: {Sigma: 0.5 * size}, flow: {Sigma: s.flowSigma}}
	plain := *a
	plain.instruments = nil
	rough, err := plain.solve(terms, priors)
	if err != nil {
		return nil, err
	}
	m := math.Abs(rough.coef(accel))
	if a.instruments == nil && a.hidesLag(rough) {
		rough.putBack()
		rough.doubtLag(m * lagSigma)
		rough.boundLoss(s.flowSigma)
		return rough, nil
	}
	priors[jerk] = window.Prior{Sigma: m * lagSigma}
	l, err := a.solve(append(terms, jerk), priors)
	if errors.Is(err, window.ErrUnexcited) {
		// Motion of a single frequency: the jerk is a multiple of the speed.
		l, err = a.solve(terms, priors)
	}
	if err == nil && a.instruments == nil {
		l.putBack()
	}
	if err == nil {
		l.boundLoss(s.flowSigma)
	}
	return l, err
}

// mostHidden is the share of what the other terms leave of the jerk's power from
// which on noise would decide the delay: at a single frequency the jerk is a
// multiple of the speed, and the noise of the two goes together.
const mostHidden = 0.1

// hidesLag reports whether the jerk is little but noise beside the terms of l.
func (a *rows) hidesLag(l *line) bool {
	_, left := l.regress(a.jerk)
	return a.jerkNoise*l.meanWeight() > mostHidden*left
}

// doubtLag adds to the covariance what a jerk coefficient of the standard deviation,
// left out of the fit, may do to the others.
func (l *line) doubtLag(sigma float64) {
	along, _ := l.regress(l.rows.jerk)
	for i, g := range along {
		for j := i; j < len(along); j++ {
			l.fit.Cov.SetSym(i, j, l.fit.Cov.At(i, j)+sigma*sigma*g*along[j])
		}
	}
	l.lagUnseen = true
}

// putBack takes out the bias that noise in the acceleration has without
// instruments: least squares gives c_a·(1 - λ), λ the noise's share of the
// power of the acceleration that the other terms do not explain. Source: W. A.
// Fuller, "Measurement Error Models", Wiley 1987, chapter 1 (value from memory).
func (l *line) putBack() {
	inverse, size := l.inverseGram()
	if inverse == nil {
		return
	}
	a := l.index[accel]
	power := size[a] * size[a] / inverse.At(a, a)
	l.shrink = math.Min(l.rows.noise*l.meanWeight()/power, maxShrink)
	l.fit.Coef[a] /= 1 - l.shrink
}
