package compare

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/stat/distuv"

	"eha/strokewise/ident/plant"
)

// Change is a parameter that both fits found, before and after, in SI units.
type Change struct {
	Param         plant.Param
	Before, After plant.Estimate
	// Ratio is after over before with its own 95 % interval; the axial load, which
	// may change its sign, has a Difference (N) with interval instead and NaN here.
	Ratio, RatioLow, RatioHigh    float64
	Difference, DiffLow, DiffHigh float64
	Useful                        float64 // share that a change must exceed
	Changed                       bool
	OftenMeans, CouldAlsoBe       string  // where it changed
	differs, sigma                float64 // p of no change; standard deviation of the ratio's logarithm
	up, cancels                   bool    // cancels: both fits share what the model leaves out
}

// likeness is what two fits of one machine share.
type likeness struct {
	// useful is the share by which a parameter must change to be worth a word
	// (common practice, no source).
	useful float64
	// caution widens the interval where two fits of one unchanged machine were seen
	// to differ by more than their intervals say: in starts and viscous friction from short moves, in
	// the split of a compliance into volume and modulus, in the drive behind a closed
	// loop. The pairs command under samples tries these figures on simulated machines.
	caution float64
}

// scatter is the share of slip's interval that is scatter between recordings of the
// same moves; the rest is what the model leaves out, which does not change while oil and load
// stay. Measured on simulated machines as the cautions are.
const scatter = 0.6

// compared lists the parameters that describe the machine. What belongs to the
// controller, the sensors or one log (delays, limits, lags) is left out: it differs with the
// recording, not with the machine.
var compared = map[plant.Param]likeness{
	plant.StrokePerTurnExtend:  {0.005, 1},
	plant.StrokePerTurnRetract: {0.005, 1},
	plant.StrokePerTurnCap:     {0.005, 1},
	plant.StrokePerTurnRod:     {0.005, 1},
	plant.Slip:                 {0.10, 1},
	plant.LostMotion:           {0.15, 1},
	plant.CoulombFriction:      {0.05, 1},
	plant.BreakawayForce:       {0.20, 2},
	plant.ViscousFriction:      {0.25, 2.5},
	plant.MovingMass:           {0.05, 1},
	plant.AxialLoad:            {0.05, 1},
	plant.BulkModulus:          {0.10, 2.5},
	plant.BulkModulusCap:       {0.10, 2.5},
	plant.BulkModulusRod:       {0.10, 2.5},
	plant.ComplianceCap:        {0.05, 1.6},
	plant.ComplianceRod:        {0.05, 1.6},
	plant.HydraulicFrequency:   {0.05, 1},
	plant.HydraulicDamping:     {0.25, 1},
	plant.DriveBandwidth:       {0.10, 2},
	plant.DriveDamping:         {0.15, 2},
	plant.DeadTime:             {0.25, 2},
	plant.ContactStiffness:     {0.10, 1},
	plant.PressingStiffness:    {0.10, 1},
}

// ComparePlants compares the parameters that both fits found. The logarithm of
// the ratio is taken as normal with the standard deviations that the intervals
// stand for. Judging is left to Compare.
func ComparePlants(before, after *plant.Plant) ([]Change, []string) {
	alike := recordedAlike(&before.Seen, &after.Seen)
	var notes []string
	if !alike {
		notes = append(notes, "The two fits rest on moves of different kinds, so their systematic errors do not cancel: mistrust small changes, and log the same moves in both.")
	}
	if !sameMachine(before, after) {
		notes = append(notes, "The two sets' machine files differ; see that they are of one machine.")
	}
	notes = append(notes, temperatureNote(&before.Seen, &after.Seen)...)
	var changes []Change
	for _, p := range plant.Params() {
		l, ok := compared[p]
		b, a := before.Est(p), after.Est(p)
		if !ok || b.Status < plant.Weak || a.Status < plant.Weak || byDirection(p) && chambersKnown(before, after) {
			continue
		}
		if c, ok := change(p, b, a, l); ok {
			c.cancels = alike && p == plant.Slip
			changes = append(changes, c)
		}
	}
	return changes, notes
}

// byDirection reports whether the parameter hangs on which chamber carries the load
// that way, which another load or gain may change.
func byDirection(p plant.Param) bool {
	return p == plant.StrokePerTurnExtend || p == plant.StrokePerTurnRetract
}

// chambersKnown reports whether both fits have the stroke per turn by chamber.
func chambersKnown(plants ...*plant.Plant) bool {
	for _, p := range plants {
		if p.Est(plant.StrokePerTurnCap).Status < plant.Weak && p.Est(plant.StrokePerTurnRod).Status < plant.Weak {
			return false
		}
	}
	return true
}

