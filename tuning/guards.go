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
	torqueTime    = 0.1 // s, for which torque may exceed its limit, as it does when a move starts
	// Without pressures nobody knows how much oil gives and slips: a share of the
	// stroke at working pressure, and of the top speed.
	blindSqueeze = 0.007
	blindSlip    = 0.03
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
	if !d.p.PressuresSeen {
		oil, slip = blindSqueeze*m.Stroke, blindSlip*d.topSpeed()*perTurn*mismatchTime
	}
	g.Mismatch = max(guardFactor*(max(usual, noise)+lost+oil+drift), leastMismatch)
	g.PlainMismatch = g.Mismatch + guardFactor*slip
	squeezed := fmt.Sprintf(", squeezed oil, not known without pressures, is taken as %.2g mm and slip as %.2g mm", oil*inMM, slip*inMM)
	if d.p.PressuresSeen {
		squeezed = fmt.Sprintf(", oil squeezed to %.3g bar %.2g mm, doubt about slip %.2g mm", working*1e-5, oil*inMM, drift*inMM)
	}
	g.because("Encoder against transducer over %.2g s: in these logs 99.9 %% of such stretches differ by less than %.2g mm; a reversal adds up to %.2g mm%s. The threshold is %.2g times their sum, so a false alarm asks for all of them at once.",
		mismatchTime, usual*inMM, lost*inMM, squeezed, guardFactor)
	g.because("What stays below goes unseen: a turn or count lost that is worth less than %.2g mm, a reading that drifts more slowly than %.2g mm/s. Check a mark on the machine against the reading now and then.", g.Mismatch*inMM, g.Mismatch/mismatchTime*inMM)
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
	if c := d.model.Contact; c != nil && d.p.PressuresSeen {
		force := d.forceLimit(c.Presses)
		g.because("While pressing, a torque limit of %.3g Nm, displacement times the pressure of the force limit, keeps the force below it without any sensor; the pump's friction takes up to %.0f %% of that.",
			d.model.Displacement*d.model.PressureFor(carries(c.Presses), c.Presses.Sign()*force), 100*(1-1/pumpFriction))
	}
	g.because("The torque limit is displacement times the pressure limit, plus %.0f %% for the pump's friction, at most what the relief setting gives without friction. It needs no sensor: set it first. A quick start takes more for a moment: as a fault let it trip after %.2g s, as a limit of the drive it makes such starts slower.", 100*(pumpFriction-1), torqueTime)
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
	marks := make([]float64, len(guardSpeeds))
	for k, share := range guardSpeeds {
		marks[k] = share * top
	}
	worst := d.errorsBySpeed(set, marks)
	before := 0.0
	for k, mark := range marks {
		before = max(before, rest+guardFactor*worst[k])
		g.FollowingError = append(g.FollowingError, plant.Point{X: mark, Y: before})
	}
	g.because("Following error by the speed demanded at the moment: %.2g times the largest of simulated smooth moves at all speeds, both ways over the mass range, on top of what slip, window and noise leave at rest. While a move ends the error falls later than the speed, which the lowest speeds allow for. Position commands that jump exceed it by design: ramp them, or leave the guard off for them.", guardFactor)
}

// guardSpeeds are the shares of the top speed that the table of following errors
// holds; moves are simulated at each but standstill.
var guardSpeeds = []float64{0, 0.1, 0.25, 0.5, 1}

// errorsBySpeed returns, for each mark (m/s, increasing), the largest distance (m)
// between reference and position in smooth moves while the speed demanded lies
// between the mark's neighbours, so that straight lines between the marks lie above all.
func (d *design) errorsBySpeed(set law.Position, marks []float64) []float64 {
	each := make([][]float64, len(marks))
	sim.Each(len(marks)-1, func(i int) { each[i+1] = d.moveErrors(set, marks[i+1], marks) })
	worst := make([]float64, len(marks))
	for _, errors := range each[1:] {
		for k, e := range errors {
			worst[k] = max(worst[k], e)
		}
	}
	return worst
}

// moveErrors returns the errors of errorsBySpeed in moves at the speed (m/s) both ways.
func (d *design) moveErrors(set law.Position, speed float64, marks []float64) []float64 {
	worst := make([]float64, len(marks))
	low, high := d.places[0], d.places[len(d.places)-1]
	if c := d.model.Contact; c != nil && c.Presses == plant.Extend {
		high = min(high, c.Position-stepSize(&d.model))
	} else if c != nil {
		low = max(low, c.Position+stepSize(&d.model))
	}
	if high <= low {
		return worst
	}
	kp := min(set.Kp.Extend, set.Kp.Retract)
	accel := 0.5 * speed * kp
	for _, factor := range []float64{1, d.factors[len(d.factors)-1]} {
		for _, ends := range [][2]float64{{low, high}, {high, low}} {
			free := clearOf(d.model)
			course, moves := sim.SmoothAt(sim.Rest, ends[0], ends[1], speed, accel, accel*kp)
			run := sim.Do(sim.Experiment{Model: &free, MassFactor: factor, Loops: law.Loops{Position: &set}, Start: ends[0],
				Duration: sim.Rest + min(moves+0.5, 20), Demand: course, All: true})
			for i, r := range run.Reference {
				demanded := math.Abs(course(float64(i) * run.Period).Rate)
				for k := range marks {
					if (k == 0 || demanded >= marks[k-1]) && (k+1 == len(marks) || demanded <= marks[k+1]) {
						worst[k] = max(worst[k], math.Abs(r-run.Position[i]))
					}
				}
			}
		}
	}
	return worst
}
