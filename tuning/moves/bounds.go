package moves

import (
	"fmt"
	"math"
	"strings"

	"eha/strokewise/ident/machine"
	"eha/strokewise/ident/plant"
	"eha/strokewise/ident/quantity"
)

// What is assumed where neither machine file nor fit tells. Common practice, no source.
const (
	assumedPeriod = 1e-3 // s, of the controller
	// shortestPeriod (s) keeps tables of fast controllers to a length that they can hold.
	shortestPeriod = 0.5e-3
	// assumedMargin is the distance kept from both ends, as a share of stroke.
	assumedMargin = 0.05
	// assumedLoss is the share of full speed that slip takes at working pressure: gear
	// pumps in good order lose some 3 to 7 %, so a tenth is generous for a worn one
	// with hot oil.
	assumedLoss = 0.10
	// turnsDoubt widens stroke per turn, slipDoubt a fitted slip (oil gets thinner
	// as it warms) and loadDoubt a fitted load.
	turnsDoubt = 0.05
	slipDoubt  = 0.25
	loadDoubt  = 0.20
	// frictionShare is the friction allowed for where it was not fitted, as a share
	// of the force at working pressure.
	frictionShare = 0.10
	// dynamicShare is the share of working pressure that ramps, steps and
	// excitation may add to what the load asks for.
	dynamicShare = 0.25
	// speedShare of the motor's and rod's largest speed is never exceeded.
	speedShare = 0.9
	// stiffOil is the modulus (Pa) of oil without air: no chamber is stiffer.
	stiffOil = 1.6e9
	// leastVolume is the smallest chamber considered, as a share of its swept
	// volume: the margins and the dead volume keep it from nought.
	leastVolume = 0.25
	// giveShare is how far oil, air and seals may let the rod lag or swing past
	// its turns, as a share of stroke.
	giveShare = 0.015
	// slowLoop (1/s) is the lowest gain that a position loop in use is taken to have: the
	// slower, the further it runs ahead of its command where its scale is off.
	slowLoop = 1.0
	gravity  = 9.80665 // m/s², ISO 80000-3
)

// Bounds are what every table keeps, and within which it was proven.
type Bounds struct {
	Low, High float64 // m, where the rod must stay
	// PerTurn is the least and the most rod travel per motor angle (m/rad) by the
	// sign of the turns.
	PerTurn plant.PerDirection[[2]float64]
	// Drift is the rod speed (m/s) that slip makes at worst, inwards (negative) and outwards.
	Drift    [2]float64
	Slip     float64 // rad/s per Pa, largest
	Pressure float64 // Pa, working pressure
	Dynamic  float64 // Pa, that moving may add
	MaxSpeed float64 // rad/s at the motor
	RodSpeed float64 // m/s, limit of the machine file; 0 for none
	Mass     float64 // kg, largest; 0 where it is only bounded by what the pressure can hold
	// Assumed says in sentences what was taken for granted.
	Assumed []string

	stroke    float64
	period    float64
	accel     float64    // rad/s², of ramps
	quick     float64    // rad/s², of pulses and excitation: what the drive's torque can do
	impedance float64    // Pa per m/s: pressure that a sudden change of rod speed makes
	freq      [2]float64 // Hz, in which the resonance is expected
	noise     float64    // m, of the transducer
	oneSided  bool       // a plant says that one chamber carries everywhere, both ways
	carrier   plant.Chamber
	balance   [2]float64 // N, hydraulic force that balances the load, least and most
	balanced  bool       // whether that is known
	holding   float64    // rad/s, that holds the rod against slip then
	lead      float64    // share of its speed by which a closed loop with a wrong scale drives the rod too fast
	give      float64    // m
	tolerance float64    // m, of the start position
	closed    bool
}

// NeedError names what the machine file or a fit must tell before moves can be planned.
type NeedError struct{ Keys []string }

// Error names the keys of the machine file.
func (e *NeedError) Error() string {
	return "moves: the machine file must state " + strings.Join(e.Keys, ", ") + "; without them no move can be kept inside the stroke and the pressure (give -m FILE, or a plant file of an earlier fit)"
}

// LoadError says that the load takes so much of the working pressure that no
// test move may add to it.
type LoadError struct{ Static, Working float64 }

// Error gives both pressures.
func (e *LoadError) Error() string {
	return fmt.Sprintf("moves: the load alone takes up to %s of %s working pressure, and moving needs some; lighten the load, or correct load or limits.working_pressure",
		show(e.Static, quantity.Pressure), show(e.Working, quantity.Pressure))
}

func show(si float64, d quantity.Dimension) string { return quantity.Format(si, d, quantity.Metric) }

