package moves

import (
	"math"

	"eha/strokewise/ident/motion"
	"eha/strokewise/ident/plant"
	"eha/strokewise/ident/quantity"
)

const (
	wholePeriods = 8    // evaluated, after one to settle
	lineRatio    = 1.15 // between neighbouring lines
	// lineError is the relative error wanted of one line of the response at the
	// resonance: a dozen lines about it then give its frequency to some 1 %.
	lineError   = 0.03
	leastDamped = 0.05 // damping taken for the swing at the resonance; common practice, no source
	driveBand   = 60.0 // Hz, up to which the drive shall show
	leastLine   = 1.0  // rad/s of the motor: smaller swings drown in its friction
	leastLines  = 6    // that make a multisine
	biasRatio   = 2.2  // bias over amplitude, at least: at two and more the rod never reverses
	mostBias    = 0.15 // of full speed
	leastBias   = 0.03
)

// multisine excites the resonance by all lines at once, in whole periods: about a
// place where one chamber carries both ways, else on steady slow travel.
//
// The amplitude is what shows the resonance in the transducer, with N samples of
// noise σ over the periods evaluated and a line of amplitude a (m/s of the rod) at ω:
//
//	error of the line = σ·sqrt(2/N)·ω/a
//
// taken at lineError and the highest frequency expected, and no more than pressure
// and drive allow: the lines at the resonance swing by 1/(2ζ), all together by their
// peak, and the motor's acceleration stays below what its torque can do. So that the
// drive shows too, lines reach driveBand and are no smaller than leastLine; those above
// the resonance have equal acceleration instead of equal speed. The bias is the most
// that fits, and at least biasRatio times the peak.
func (w *planner) multisine(d plant.Direction) {
	part := d.String()
	if w.b.oneSided {
		if d == plant.Retract {
			return // about a place there is but one way
		}
		part = ""
	}
	var best excitation
	for _, seconds := range []float64{2, 1.2, 0.6} {
		e := w.excitation(seconds)
		if e.lines < leastLines {
			w.leave(motion.Multisine, part, "the controller's period, %s, is too long for the resonance expected", show(w.b.period, quantity.Time))
			return
		}
		x, ok := w.largest(leastBias/mostBias, func(x float64) []float64 { return w.ridden(e, d, x) })
		// Long periods part the lines, large amplitudes lift them out of the noise.
		if e.share = x; ok && w.amplitude(e, x)*seconds > w.amplitude(best, best.share)*best.seconds {
			best = e
		}
	}
	if best.lines == 0 {
		w.tooLong(motion.Multisine, part)
		return
	}
	w.add(motion.Multisine, part, w.ridden(best, d, best.share), w.excitationNotes(best)...)
}

// excitation is one period of a multisine with lines of amplitude 1 and less, and the
// amplitude (rad/s of the motor) wanted and allowed.
type excitation struct {
	one             []float64
	peak            float64 // of one
	lines           int
	wanted, allowed float64
	seconds         float64 // of one period
	share           float64 // of the most bias that fits
}

func (w *planner) excitation(seconds float64) excitation {
	if e, ok := w.excited[seconds]; ok {
		return e
	}
	b := w.b
	n := int(math.Round(seconds / b.period))
	lines := harmonics(0.1*b.freq[0], min(max(3*b.freq[1], driveBand), 0.2/b.period), float64(n)*b.period)
	e := excitation{lines: len(lines), seconds: seconds}
	level := make([]float64, len(lines))
	for i, k := range lines {
		// Above the resonance the drive's torque sets the limit: equal acceleration.
		level[i] = min(1, max(b.freq[1], driveBand/3)*float64(n)*b.period/float64(k))
	}
	e.one, e.peak = lowCrest(lines, level, n)
	samples := float64(wholePeriods * n)
	rod := b.noise * math.Sqrt(2/samples) * 2 * math.Pi * b.freq[1] / lineError
	slowest := min(b.PerTurn.Extend[0], b.PerTurn.Retract[0])
	e.wanted = max(rod/slowest, leastLine)
	e.allowed = b.stepSpeed() / max(e.peak, math.Sqrt2/(2*leastDamped))
	_, accel := peaks(e.one, b.period)
	e.allowed = min(e.allowed, b.quick/accel)
	w.excited[seconds] = e
	return e
}

// harmonics returns the lines between two frequencies (Hz) as multiples of 1/seconds.
func harmonics(low, high, seconds float64) []int {
	var lines []int
	for k := math.Max(1, math.Ceil(low*seconds)); k <= high*seconds; k = math.Max(k+1, math.Round(k*lineRatio)) {
		lines = append(lines, int(k))
	}
	return lines
}

// amplitude returns the amplitude of a line (rad/s) at a share of the most bias:
// what is wanted, unless pressure, drive or bias allow less.
func (w *planner) amplitude(e excitation, share float64) float64 {
	if e.lines == 0 {
		return 0
	}
	return min(e.wanted, e.allowed, share*mostBias*w.b.MaxSpeed/(biasRatio*e.peak))
}

// ridden returns the motor speed with the excitation on its bias, which is a share of the most.
func (w *planner) ridden(e excitation, d plant.Direction, share float64) []float64 {
	amplitude := w.amplitude(e, share)
	bias := d.Sign() * share * mostBias * w.b.MaxSpeed
	if w.b.oneSided {
		bias = w.b.holding
	}
	p := w.profile()
	p.hold(restTime)
	p.ramp(bias)
	n := len(e.one)
	fade := n / 2
	for i := -fade; i < (wholePeriods+1)*n+fade; i++ {
		// In and out along half a cosine, outside the whole periods.
		f := 1.0
		if i < 0 {
			f = (1 + math.Cos(math.Pi*float64(i)/float64(fade))) / 2
		} else if over := i - (wholePeriods+1)*n; over >= 0 {
			f = (1 + math.Cos(math.Pi*float64(over)/float64(fade))) / 2
		}
		p.speed = append(p.speed, bias+f*amplitude*e.one[(i+n)%n])
	}
	p.speed = append(p.speed, bias)
	return p.stop()
}

func (w *planner) excitationNotes(e excitation) []string {
	var notes []string
	if got := w.amplitude(e, e.share) / e.wanted; got < 0.5 {
		notes = append(notes, "at "+show(100*got, quantity.Number)+" % of the amplitude wanted (pressure, drive or stroke allow no more): the resonance may come out weak")
	}
	if w.b.oneSided && !w.b.closed {
		notes = append(notes, "played about a place, open loop, against the slip that the fit found: it drifts")
	}
	if w.b.closed {
		notes = append(notes, "the position loop passes on only what lies within its reach: log the speed command too")
	}
	return notes
}
