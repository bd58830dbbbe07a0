package flow

import (
	"math"

	"gonum.org/v1/gonum/mat"

	"eha/strokewise/ident/machine"
	"eha/strokewise/ident/plant"
	"eha/strokewise/ident/trace"
	"eha/strokewise/ident/window"
)

const (
	// movingShare is the rod speed, as a share of the fastest, above which friction
	// is a straight line.
	movingShare = 0.03
	// usualDelay and its span (s) are a transducer's delay before the logs speak.
	usualDelay, usualDelaySpan = 1e-3, 1e-3
	blindInflation             = 2
	// blindFloor is the standard deviation of 1/ω² as a share that a survey leaves, and
	// openFloor where the chamber changes with the direction, for valves stand half open
	// then. Shorter logs leave more, up to mostFew times.
	blindFloor, openFloor, mostFew = 0.03, 0.09, 9
	// blindDamping is the standard deviation of the damping without pressures, as a share.
	blindDamping = 0.5
	// hiddenDamping is the whole damping over what shows: the valve that clamps the
	// low side damps the rod against the motor, but in turns and travel, which go
	// together, its part nearly cancels.
	hiddenDamping = 2
)

// Indices of the unknowns of the equation of motion without pressures.
const (
	speedOffset = iota
	speedError
	lagTerm    // c1
	squareTerm // c2 mid-stroke
	slopeTerm  // c2'
	delayTerm  // c3
	numBlind
)

// blindMode is the mode seen in one direction of travel.
type blindMode struct {
	frequency, damping Number
	position           float64
	direction          plant.Direction
	points             []plant.Point
}

// BlindResonance finds the hydraulic mode from motor turns and rod position
// alone, by direction, while the rod moves:
//
//	s·n - n_0 = v + c1·v' + (c2 + c2'·(x - x_mid))·v” + c3·v”'
//	1/ω² = c2 - τ·c1 + τ²/2,  τ = c3·ω²,  2ζ/ω = c1 - (usual delay)
//
// with s the stroke per turn of s and τ the transducer's delay. The frequency is
// given at the end of the stroke where it is lowest, of the softer direction.
// The damping cannot be told from the delay and is weak at best. ok is false if
// the rod hardly moves with changing speed.
func BlindResonance(logs []*trace.Trace, m *machine.Machine, s *Stroke) (Resonance, bool) {
	var best *blindMode
	held := hold(logs)
	for _, d := range []plant.Direction{plant.Extend, plant.Retract} {
		if s.PerTurn.At(d).Value == 0 {
			continue
		}
		mode, ok := fitBlindMode(held, s, d)
		if ok && (best == nil || softer(mode, *best)) {
			best = &mode
		}
	}
	if best == nil {
		return Resonance{}, false
	}
	r := Resonance{Direction: best.direction, Position: best.position, Frequency: best.frequency, Damping: best.damping, Points: best.points}
	if side := s.Carrier.At(best.direction); side < 0 {
		r.Chamber = plant.Rod
	}
	r.blindEstimates()
	return r, true
}

// softer reports whether a is to be preferred to b: lower in frequency, unless
// its interval is much wider and holds b.
func softer(a, b blindMode) bool {
	if a.frequency.Sigma > 2*b.frequency.Sigma && a.frequency.Value+1.96*a.frequency.Sigma > b.frequency.Value {
		return false
	}
	if b.frequency.Sigma > 2*a.frequency.Sigma && b.frequency.Value+1.96*b.frequency.Sigma > a.frequency.Value {
		return true
	}
	return a.frequency.Value < b.frequency.Value
}

func (r *Resonance) blindEstimates() {
	f := r.Frequency.estimate(plant.HydraulicFrequency, "motor turns against rod position while the speed changes, without both pressures and areas")
	z := r.Damping.estimate(plant.HydraulicDamping, "motor turns against rod position, not told from the transducer's delay")
	z.Status, z.Low = plant.Weak, math.Max(z.Low, 0)
	if f.HalfWidth() > f.Value {
		f = plant.MissingFrom("multisine")
	}
	r.Params = map[plant.Param]plant.Estimate{plant.HydraulicFrequency: f, plant.HydraulicDamping: z}
}

// fitBlindMode fits the equation in one direction of travel over all logs.
func fitBlindMode(held []channels, s *Stroke, d plant.Direction) (blindMode, bool) {
	var total float64
	for _, c := range held {
		total += c.log.Duration()
	}
	p := window.Problem{}
	stride := math.Max(oilStride, total/maxOilWindows)
	for i, c := range held {
		blindRows(&p, c, s, d, stride, i)
	}
	if len(p.Y) < fewWindows {
		return blindMode{}, false
	}
	var fit *window.Fit
	var err error
	for range 3 {
		if fit != nil {
			square := math.Abs(fit.Coef[squareTerm])
			p.Priors = make([]window.Prior, numBlind)
			p.Priors[speedError] = window.Prior{Sigma: 0.005}
			p.Priors[slopeTerm] = window.Prior{Mean: slopeSign(s, d) * square / (0.65 * s.Travel), Sigma: 0.5 * square / (0.65 * s.Travel)}
			p.Priors[delayTerm] = window.Prior{Mean: square * usualDelay, Sigma: square * usualDelaySpan}
			if slopeSign(s, d) == 0 {
				p.Priors[slopeTerm].Sigma *= 3
			}
		}
		if fit, err = window.Solve(p); err != nil || !(fit.Coef[squareTerm] > 0) {
			return blindMode{}, false
		}
	}
	return modeOf(fit, s, d, float64(len(p.Y))*stride)
}

