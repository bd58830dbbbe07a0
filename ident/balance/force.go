package balance

import (
	"fmt"
	"math"

	"eha/strokewise/ident/plant"
	"eha/strokewise/ident/trace"
)

// ForceFit is the balance of forces of an axis from force and position alone.
type ForceFit struct {
	Mass     plant.Estimate // kg
	Viscous  plant.Estimate // N·s/m
	Coulomb  plant.Estimate // N
	Offset   plant.Estimate // N, the force's constant part
	Lag      plant.Estimate // s, delay of the position behind the force
	Residual float64        // N, root mean square of what the balance leaves unexplained
	Windows  int            // windows used
	Friction []plant.Point  // speed (m/s) against friction force (N)
	Warnings []string
}

// forceWidths are the window widths (s) tried: an axis may be quick or slow, its
// position fine or coarse, and nothing but the data tells.
var forceWidths = []float64{0.040, 0.080, 0.160, 0.320, 0.640}

// forceInflation is the factor on the 95 % interval that the fits themselves
// give: their model is the simplest there is, and a real axis does more.
const forceInflation = 1.6

// forceLow is the share of the largest speed below which friction is no straight line.
const forceLow = 0.05

// FromForce finds mass, viscous and Coulomb friction and offset force of an axis
// from the force that drives it (N, in the direction of increasing position) and
// its position (m), sampled every period (s):
//
//	F = m·x” + b·x' + F_c·sgn(x') + F_0
//
// with 95 % intervals. It works at any scale. In gaps the samples are not used. The axis
// must move in both directions with changing speed; what the motion cannot tell
// is missing in the result. Speeds below 5 % of the largest are left out, where
// friction is no straight line, or below more where it is seen to rise. Of several window widths the one that gives the
// mass most closely is taken, and the differences between them are part of the
// interval; noise in the position, which would make the mass come out low, is
// estimated and its share put back.
//
// FromForce returns an error if lengths differ, if the period is not positive or
// if a sample is not finite.
func FromForce(position, force []float64, period float64, gaps ...trace.Span) (*ForceFit, error) {
	t, err := trace.New("force and position", period, 0,
		map[trace.Channel][]float64{trace.RodPosition: position, trace.Force: force}, gaps)
	if err != nil {
		return nil, err
	}
	return FromForceLogs([]Log{{Trace: t}})
}

// FromForceLogs is FromForce for the measured force and rod position of one or
// more logs together, the excluded stretches left out. It returns ErrNoForce if
// no log holds both channels.
func FromForceLogs(logs []Log) (*ForceFit, error) {
	var records []*record
	for _, l := range logs {
		force, _ := l.Trace.Samples(trace.Force)
		if r := newRecord(l.Trace, force, l.Exclude); r != nil {
			records = append(records, r)
		}
	}
	if len(records) == 0 {
		return nil, ErrNoForce
	}
	s := newSurvey(records)
	s.terms = nil // position and acceleration of a swinging axis cannot be told apart
	var best *line
	var others []*line
	if s.full > 0 {
		best, others = s.tryWidths(forceLow * s.full)
	}
	if best != nil {
		if low := s.sticksTo(best.rows.width); low > forceLow*s.full {
			if b, o := s.tryWidths(low); b != nil {
				best, others = b, o
			}
		}
	}
	if best == nil {
		const move = "steps of speed in both directions, force and position logged"
		missing := plant.MissingFrom(move)
		return &ForceFit{Mass: missing, Viscous: missing, Coulomb: missing, Offset: missing, Lag: missing}, nil
	}
	return s.forceFit(best, others), nil
}

// sticksTo returns the speed (m/s) below which friction rises, with some to spare,
// seen against the line of faster travel; 0 where it does not.
func (s *survey) sticksTo(width float64) float64 {
	fast, err := s.collect(width, lineLowFirst*s.full, math.Inf(1)).fitBalance(s)
	if err != nil {
		return 0
	}
	var res Result
	s.collect(width, curveLow*s.full, math.Inf(1)).curve(&res, s, fast)
	r, found := lowSpeedRise(res.Friction, fast, lineLowFirst*s.full)
	if !found {
		return 0
	}
	return math.Min(stickingSpeeds*r.stribeck, lineLowMost*s.full)
}

