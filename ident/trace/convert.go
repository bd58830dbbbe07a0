package trace

import (
	"math"
	"strings"

	"eha/strokewise/ident/quantity"
)

// matchHeader returns the column that a stated header means, or -1: the name less
// unit, else the whole header, first as written, then with case and signs levelled.
func matchHeader(headings []heading, want string) int {
	want = strings.TrimSpace(want)
	for _, equal := range []func(h heading) bool{
		func(h heading) bool { return h.full == want || h.name == want },
		func(h heading) bool { return Printable(h.full) == want || Printable(h.name) == want },
		func(h heading) bool { return strings.EqualFold(h.full, want) || strings.EqualFold(h.name, want) },
		func(h heading) bool {
			return normalName(h.full) == normalName(want) || normalName(h.name) == normalName(want)
		},
	} {
		for j, h := range headings {
			if equal(h) {
				return j
			}
		}
	}
	return -1
}

// convert turns a column's numbers into SI in place, by what is stated, and reports
// whether all are finite numbers then.
func convert(x []float64, c Channel, col Column) (finite bool) {
	scale, zero := 1.0, 0.0
	u, _ := quantity.Lookup(col.Unit)
	if own, ok := quantity.LookupAs(col.Unit, c.Dimension()); ok {
		u = own
	}
	absolute := col.Absolute && !u.Absolute()
	switch {
	case col.From != col.To:
		scale = (col.To[1] - col.To[0]) / (col.From[1] - col.From[0])
		zero = col.To[0] - scale*col.From[0]
	case u.Dimension == quantity.Percent && c.Dimension() != quantity.Percent:
		scale = col.FullScale / 100
	case u.Dimension == quantity.Counts:
		scale = 2 * math.Pi / col.CountsPerRev
	default:
		scale, zero = u.Factor, u.Zero
	}
	if absolute {
		zero -= quantity.StandardAtmosphere
	}
	if col.Sign < 0 {
		scale, zero = -scale, -zero
	}
	zero += col.Offset
	var odd uint64
	for i, v := range x {
		v = v*scale + zero
		x[i] = v
		odd |= math.Float64bits(v - v)
	}
	return odd == 0
}

// unwrap makes a wrapping encoder count on, in place; missing numbers are passed
// over. modulus 0 looks for it among the powers of two and whole turns (one turn
// in the column's unit is turn). at places the rows on the clock, nil for one by
// one. It returns how often the encoder wrapped, and the modulus.
func unwrap(x []float64, at []int32, modulus, turn float64) (wraps int, used float64) {
	if modulus == 0 {
		modulus = findModulus(x, turn)
	}
	if modulus == 0 {
		return 0, 0
	}
	last, add, rate := math.NaN(), 0.0, 0.0
	lastAt := int32(0)
	for i, v := range x {
		here := int32(i)
		if at != nil {
			here = at[i]
		}
		if math.IsNaN(v) || here < 0 {
			continue
		}
		since := float64(here - lastAt)
		if !math.IsNaN(last) {
			// Over missing samples the encoder is taken to have gone on at its last rate.
			expected := last + rate*(since-1)
			turns := math.Round((expected - v - add) / modulus)
			if turns != 0 {
				add += turns * modulus
				wraps += int(math.Abs(turns))
			}
			rate += 0.3 * ((v+add-last)/since - rate)
		}
		last, lastAt = v+add, here
		x[i] = last
	}
	if wraps == 0 {
		return 0, 0
	}
	return wraps, modulus
}

// unwrap makes a motor position that wraps count on, in the column's own unit; at
// places the rows on the clock.
func (col Column) unwrap(x []float64, at []int32) Wrap {
	turn := col.CountsPerRev
	if turn == 0 {
		turn = 2 * math.Pi / unitFactor(MotorPosition, col.Unit)
	}
	count, modulus := unwrap(x, at, col.Wrap, turn)
	return Wrap{Count: count, Modulus: modulus, Stated: col.Wrap > 0}
}

// findModulus returns the counts after which an encoder starts again, 0 where it
// never does: there are jumps of over half the range between steps that are far
// smaller, and a power of two or a whole turn fits them.
func findModulus(x []float64, turn float64) float64 {
	low, high := extremes(x)
	span, previous, before := high-low, math.NaN(), math.NaN()
	if !(span > 0) {
		return 0
	}
	var jumps []float64
	for i, v := range x {
		if math.IsNaN(v) {
			continue
		}
		if d := v - previous; math.Abs(d) > span/2 && i > 1 {
			// What the encoder would have gone on by is the step before the jump.
			step := 0.0
			if !math.IsNaN(before) {
				step = previous - before
			}
			jumps = append(jumps, math.Abs(d-step))
		}
		before, previous = previous, v
	}
	// An encoder that makes nearly half its range between rows jumps at nearly every second.
	if len(jumps) == 0 || len(jumps) > len(x)/2 {
		return 0
	}
	jump := median(jumps)
	for _, m := range []float64{turn, 360, 1} {
		if m > 0 && math.Abs(jump-m) < 0.02*m && span <= m*1.001 {
			return m
		}
	}
	for bits := 4; bits <= 48; bits++ {
		m := math.Ldexp(1, bits)
		if math.Abs(jump-m) < 0.02*m && span <= m {
			return m
		}
	}
	return 0
}

func sameUnit(a, b string) bool {
	x, okX := quantity.Lookup(a)
	y, okY := quantity.Lookup(b)
	return okX && okY && x == y
}

func unitFactor(c Channel, unit string) float64 {
	if u, ok := quantity.LookupAs(unit, c.Dimension()); ok {
		return u.Factor
	}
	return 1
}

func exampleUnit(c Channel) string { return quantity.Display(c.Dimension(), quantity.Metric).Symbol }