// slopeSign returns the sign of the change of softness along the stroke: rising
// with the chamber's volume, 0 where the chamber is not known.
func slopeSign(s *Stroke, d plant.Direction) float64 { return float64(s.Carrier.At(d)) }

// blindRows appends the windows of one log in which the rod moves one way.
func blindRows(p *window.Problem, c channels, s *Stroke, d plant.Direction, stride float64, number int) {
	slider := window.NewSlider(6, oilWindow, stride, c.period, len(c.x))
	if slider.Count() == 0 {
		return
	}
	speed := window.Rate(c.x, c.period, speedHalf)
	fastest := make([]float64, 0, len(speed)/10+1)
	for i := 0; i < len(speed); i += 10 {
		fastest = append(fastest, math.Abs(speed[i]))
	}
	side := window.Side(slider, speed, movingShare*quantile(fastest, 0.99))
	usable := window.NewMask(c.log).Usable(slider)
	x := s.straight(c.x)
	turn, turnRate := slider.Slide(c.angle, 1), slider.Slide(c.angle, 2)
	place, unit := slider.Slide(x, 0), slider.Unit()
	var rate [5][]float64
	for k := 1; k <= 4; k++ {
		rate[k] = slider.Slide(x, k)
	}
	perBlock := max(int(blockLength/(float64(slider.Stride())*c.period)), 1)
	var windows []int
	if p.X == nil {
		p.X = make([][]float64, numBlind)
	}
	for w := range side {
		if float64(side[w]) != d.Sign() || !usable[w] {
			continue
		}
		windows = append(windows, w)
		p.Y = append(p.Y, s.PerTurn.At(d).Value*turn[w]-rate[1][w])
		row := [numBlind]float64{unit, rate[1][w], rate[2][w], rate[3][w], (place[w]/unit - s.Travel/2) * rate[3][w], rate[4][w]}
		for j, v := range row {
			p.X[j] = append(p.X[j], v)
		}
		p.Block = append(p.Block, number*1e6+w/perBlock)
	}
	if len(windows) > 0 {
		p.Z = stack(p.Z, window.Instruments(slider, [][]float64{turn, turnRate}, windows, make([]int, len(windows)), 1))
	}
}

// modeOf reads frequency and damping from the coefficients at the softer end.
// moving is the time (s) that the windows cover.
func modeOf(fit *window.Fit, s *Stroke, d plant.Direction, moving float64) (blindMode, bool) {
	mode := blindMode{direction: d, position: s.Travel}
	if fit.Coef[slopeTerm] < 0 {
		mode.position = 0
	}
	// softness returns 1/ω² and τ at x.
	softness := func(c []float64, x float64) (square, delay float64) {
		full := c[squareTerm] + c[slopeTerm]*(x-s.Travel/2)
		delay = c[delayTerm] / c[squareTerm]
		square = full
		for range 3 {
			square = full - delay*c[lagTerm] + delay*delay/2
			if square > 0 {
				delay = c[delayTerm] / (square + c[squareTerm] - full)
			}
		}
		return square, delay
	}
	square, _ := softness(fit.Coef, mode.position)
	if !(square > 0) {
		return mode, false
	}
	omega := 1 / math.Sqrt(square)
	sigma := blindSigma(fit, func(c []float64) float64 { v, _ := softness(c, mode.position); return v })
	few := math.Min(math.Max(surveyTime/2/moving, 1), mostFew)
	floor := blindFloor
	if s.Carrier.Extend*s.Carrier.Retract < 0 {
		floor = openFloor
	}
	mode.frequency = Number{omega, omega / 2 * math.Hypot(blindInflation*sigma/square, few*floor)}
	// The delay that the fit gives is too uncertain to be taken from so small a
	// lag; what transducers usually have does better.
	lag := math.Max(fit.Coef[lagTerm]-usualDelay, 0.3*fit.Coef[lagTerm])
	lag *= hiddenDamping
	mode.damping = Number{math.Max(lag*omega/2, 0.005), omega / 2 * math.Hypot(blindInflation*fit.Sigma(lagTerm), math.Hypot(usualDelaySpan/2, blindDamping*lag))}
	for i := range mapPoints {
		x := s.Travel * float64(i) / (mapPoints - 1)
		if v, _ := softness(fit.Coef, x); v > 0 {
			mode.points = append(mode.points, plant.Point{X: x, Y: 1 / math.Sqrt(v)})
		}
	}
	return mode, true
}

// blindSigma returns the standard deviation of a function of the coefficients,
// linearised by central differences.
func blindSigma(fit *window.Fit, of func(c []float64) float64) float64 {
	gradient := mat.NewVecDense(numBlind, nil)
	for j := range numBlind {
		step := 0.1 * fit.Sigma(j)
		if step == 0 {
			continue
		}
		up, down := append([]float64(nil), fit.Coef...), append([]float64(nil), fit.Coef...)
		up[j] += step
		down[j] -= step
		gradient.SetVec(j, (of(up)-of(down))/(2*step))
	}
	return math.Sqrt(math.Max(mat.Inner(gradient, fit.Cov, gradient), 0))
}