// tryWidths fits speeds above low (m/s) with every window width and returns the fit that tells the mass
// most closely and those at least half as close.
func (s *survey) tryWidths(low float64) (best *line, others []*line) {
	var all []*line
	closest := math.Inf(1)
	for _, width := range forceWidths {
		l, err := s.collect(width, low, math.Inf(1)).fitBalance(s)
		if err != nil {
			continue
		}
		all = append(all, l)
		if c := l.closeness(); c < closest {
			best, closest = l, c
		}
	}
	for _, l := range all {
		if l != best && l.closeness() < 2*closest {
			others = append(others, l)
		}
	}
	return best, others
}

// closeness returns what the mass may be off by (kg): scatter and half of what
// was put back for noise.
func (l *line) closeness() float64 {
	m, sigma := l.mass()
	return sigma + 0.5*l.shrink*math.Abs(m)
}

// forceFit turns the best fit and its rivals into estimates.
func (s *survey) forceFit(best *line, others []*line) *ForceFit {
	f := &ForceFit{Windows: len(best.rows.force), Residual: rms(best.fit.Residual)}
	from := fmt.Sprintf("balance of measured force in %d windows of %.0f ms in motion", f.Windows, 1e3*best.rows.width)
	differ := func(value func(*line) float64) float64 {
		all := []float64{value(best)}
		for _, l := range others {
			all = append(all, value(l))
		}
		_, spread := middle(all)
		return spread
	}
	m, sigma := best.mass()
	half := forceInflation*(1.96*sigma+differ(func(l *line) float64 { m, _ := l.mass(); return m })) + (0.005+0.5*best.shrink)*m
	f.Mass = plant.MissingFrom("quicker changes of speed: the accelerations logged are lost in friction and noise")
	if m > half {
		f.Mass = plant.MovingMass.Found(m, m-half, m+half, from)
	}
	b := best.coef(speed)
	half = forceInflation*(1.96*best.sigma(speed)+differ(func(l *line) float64 { return l.coef(speed) })) + 0.005*math.Abs(b)
	const against = "force and motion run against each other: check the sign of the force and of the rod position"
	f.Viscous, f.Coulomb = plant.MissingFrom(against), plant.MissingFrom(against)
	if b > -half {
		f.Viscous = plant.ViscousFriction.Found(b, b-half, b+half, from)
	}
	offset := best.coef(constant)
	half = forceInflation * (1.96*best.sigma(constant) + differ(func(l *line) float64 { return l.coef(constant) }))
	f.Offset = plant.AxialLoad.Found(offset, offset-half, offset+half, from)
	if _, both := best.index[sign]; !both {
		const move = "travel in both directions"
		f.Coulomb, f.Offset = plant.MissingFrom(move), plant.MissingFrom(move)
		f.Warnings = append(f.Warnings, "travel in one direction only: friction and offset force cannot be told apart")
	} else {
		fc := best.coef(sign)
		half = forceInflation*(1.96*best.sigma(sign)+differ(func(l *line) float64 { return l.coef(sign) })) + 0.005*math.Abs(fc)
		if fc > -half {
			f.Coulomb = plant.CoulombFriction.Found(fc, fc-half, fc+half, from)
		} else {
			f.Warnings = append(f.Warnings, against)
		}
	}
	if slow, fast := speedRange(best.rows.speed); fast < wideRange*slow {
		weaken(&f.Viscous, true)
		weaken(&f.Coulomb, true)
	}
	f.Lag = plant.MissingFrom("changes of speed of several kinds: at a single frequency, or in noise, a delay cannot be told")
	if lag, sigma, told := best.lagTold(); told {
		half = forceInflation * 1.96 * sigma
		f.Lag = plant.Estimate{Value: lag, Low: lag - half, High: lag + half, Status: plant.Weak, From: from}
	}
	var res Result
	s.collect(best.rows.width, curveLow*s.full, math.Inf(1)).curve(&res, s, best)
	f.Friction = res.Friction
	return f
}
