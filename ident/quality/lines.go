package quality

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"eha/strokewise/ident/motion"
	"eha/strokewise/ident/trace"
)

// Lines in the spectra of measured channels. A line that follows the motor's turning is the
// pump's or the motor's, at so many periods a turn (its order); one that stays at a
// frequency whatever the motor does comes from outside.
const (
	linePiece  = 0.5 // s, of a piece of log that is judged alone: lines 4 Hz apart are told
	mostOrder  = 60
	leastPiece = 5   // pieces, below which nothing is said
	lineShare  = 0.4 // of the pieces in which a line must stand out threefold
	mostPieces = 40
	lowestLine = 8.0 // Hz, below which the machine's own motion lies
	nyquist    = 0.4 // share of the sampling rate up to which lines are looked for
)

// piece is a stretch of log in which a line is looked for.
type piece struct {
	span trace.Span
	rate float64 // rad/s, of the motor
}

// orderLine is a line that follows the motor: periods a turn and median amplitude (Pa).
type orderLine struct {
	order     int
	amplitude float64
}

// worthRipple (Pa) is an amplitude beyond that of usual pressure noise.
const worthRipple = 0.3e5

// lineTest gathers what the pieces say of one line.
type lineTest struct {
	count, clear int
	evidence     float64   // sum of -ln p, each of mean one where there is no line
	amplitude    []float64 // of the line in each piece
	rates        []float64
	stands       []bool // whether it stands out in each
}

// add takes in the power of a line and the mean power of four places beside it. Without a line
// their ratio r follows Fisher's F with 2 and 8 degrees of freedom, P(>r) = (1+r/4)^-4.
func (l *lineTest) add(power, beside, rate float64) {
	if beside <= 0 {
		return
	}
	r := power / beside
	l.count++
	if r > 3 {
		l.clear++
	}
	l.stands = append(l.stands, r > 3)
	l.evidence += 4 * math.Log1p(r/4)
	l.amplitude = append(l.amplitude, math.Sqrt(math.Max(power-beside, 0)))
	l.rates = append(l.rates, rate)
}

// found asks for a chance of some e^-20 and less, after all orders and channels, and for
// most pieces to show the line: one loud piece is no line. The sum of n pieces spreads by √n.
func (l *lineTest) found() bool {
	n := float64(l.count)
	return l.count >= leastPiece && l.evidence > n+6*math.Sqrt(n)+20 && float64(l.clear) > lineShare*n
}

// twoSpeeds reports whether the line stands out among the slower and among the faster
// pieces, over a range of speeds of 1.5 at least: only then can an order be told from a frequency.
func (l *lineTest) twoSpeeds() bool {
	low, high := extremes(l.rates)
	var all, clear [2]int
	for i, r := range l.rates {
		k := 0
		if r*r > low*high {
			k = 1
		}
		all[k]++
		if l.stands[i] {
			clear[k]++
		}
	}
	enough := func(k int) bool { return all[k] >= 2 && float64(clear[k]) > lineShare*float64(all[k]) }
	return high > 1.5*low && enough(0) && enough(1)
}

// lines reports pump ripple and lines from outside in the pressures and the rod position.
func (v *view) lines() []Finding {
	if v.t.Period()*lowestLine > nyquist {
		return nil // a log this slow shows none
	}
	var found []Finding
	for _, c := range []trace.Channel{trace.CapPressure, trace.RodPressure, trace.RodPosition} {
		y, ok := v.samples(c)
		if !ok {
			continue
		}
		if c != trace.RodPosition { // the rod is too heavy to show teeth
			if f, ok := v.ripple(c, y); ok {
				found = append(found, f)
			}
		}
		if f, ok := v.hum(c, y); ok {
			found = append(found, f)
		}
	}
	return found
}