// change compares two estimates of a parameter, false where one of them says next to nothing.
func change(p plant.Param, before, after plant.Estimate, l likeness) (Change, bool) {
	nan := math.NaN()
	c := Change{Param: p, Before: before, After: after, Useful: l.useful, Ratio: nan, RatioLow: nan, RatioHigh: nan}
	c.Difference = after.Value - before.Value
	sigma := l.caution * math.Hypot(before.Sigma(), after.Sigma())
	c.DiffLow, c.DiffHigh = c.Difference-1.96*sigma, c.Difference+1.96*sigma
	c.up = after.Value > before.Value
	if p == plant.AxialLoad {
		c.up = math.Abs(after.Value) > math.Abs(before.Value)
		c.differs = twoSided(c.Difference, sigma)
		return c, true
	}
	// A parameter of which even the size is open has no ratio.
	if before.Value <= 0 || after.Value <= 0 || before.HalfWidth() >= 0.95*before.Value || after.HalfWidth() >= 0.95*after.Value {
		return c, false
	}
	log := math.Log(after.Value / before.Value)
	relative := l.caution * math.Hypot(before.Sigma()/before.Value, after.Sigma()/after.Value)
	c.ratio(log, relative)
	return c, true
}

// ratio sets the ratio from its logarithm and that one's standard deviation.
func (c *Change) ratio(log, sigma float64) {
	c.Ratio, c.RatioLow, c.RatioHigh = math.Exp(log), math.Exp(log-1.96*sigma), math.Exp(log+1.96*sigma)
	c.differs, c.sigma = twoSided(log, sigma), sigma
}

// twoSided returns the p-value of a normal size with that standard deviation.
func twoSided(size, sigma float64) float64 {
	if !(sigma > 0) {
		return 1 // nothing is known without a doubt
	}
	return 2 * distuv.UnitNormal.Survival(math.Abs(size)/sigma)
}

// judgePlant decides which parameters changed, jointly at the risk. Where neither
// oil nor load is seen to have changed, what the model leaves out is the same in both
// fits, and slip is judged by its scatter alone.
func judgePlant(changes []Change, risk float64) {
	decide(changes, risk)
	narrowed := false
	for i := range changes {
		if c := &changes[i]; c.cancels && !oilOrLoad(changes) {
			c.ratio(math.Log(c.Ratio), scatter*c.sigma)
			narrowed = true
		}
	}
	if narrowed {
		decide(changes, risk)
	}
	explain(changes)
}

// oilOrLoad reports whether a parameter of the oil or the load is seen to have changed.
func oilOrLoad(changes []Change) bool {
	for _, c := range changes {
		switch c.Param {
		case plant.BulkModulus, plant.BulkModulusCap, plant.BulkModulusRod, plant.ComplianceCap, plant.ComplianceRod,
			plant.HydraulicFrequency, plant.MovingMass, plant.AxialLoad:
			if c.Changed {
				return true
			}
		}
	}
	return false
}

// decide sets which changes are shown.
func decide(changes []Change, risk float64) {
	var p []float64
	for _, c := range changes {
		p = append(p, c.differs)
	}
	for i, rejected := range holm(p, risk) {
		c := &changes[i]
		c.Changed = rejected && c.large()
	}
}

// large reports whether the change exceeds the useful size.
func (c *Change) large() bool {
	if c.Param == plant.AxialLoad {
		return math.Abs(c.Difference) > c.Useful*math.Max(math.Abs(c.Before.Value), math.Abs(c.After.Value))
	}
	return math.Abs(math.Log(c.Ratio)) > math.Log1p(c.Useful)
}

// recordedAlike reports whether two fits rest on moves of one kind: under a position
// loop or not, over about the same stroke and speeds.
func recordedAlike(a, b *plant.Seen) bool {
	return a.ClosedLoop == b.ClosedLoop && shares(a.Position, b.Position) && shares(a.MotorSpeed, b.MotorSpeed)
}

// shares reports whether two ranges have at least half of what they span in common.
func shares(a, b [2]float64) bool {
	common := math.Min(a[1], b[1]) - math.Max(a[0], b[0])
	return common >= 0.5*(math.Max(a[1], b[1])-math.Min(a[0], b[0]))
}

func sameMachine(a, b *plant.Plant) bool {
	return a.Machine.Cylinder == b.Machine.Cylinder && a.Machine.Pump == b.Machine.Pump
}

// temperatureNote says what is known of the oil's temperature (K).
func temperatureNote(a, b *plant.Seen) []string {
	if a.Temperature[1] <= 0 || b.Temperature[1] <= 0 {
		return []string{"Oil temperature was not logged in both sets: thinner, warmer oil slips more and rubs less. Compare at the same temperature, or log oil_temperature."}
	}
	if d := middle(b.Temperature) - middle(a.Temperature); math.Abs(d) >= 5 {
		return []string{fmt.Sprintf("The oil was %.0f K %s after than before, which alone changes slip and viscous friction.", math.Abs(d), map[bool]string{true: "warmer", false: "colder"}[d > 0])}
	}
	return nil
}

func middle(r [2]float64) float64 { return (r[0] + r[1]) / 2 }