// boundsOf gathers the bounds from machine file and plant.
func boundsOf(m *machine.Machine, p *plant.Plant) (*Bounds, error) {
	b := &Bounds{period: m.Controller.Period, RodSpeed: m.Limits.Speed}
	k := knownOf(m, p)
	if need := k.missing(); need != nil {
		return nil, need
	}
	if b.period <= 0 {
		b.period = assumedPeriod
		b.assume("the controller's period is not stated; the tables are at %s", show(b.period, quantity.Time))
	} else if b.period < shortestPeriod {
		b.period *= math.Ceil(shortestPeriod / b.period)
		b.assume("the tables are at a multiple of the controller's period, %s: hold each row until the next", show(b.period, quantity.Time))
	}
	b.Pressure = k.pressure
	b.stroke = k.high - k.low
	b.setTravel(m, k)
	b.setTurns(k)
	if err := b.setLoad(m, p, k); err != nil {
		return nil, err
	}
	b.narrowTurns(p)
	b.MaxSpeed = speedShare * k.maxSpeed
	if b.RodSpeed > 0 {
		b.MaxSpeed = min(b.MaxSpeed, speedShare*b.RodSpeed/b.fastest())
	}
	b.setDynamics(m, p, k)
	b.setResonance(m, p, k)
	b.give = giveShare * b.stroke
	b.tolerance = max(1e-3, 0.005*b.stroke)
	return b, nil
}

func (b *Bounds) assume(format string, args ...any) {
	b.Assumed = append(b.Assumed, fmt.Sprintf(format, args...))
}

// fastest returns the most rod travel per motor angle either way (m/rad).
func (b *Bounds) fastest() float64 { return max(b.PerTurn.Extend[1], b.PerTurn.Retract[1]) }

// setTravel sets where the rod must stay.
func (b *Bounds) setTravel(m *machine.Machine, k *known) {
	margin := m.Limits.StrokeMargin
	if margin <= 0 {
		margin = assumedMargin * b.stroke
		b.assume("limits.stroke_margin is not stated; %s is kept from both ends", show(margin, quantity.Length))
	}
	b.Low, b.High = k.low+margin, k.high-margin
	if c := k.contact; c != nil {
		// What it presses on stands where the fit found it.
		clear := margin + 0.02*b.stroke
		if c.Presses == plant.Extend {
			b.High = min(b.High, c.Position-clear)
		} else {
			b.Low = max(b.Low, c.Position+clear)
		}
	} else {
		b.assume("nothing stands in the rod's way: take away what it presses on, for all moves but press_hold")
	}
}

// setTurns sets stroke per turn: of either chamber, whichever way the motor turns.
// The fit's own figures by direction will not do: faster travel, or more friction,
// can make the other chamber carry.
func (b *Bounds) setTurns(k *known) {
	b.PerTurn = plant.PerDirection[[2]float64]{Extend: k.perTurn, Retract: k.perTurn}
}

// narrowTurns takes the one chamber's stroke per turn where a plant says that it
// carries both ways, load and friction doubted.
func (b *Bounds) narrowTurns(p *plant.Plant) {
	e := plant.Estimate{}
	if b.oneSided {
		e = p.Est(plant.StrokePerTurnCap)
		if b.carrier == plant.Rod {
			e = p.Est(plant.StrokePerTurnRod)
		}
	}
	if !e.Known() {
		b.assume("a turn moves the rod by displacement over area, of either chamber and whichever way, and 5 %% less or more")
		return
	}
	s := [2]float64{e.Low * (1 - turnsDoubt), e.High * (1 + turnsDoubt)}
	b.PerTurn = plant.PerDirection[[2]float64]{Extend: s, Retract: s}
	b.assume("the %s side carries the load both ways, as in the logs of the fit: stroke per turn as fitted, and 5 %% less or more", b.carrier)
}

// closedLoop returns the bounds for position tables: the loop takes out slip and
// areas. Speeds stay in motor speed, at the stroke per turn that needs most turns,
// so that the motor is never asked for more than MaxSpeed.
func (b *Bounds) closedLoop() *Bounds {
	c := *b
	slow := min(b.PerTurn.Extend[0], b.PerTurn.Retract[0])
	c.PerTurn = plant.PerDirection[[2]float64]{Extend: [2]float64{slow, slow}, Retract: [2]float64{slow, slow}}
	c.accel = min(b.accel*b.fastest()/slow, b.quick)
	c.Drift, c.holding, c.closed = [2]float64{}, 0, true
	c.lead = b.fastest()/slow - 1
	c.give += 0.01 * b.stroke // a loop that swings about its command
	c.assume("the position loop in use has a gain of %s or more; its scale may be wrong by the ratio of the areas. Look at the following error of the smaller sizes first", show(slowLoop, quantity.Rate))
	return &c
}