// ripple looks for the strongest order in steady travel.
func (v *view) ripple(c trace.Channel, y []float64) (Finding, bool) {
	theta, ok := v.samples(trace.MotorPosition)
	if !ok {
		return Finding{}, false
	}
	size := int(linePiece / v.t.Period())
	pieces := v.turningPieces(theta, size)
	w := newLineWindow(size)
	var tests [mostOrder + 1]lineTest
	turn, at := make([]complex128, size), make([]complex128, size)
	for _, p := range pieces {
		w.load(y[p.span.From:p.span.To])
		for i := range turn {
			sin, cos := math.Sincos(theta[p.span.From+i])
			turn[i], at[i] = complex(cos, sin), 1
		}
		for o := 1; o <= mostOrder; o++ {
			for i := range at {
				at[i] *= turn[i] // e^(j·o·θ) from that of the order before
			}
			if hz := float64(o) * p.rate / (2 * math.Pi); hz >= lowestLine && hz <= nyquist/v.t.Period() {
				power, beside := w.around(at)
				tests[o].add(power, beside, p.rate)
			}
		}
	}
	best, order := lineTest{}, 0
	for o, l := range tests {
		if l.found() && l.twoSpeeds() && l.evidence/float64(l.count) > best.evidence/math.Max(float64(best.count), 1) {
			best, order = l, o
		}
	}
	if order == 0 {
		return Finding{}, false
	}
	amplitude := median(best.amplitude)
	v.orders[c] = orderLine{order, amplitude}
	if amplitude < worthRipple {
		return Finding{}, false // every pump has some: it stands with the channel
	}
	low, high := extremes(best.rates)
	return v.finding(Ripple, Note, c, nil,
		fmt.Sprintf("%s carries a line that follows the motor, at %d periods a turn (order %d), of %s at the median, seen at %.3g to %.3g rev/s: the pump's teeth as a rule.",
			c.Words(), order, order, inUnit(c, amplitude), low/(2*math.Pi), high/(2*math.Pi)),
		"Nothing to do; it is no oscillation of a loop. A filter against it belongs above the loop's own frequencies."), true
}

// turningPieces are those of one direction of turning, without periodic excitation, spread
// evenly over the speeds. The speed need not be steady: a line is looked for along the angle.
func (v *view) turningPieces(theta []float64, size int) []piece {
	var pieces []piece
	for _, part := range motion.Stretches(v.t, size) {
		for from := part.From; from+size < part.To; from += size {
			turned := theta[from+size] - theta[from]
			rate := math.Abs(turned) / linePiece
			ok := rate > 0.02*v.motion.TopSpeed && !v.excited(trace.Span{From: from, To: from + size})
			for q := 0; q < 8 && ok; q++ {
				d := theta[from+(q+1)*size/8] - theta[from+q*size/8]
				ok = d*turned > 0 && math.Abs(d) > math.Abs(turned)/24
			}
			if ok {
				pieces = append(pieces, piece{trace.Span{From: from, To: from + size}, rate})
			}
		}
	}
	slices.SortFunc(pieces, func(a, b piece) int { return cmp.Compare(a.rate, b.rate) })
	return thinned(pieces)
}

// hum looks for lines that stay where they are in the whole of the log but periodic excitation.
func (v *view) hum(c trace.Channel, y []float64) (Finding, bool) {
	var pieces []piece
	size := int(linePiece / v.t.Period())
	for _, part := range motion.Stretches(v.t, size) {
		for from := part.From; from+size <= part.To; from += size {
			if span := (trace.Span{From: from, To: from + size}); !v.excited(span) {
				pieces = append(pieces, piece{span, 1})
			}
		}
	}
	pieces = thinned(pieces)
	w, at := newLineWindow(size), make([]complex128, size)
	best, bestHz := lineTest{}, 0.0
	for _, hz := range v.fixedLines() {
		var l lineTest
		for i := range at {
			sin, cos := math.Sincos(2 * math.Pi * hz * float64(i) * v.t.Period())
			at[i] = complex(cos, sin)
		}
		for _, p := range pieces {
			w.load(y[p.span.From:p.span.To])
			power, beside := w.around(at)
			l.add(power, beside, hz)
		}
		if l.found() && median(l.amplitude) > 0.2*noiseLimits[c] && l.evidence > best.evidence {
			best, bestHz = l, hz
		}
	}
	if bestHz == 0 {
		return Finding{}, false
	}
	of := fmt.Sprintf("hum at %.0f Hz, as from the mains", bestHz)
	if bestHz > highestMains {
		of = fmt.Sprintf("a line at %.0f Hz", bestHz)
	}
	return v.finding(Noisy, Note, c, v.affectedBy(c),
		fmt.Sprintf("%s carries %s, of %s throughout, whatever the motor does.", c.Words(), of, inUnit(c, median(best.amplitude))),
		"Check earth and screen, and the supply of the sensor."), true
}

