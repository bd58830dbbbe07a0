package tuning

import (
	"fmt"
	"math"
	"math/rand/v2"
	"sort"

	"eha/strokewise/ident/machine"
	"eha/strokewise/ident/plant"
	"eha/strokewise/tuning/law"
	"eha/strokewise/tuning/loop"
)

// design is what a proposal for one plant under one set of options is worked out on.
type design struct {
	p     *plant.Plant
	opt   Options
	model plant.Model // what-if included
	// likely is the model that predictions are made on: where no torque limit was met, its own stands higher.
	likely plant.Model
	typed  typed
	slow   float64 // m/s, of the travel that loops are linearised in
	// The grid: positions (m), mass factors, process loads (N), outer delays (s).
	places, factors, process, delays []float64
	draws                            []plant.Model // from the joint uncertainty, what-if included
	contactStated                    bool          // what the rod presses on was stated, not logged
	longestJump                      float64       // m, up to which bare steps brake in time; 0 for any length
	foremost                         []string      // warnings that belong beside the gains
	warnings                         []string
	ended                            func() error // of the context that the search goes on for; nil goes on to the end
}

// over reports whether nobody waits for the answer any more; a search then ends
// early, with whatever it has.
func (d *design) over() bool { return d.ended != nil && d.ended() != nil }

// numDraws is the number of models drawn for robustness and for the bands of the
// predicted figures.
const numDraws = 20

// Where the drive's limit was never met it lies above the largest acceleration
// seen: 1.6 to 3 times it on simulated machines with a usual survey. Gains are tried at what was
// seen, predictions are made at unmetLimit times it, and draws span to mostUnmet times.
const (
	unmetLimit = 1.8
	mostUnmet  = 4.0
)

func newDesign(p *plant.Plant, opt Options) (*design, error) {
	if err := checkOptions(opt); err != nil {
		return nil, err
	}
	d := &design{p: p, opt: opt, model: opt.WhatIf.Apply(p.Model, p.MassKnown), typed: typed{p.Machine.Controller.Resolution}}
	d.takeContact()
	if err := d.model.Check(); err != nil {
		return nil, fmt.Errorf("tuning: the plant is not fit for design: %w", err)
	}
	if opt.WhatIf.Mass != nil && !p.MassKnown {
		d.warn("The mass is not known, so the mass asked for changes nothing; give it in the machine file or log pressures.")
	}
	d.places = positions(&d.model, p.Machine.Limits.StrokeMargin)
	d.factors = massFactors(d.massRange())
	d.process = processLoads(p.Machine.Load.ForceRange)
	d.delays = d.delayBand()
	d.slow = slowShare * d.topSpeed() * max(d.model.StrokePerTurn(plant.Cap), d.model.StrokePerTurn(plant.Rod))
	d.likely = d.model
	if !d.model.Drive.AccelMet {
		d.likely.Drive.AccelLimit *= unmetLimit
	}
	d.draw()
	return d, nil
}

func (d *design) warn(format string, args ...any) {
	d.warnings = append(d.warnings, fmt.Sprintf(format, args...))
}

// checkOptions returns an error that names the first option that makes no sense.
func checkOptions(o Options) error {
	t := o.Targets
	switch {
	case !(t.SensitivityPeak >= 1.05 && t.SensitivityPeak <= 4):
		return fmt.Errorf("tuning: targets: sensitivity peak %g, need 1.05 to 4", t.SensitivityPeak)
	case !(t.GainMargin >= 1.05 && t.GainMargin < 100):
		return fmt.Errorf("tuning: targets: gain margin ratio %g, need 1.05 to 100", t.GainMargin)
	case !(t.PhaseMargin > 0 && t.PhaseMargin < 85*math.Pi/180):
		return fmt.Errorf("tuning: targets: phase margin %g deg, need more than 0 and less than 85", t.PhaseMargin*180/math.Pi)
	case !(o.GainShare > 0 && o.GainShare <= 1):
		return fmt.Errorf("tuning: gain share %g, need more than 0 and at most 1", o.GainShare)
	case o.Contact != nil && !(o.Contact.Stiffness > 0 && !math.IsInf(o.Contact.Stiffness, 0)):
		return fmt.Errorf("tuning: contact stiffness %g N/m, need a positive number", o.Contact.Stiffness)
	case o.ContactRange[1] != 0 && !(o.ContactRange[0] > 0 && o.ContactRange[1] >= o.ContactRange[0] && !math.IsInf(o.ContactRange[1], 0)):
		return fmt.Errorf("tuning: contact range %g to %g N/m, need two positive stiffnesses, the smaller first", o.ContactRange[0], o.ContactRange[1])
	case o.MassRange[0] < 0 || o.MassRange[1] < o.MassRange[0] || (o.MassRange[1] > 0 && o.MassRange[0] == 0):
		return fmt.Errorf("tuning: mass range %g to %g, need two positive masses, the smaller first", o.MassRange[0], o.MassRange[1])
	}
	return nil
}

