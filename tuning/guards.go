package tuning

import (
	"fmt"
	"math"

	"eha/strokewise/ident/plant"
	"eha/strokewise/tuning/law"
	"eha/strokewise/tuning/sim"
)

// Bounds of the guards: common practice, no source.
const (
	mismatchTime  = 0.5  // s, over which encoder and transducer are compared
	guardFactor   = 1.5  // threshold over the largest that is expected
	reliefShare   = 0.9  // of the relief setting, the highest pressure limit
	seenShare     = 1.2  // over the highest pressure seen, where no limit is stated
	pumpFriction  = 1.15 // torque over D·Δp that a gear pump takes to run
	torqueShare   = 0.97 // of D times the relief setting, so that a pump without friction trips before relief too
	softShare     = 0.02 // of the stroke, soft limits where no margin is stated
	leastMismatch = 0.2e-3
)

// guards returns thresholds for the controller's supervision of the settings.
func (d *design) guards(l law.Loops) Guards {
	var g Guards
	d.guardTravel(&g)
	d.guardMismatch(&g)
	if l.Position != nil {
		d.guardFollowing(&g, *l.Position)
	}
	d.guardPressure(&g)
	return g
}

func (g *Guards) because(format string, args ...any) {
	g.Why = append(g.Why, fmt.Sprintf(format, args...))
}

func (d *design) guardTravel(g *Guards) {
	margin, from := d.p.Machine.Limits.StrokeMargin, "the stated stroke margin"
	if margin == 0 {
		margin, from = softShare*d.model.Stroke, "2 % of the stroke, for want of a stated margin"
	}
	g.SoftLow, g.SoftHigh = margin, d.model.Stroke-margin
	g.because("Soft limits keep %s from both ends.", from)
}

// guardMismatch compares encoder and transducer over a sliding time: slip turns
// the pump while the rod stands, so a plain difference grows for ever.
func (d *design) guardMismatch(g *Guards) {
	m := &d.model
	perTurn := max(m.StrokePerTurn(plant.Cap), m.StrokePerTurn(plant.Rod))
	working := d.pressureLimit()
	g.MismatchTime = mismatchTime
	usual := d.p.Seen.MismatchRate * mismatchTime
	noise := 6 * d.p.Seen.Noise.Position * math.Sqrt2
	lost := d.p.Est(plant.LostMotion).High * perTurn
	oil, drift, slip := 0.0, 0.0, 0.0
	if d.p.PressuresSeen {
		for _, c := range []plant.Chamber{plant.Cap, plant.Rod} {
			oil = max(oil, m.Compliance(c, m.Stroke/2, working/2)*working/m.Area.At(c))
		}
		e := d.p.Est(plant.Slip)
		drift = e.HalfWidth() * working * perTurn * mismatchTime
		slip = e.High * working * perTurn * mismatchTime
	}
	g.Mismatch = max(guardFactor*(max(usual, noise)+lost+oil+drift), leastMismatch)
	g.PlainMismatch = g.Mismatch + guardFactor*slip
	squeezed := ""
	if d.p.PressuresSeen {
		squeezed = fmt.Sprintf(", oil squeezed to %.3g bar %.2g mm, doubt about slip %.2g mm", working*1e-5, oil*inMM, drift*inMM)
	}
	g.because("Encoder against transducer over %.2g s: in these logs 99.9 %% of such stretches differ by less than %.2g mm; a reversal adds up to %.2g mm%s. The threshold is %.2g times their sum, so a false alarm asks for all of them at once.",
		mismatchTime, usual*inMM, lost*inMM, squeezed, guardFactor)
	g.because("A controller that compares totals instead must have that fault off, or set to zero again at each standstill: slip makes the totals part for ever under load.")
}

// pressureLimit returns the highest chamber pressure to allow (Pa).
func (d *design) pressureLimit() float64 {
	l := d.p.Machine.Limits
	limit := l.WorkingPressure
	if l.Relief > 0 && (limit == 0 || limit > reliefShare*l.Relief) {
		limit = reliefShare * l.Relief
	}
	if limit > 0 {
		return limit
	}
	return seenShare * max(d.p.Seen.Pressure.Cap[1], d.p.Seen.Pressure.Rod[1])
}