const highestMains = 121.0 // Hz, the double of a mains frequency with a little

// fixedLines are the frequencies (Hz) at which lines from outside are looked for: those of
// mains and their doubles, and all above. Below, a line may be the machine's or the loop's own swinging.
func (v *view) fixedLines() []float64 {
	top := nyquist / v.t.Period()
	var all []float64
	for _, hz := range []float64{50, 60, 100, 120} {
		if hz < top {
			all = append(all, hz)
		}
	}
	for hz := highestMains + 1/linePiece; hz < top; hz += 1 / linePiece {
		all = append(all, hz)
	}
	return all
}

func (v *view) excited(s trace.Span) bool {
	for _, p := range v.motion.Periodic {
		if s.From < p.Extent.To && s.To > p.Extent.From {
			return true
		}
	}
	return false
}

// thinned keeps mostPieces, spread evenly.
func thinned(pieces []piece) []piece {
	if len(pieces) <= mostPieces {
		return pieces
	}
	kept := make([]piece, mostPieces)
	for i := range kept {
		kept[i] = pieces[i*len(pieces)/mostPieces]
	}
	return kept
}

// lineWindow looks for lines in pieces of one length.
type lineWindow struct {
	hann   []float64
	beside [4][]complex128 // turns by 3 and 4.5 lines to either side
	y      []float64       // the piece less its straight line, windowed
}

func newLineWindow(n int) *lineWindow {
	w := &lineWindow{hann: make([]float64, n), y: make([]float64, n)}
	step := 2 * math.Pi / float64(n)
	for i := range w.hann {
		w.hann[i] = (1 - math.Cos(step*(float64(i)+0.5))) * 2 / float64(n)
	}
	for k, lines := range [...]float64{-4.5, -3, 3, 4.5} {
		w.beside[k] = make([]complex128, n)
		for i := range w.beside[k] {
			sin, cos := math.Sincos(lines * step * float64(i))
			w.beside[k][i] = complex(cos, sin)
		}
	}
	return w
}

func (w *lineWindow) load(y []float64) {
	offset, slope := straight(y)
	for i := range w.y {
		w.y[i] = w.hann[i] * (y[i] - offset - slope*float64(i))
	}
}

// around returns the power (amplitude squared) of the piece along the phasors at, and the mean
// of that at 3 and 4.5 lines to either side; a Hann-windowed line spreads over two each side.
func (w *lineWindow) around(at []complex128) (power, beside float64) {
	var sum complex128
	var sides [4]complex128
	for i, y := range w.y {
		z := at[i] * complex(y, 0)
		sum += z
		for k := range sides {
			sides[k] += z * w.beside[k][i]
		}
	}
	for _, z := range sides {
		beside += (real(z)*real(z) + imag(z)*imag(z)) / 4
	}
	return real(sum)*real(sum) + imag(sum)*imag(sum), beside
}

// straight returns the line through y by least squares: its value at the first sample
// and its slope per sample.
func straight(y []float64) (offset, slope float64) {
	mid := float64(len(y)-1) / 2
	m := mean(y)
	var xy, xx float64
	for i, s := range y {
		x := float64(i) - mid
		xy += x * (s - m)
		xx += x * x
	}
	if xx > 0 {
		slope = xy / xx
	}
	return m - slope*mid, slope
}