// massRange returns the range of mass to hold for, the model's mass and whether the range is in kg.
func (d *design) massRange() (limits [2]float64, mass float64, inKilograms bool) {
	limits, inKilograms = d.opt.MassRange, d.p.MassKnown
	if limits[1] == 0 && (d.p.MassKnown || d.p.Machine.Load.Mass > 0) {
		limits, inKilograms = d.p.Machine.Load.MassRange, true
	}
	mass = d.model.Mass
	if !d.p.MassKnown && d.p.Machine.Load.Mass > 0 {
		mass = d.p.Machine.Load.Mass
	}
	return limits, mass, inKilograms
}

// processLoads returns the process loads to hold for: none and the ends of the range.
func processLoads(limits [2]float64) []float64 {
	loads := []float64{limits[0], 0, limits[1]}
	sort.Float64s(loads)
	return distinct(loads)
}

// delayBand returns the outer delays to hold for: the one known, or the ends and
// the middle of its interval. More delay can raise a limit as well as lower it.
func (d *design) delayBand() []float64 {
	e := d.p.Est(plant.OuterDelay)
	if d.opt.WhatIf.OuterDelay != nil || !e.Known() || e.Status == plant.Given {
		return []float64{d.model.OuterDelay}
	}
	scale := 1.0
	if w := d.opt.WhatIf.ControllerPeriod; w != nil && e.Status == plant.Assumed {
		scale = *w / d.p.Model.ControllerPeriod // assumed in controller periods
		d.model.OuterDelay *= scale
	}
	band := []float64{max(e.Low*scale, 0), d.model.OuterDelay, max(e.High*scale, 0)}
	sort.Float64s(band)
	return distinct(band)
}

// topSpeed returns the largest motor speed (rad/s): the nameplate's, or the largest seen.
func (d *design) topSpeed() float64 {
	if top := d.p.Machine.Motor.MaxSpeed; top > 0 {
		return top
	}
	seen := max(-d.p.Seen.MotorSpeed[0], d.p.Seen.MotorSpeed[1])
	if seen > 0 {
		return seen
	}
	return 1000 / inRPM // common practice, no source: a slow servo motor
}

// draw fills in the models drawn from the joint uncertainty, always the same for the same plant.
func (d *design) draw() {
	rng := rand.New(rand.NewPCG(1, 2))
	for i := range numDraws {
		m := d.opt.WhatIf.Apply(d.p.Draw(rng), d.p.MassKnown)
		if !m.Drive.AccelMet && i%2 == 1 {
			m.Drive.AccelLimit *= mostUnmet
		}
		m.Contact = d.drawnContact(i)
		if m.Check() == nil {
			d.draws = append(d.draws, m)
		}
	}
}

// base returns the position settings that do not depend on the gains.
func (d *design) base() law.Position {
	can := d.p.Machine.Controller
	set := law.Position{Period: d.model.ControllerPeriod, WindowTime: 0.1}
	if can.Feedforward.Or(true) {
		set.Feedforward = 1
	}
	d.setScale(&set)
	set.SpeedLimit = d.typed.down("speed_limit", d.speedCap(set.Turns), inRPM)
	return set
}

// speedCap returns the motor speed (rad/s) that neither nameplate nor rod speed limit lets pass.
func (d *design) speedCap(turns plant.PerDirection[float64]) float64 {
	top := d.topSpeed()
	if v := d.p.Machine.Limits.Speed; v > 0 {
		top = min(top, v*min(turns.Extend, turns.Retract))
	}
	return top
}