func (d *design) guardPressure(g *Guards) {
	if d.p.PressuresSeen {
		g.PressureLimit = d.pressureLimit()
		g.because("The pressure limit is the working pressure, at most %.0f %% of the relief setting; without both, %.0f %% of the highest pressure logged.", 100*reliefShare, 100*seenShare)
	}
	g.ForceLimit = d.p.Machine.Limits.Force
	if c := d.model.Contact; c != nil && c.Presses == plant.Retract {
		g.ForceLimit = d.forceLimit(plant.Retract)
		g.because("The force limit is that of pulling, the way this machine presses.")
	}
	limit := d.pressureLimit()
	if !d.p.AreasKnown || !(limit > 0) {
		return
	}
	if g.ForceLimit == 0 {
		g.ForceLimit = limit * d.model.Area.Cap
		g.because("The force limit is what the pressure limit gives on the cap side, for want of a stated force.")
	}
	g.TorqueLimit = pumpFriction * d.model.Displacement * limit
	if relief := d.p.Machine.Limits.Relief; relief > 0 {
		g.TorqueLimit = min(g.TorqueLimit, torqueShare*d.model.Displacement*relief)
	}
	if peak := d.p.Machine.Motor.PeakTorque; peak > 0 {
		g.TorqueLimit = min(g.TorqueLimit, peak)
	}
	g.because("The torque limit is displacement times the pressure limit, plus %.0f %% for the pump's friction, at most what the relief setting gives without friction. It needs no sensor: set it first.", 100*(pumpFriction-1))
}

// guardFollowing takes the largest following error of simulated smooth moves at
// several speeds, over the mass range, and what can stand there at rest.
func (d *design) guardFollowing(g *Guards, set law.Position) {
	least := min(set.Turns.Extend, set.Turns.Retract)
	if set.Table != nil || !(least > 0) {
		least = 1 / max(d.model.StrokePerTurn(plant.Cap), d.model.StrokePerTurn(plant.Rod))
	}
	top := 0.9 * set.SpeedLimit / max(set.Turns.Extend, set.Turns.Retract, least)
	rest := guardFactor * (2*set.Window + d.droop(&set) + 6*d.p.Seen.Noise.Position)
	g.FollowingError = []plant.Point{{X: 0, Y: rest}}
	shares := []float64{0.25, 0.5, 1}
	worst := make([]float64, len(shares))
	sim.Each(len(shares), func(i int) { worst[i] = d.largestError(set, shares[i]*top) })
	for i, share := range shares {
		before := g.FollowingError[len(g.FollowingError)-1].Y
		g.FollowingError = append(g.FollowingError, plant.Point{X: share * top, Y: max(before, rest+guardFactor*worst[i])})
	}
	g.because("Following error: %.2g times the largest of simulated smooth moves both ways over the mass range, on top of what slip, window and noise leave at rest. Position commands that jump exceed it by design: ramp them, or leave the guard off for them.", guardFactor)
}

// largestError returns the largest distance (m) between reference and position in
// smooth moves at the speed (m/s) both ways.
func (d *design) largestError(set law.Position, speed float64) float64 {
	low, high := d.places[0], d.places[len(d.places)-1]
	if c := d.model.Contact; c != nil && c.Presses == plant.Extend {
		high = min(high, c.Position-stepSize(&d.model))
	} else if c != nil {
		low = max(low, c.Position+stepSize(&d.model))
	}
	if high <= low {
		return 0
	}
	kp := min(set.Kp.Extend, set.Kp.Retract)
	accel := 0.5 * speed * kp
	worst := 0.0
	for _, factor := range []float64{1, d.factors[len(d.factors)-1]} {
		for _, ends := range [][2]float64{{low, high}, {high, low}} {
			free := clearOf(d.model)
			course, moves := sim.SmoothAt(sim.Rest, ends[0], ends[1], speed, accel, accel*kp)
			run := sim.Do(sim.Experiment{Model: &free, MassFactor: factor, Loops: law.Loops{Position: &set}, Start: ends[0],
				Duration: sim.Rest + min(moves+0.5, 20), Demand: course, All: true})
			for i, r := range run.Reference {
				worst = max(worst, math.Abs(r-run.Position[i]))
			}
		}
	}
	return worst
}
