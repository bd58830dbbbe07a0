package trace

import (
	"math"
)

const (
	stopBlock   = 0.02   // s, over which positions are averaged in the search for end stops
	stopNear    = 0.1e-3 // m, within which the rod counts as standing at the stop
	stopPush    = 3e-3   // m, that the rod would have gone on by while it stands there
	stopDoubt   = 1.5e-3 // m, between the stops' distance and the stroke of the nameplate
	stopDoubtOf = 0.005  // the same as a share of the stroke
)

// zeroFromStops returns what to add to the rod position so that fully retracted
// reads zero, and whether the log shows it: the rod was driven against a stop at
// either end of its travel, and the stops lie a stroke (m) apart. One end alone is
// no proof, since it may be a work piece.
func zeroFromStops(t *Trace, stroke float64) (shift float64, ok bool) {
	if !(stroke > 0) || !t.Has(RodPosition, MotorPosition) {
		return 0, false
	}
	b := makeBlocks(t)
	if len(b.rod) < 10 || !(b.ratio > 0) {
		return 0, false
	}
	low, high := math.Inf(1), math.Inf(-1)
	for _, x := range b.rod {
		low, high = math.Min(low, x), math.Max(high, x)
	}
	if math.Abs(high-low-stroke) > math.Max(stopDoubt, stopDoubtOf*stroke) {
		return 0, false
	}
	if !b.pushed(low, -1) || !b.pushed(high, 1) {
		return 0, false
	}
	return -low, true
}

// blocks holds a log's rod position and drive in means over stopBlock.
type blocks struct {
	rod   []float64 // m
	drive []float64 // rad, by which the motor turned, or was commanded to, from block to block, whichever is more
	ratio float64   // m/rad, mean travel per angle
}

func makeBlocks(t *Trace) blocks {
	rod, _ := t.Samples(RodPosition)
	motor, _ := t.Samples(MotorPosition)
	command, hasCommand := t.Samples(SpeedCommand)
	size := max(1, int(math.Round(stopBlock/t.Period())))
	var b blocks
	var turned, sxy, syy float64
	for from := 0; from+size <= len(rod); from += size {
		b.rod = append(b.rod, mean(rod[from:from+size]))
		theta := mean(motor[from : from+size])
		d := 0.0
		if n := len(b.rod); n > 1 {
			d = theta - turned
			sxy += d * (b.rod[n-1] - b.rod[n-2])
			syy += d * d
		}
		turned = theta
		if hasCommand {
			if c := mean(command[from:from+size]) * float64(size) * t.Period(); math.Abs(c) > math.Abs(d) {
				d = c
			}
		}
		b.drive = append(b.drive, d)
	}
	if syy > 0 {
		b.ratio = sxy / syy
	}
	return b
}

// pushed reports whether the rod once stood at the position while the drive would
// have moved it on in that direction by stopPush.
func (b blocks) pushed(at, direction float64) bool {
	would := 0.0
	for i, x := range b.rod {
		if math.Abs(x-at) > stopNear {
			would = 0
			continue
		}
		would = math.Max(0, would+direction*b.drive[i]*b.ratio)
		if would > stopPush {
			return true
		}
	}
	return false
}

func mean(x []float64) float64 {
	sum := 0.0
	for _, v := range x {
		sum += v
	}
	return sum / float64(len(x))
}

// zeroNear (m) is how far from zero the end stop may read without being wrong:
// stops give, and mounting is good to a millimetre or two.
const zeroNear = 2e-3

// FindZero takes the rod position's zero from the end stops, where nothing is stated and
// the log reaches both of them. Read does so by itself; a joined reading may show the
// stops that neither of its recordings did.
func (r *Reading) FindZero(opt ReadOptions) {
	if opt.Columns[RodPosition].Offset != 0 || r.ZeroShift != 0 {
		return
	}
	if shift, ok := zeroFromStops(r.Trace, opt.Stroke); ok && math.Abs(shift) >= zeroNear {
		r.shiftZero(shift, opt)
	}
}

func (r *Reading) shiftZero(shift float64, opt ReadOptions) {
	r.ZeroShift = shift
	for _, c := range []Channel{RodPosition, PositionCommand} {
		if opt.Columns[c].Offset != 0 {
			continue
		}
		x := r.Trace.samples[c]
		for i := range x {
			x[i] += shift
		}
	}
}

// ShareZero gives the zero that the end stops show in some logs of one machine to those of
// the same column that do not reach both stops. It leaves all as they are where the logs
// that show a zero disagree, and a log that would leave the stroke by it.
func ShareZero(readings []*Reading, opt ReadOptions) {
	var from *Reading
	for _, r := range readings {
		switch {
		case r.ZeroShift == 0:
		case from == nil:
			from = r
		case math.Abs(r.ZeroShift-from.ZeroShift) > zeroNear:
			return
		}
	}
	if from == nil {
		return
	}
	for _, r := range readings {
		x, ok := r.Trace.Samples(RodPosition)
		if !ok || r.ZeroShift != 0 || r.rodColumn() != from.rodColumn() {
			continue
		}
		if low, high := usualRange(x); low+from.ZeroShift > -zeroNear && high+from.ZeroShift < opt.Stroke+zeroNear {
			r.shiftZero(from.ZeroShift, opt)
			r.ZeroFrom = from.Trace.Name()
		}
	}
}

// rodColumn is the header and unit that the rod position was read from.
func (r *Reading) rodColumn() [2]string {
	for _, g := range r.Guesses {
		if g.Channel == RodPosition && !g.Asked {
			return [2]string{g.Column, g.Unit}
		}
	}
	return [2]string{}
}