// setScale fills in the turns per travel in the form that the controller holds.
func (d *design) setScale(set *law.Position) {
	travel := plant.PerDirection[float64]{Extend: d.travelPerTurn(plant.Extend), Retract: d.travelPerTurn(plant.Retract)}
	round := func(perTurn float64) float64 { return d.typed.fine("turns_per_mm", 1/perTurn, revPerMM) }
	set.Turns = plant.PerDirection[float64]{Extend: round(travel.Extend), Retract: round(travel.Retract)}
	switch scaleInUse(d.p, d.opt) {
	case machine.ScaleSingle:
		// Safe where a turn moves the rod furthest.
		least := min(set.Turns.Extend, set.Turns.Retract)
		set.Turns = plant.PerDirection[float64]{Extend: least, Retract: least}
	case machine.ScaleChamber:
		set.ByChamber = true
		set.ChamberBand = d.typed.up("scale_chamber_band", d.chamberBand(), 1e-3)
		set.Turns.Extend = round(d.model.StrokePerTurn(plant.Cap))
		set.Turns.Retract = round(d.model.StrokePerTurn(plant.Rod))
	case machine.ScaleTable:
		if t := scaleTable(d.p.StrokeMap); t != nil {
			set.Table = &law.Table{Position: t.Position}
			for i := range t.Position {
				set.Table.Turns.Extend = append(set.Table.Turns.Extend, round(t.PerTurn.Extend[i]))
				set.Table.Turns.Retract = append(set.Table.Turns.Retract, round(t.PerTurn.Retract[i]))
			}
		} else {
			d.warn("No map along the stroke was found, so the table is left out; log slow full strokes both ways.")
		}
	}
}

// chamberBand returns the force (N) that has to point the other way before the pair
// of scales changes: a quarter of friction, so that slow travel either way passes it, and clear
// of the pressures' noise.
func (d *design) chamberBand() float64 {
	noise := d.p.Seen.Noise.Pressure * math.Hypot(d.model.Area.Cap, d.model.Area.Rod)
	return max(0.25*max(d.model.Coulomb.Extend, d.model.Coulomb.Retract), 4*noise)
}

// travelPerTurn returns rod travel per motor angle (m/rad) in the direction: as
// fitted, or that of the chamber that carries where a what-if changed the chamber.
func (d *design) travelPerTurn(dir plant.Direction) float64 {
	now := d.model.Carrier(d.model.SteadyForce(dir.Sign()*d.slow, 1))
	logged := d.p.Model.Carrier(d.p.Model.SteadyForce(dir.Sign()*d.slow, 1))
	if s, known := strokePerTurn(d.p); known && now == logged {
		return s.At(dir)
	}
	return d.model.StrokePerTurn(now)
}

// turnsAt returns the turns per travel (rad/m) that the settings apply at a place of
// the model. Where the hydraulic force lies inside the band of a scale by chamber either pair
// may be in use, and the larger counts.
func turnsAt(m *plant.Model, set *law.Position, at loop.Place) float64 {
	if set.ByChamber {
		force := (m.Area.Cap - m.Area.Rod) * m.LowPressure
		if over := m.Area.At(at.Chamber) * (at.Pressure - m.LowPressure); at.Chamber == plant.Cap {
			force += over
		} else {
			force -= over
		}
		switch {
		case force > set.ChamberBand:
			return set.Turns.Extend
		case force < -set.ChamberBand:
			return set.Turns.Retract
		}
		return max(set.Turns.Extend, set.Turns.Retract)
	}
	if set.Table != nil {
		return set.Table.At(at.Position, at.Direction)
	}
	return set.Turns.At(at.Direction)
}

// loopAt returns the loop of the settings at a corner of the model.
func loopAt(m *plant.Model, set *law.Position, c corner) loop.Position {
	l := loop.NewPosition(m, c.place, c.delay)
	l.Hold.Period = set.Period
	l.Axis.Compliance /= c.mode.frequency * c.mode.frequency
	l.Axis.Viscous *= c.mode.damping
	l.Axis.Resistance *= c.mode.damping
	l.Kp, l.Ki = set.Kp.At(c.place.Direction), set.Ki.At(c.place.Direction)
	l.Turns = turnsAt(m, set, c.place)
	l.PressureDamping, l.Highpass, l.Lowpass = set.PressureDamping, set.Highpass, set.Lowpass
	return l
}
