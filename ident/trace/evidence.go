package trace

import (
	"math"
	"slices"
)

// evidence rates again, by the data, guesses that the header alone leaves in
// doubt: a rod position follows the encoder, encoder counts are whole numbers. motor is
// the encoder's column, -1 for none, encoderColumn what is known of it.
func evidence(list []Guess, t *table, motor int, encoderColumn Column) {
	for k := range list {
		g := &list[k]
		if g.Sure >= ownName {
			continue
		}
		x := t.cols[g.Index][:t.rows]
		switch g.Channel {
		case RodPosition:
			if motor < 0 || motor == g.Index {
				continue
			}
			encoder := slices.Clone(t.cols[motor][:t.rows])
			encoderColumn.unwrap(encoder, nil)
			switch r, ok := follows(x, encoder); {
			case !ok:
			case math.Abs(r) > 0.9 && g.Sure > askedFor:
				g.Sure += 0.6 * (1 - g.Sure)
				g.Why += ", follows the encoder"
			case math.Abs(r) < 0.5:
				g.Sure *= 0.6
				g.Why += ", does not follow the encoder"
			}
		case MotorPosition:
			if wholeNumbers(x) {
				g.Why += ", whole numbers as of counts"
			}
		}
	}
	slices.SortStableFunc(list, func(a, b Guess) int {
		switch {
		case a.Sure > b.Sure:
			return -1
		case a.Sure < b.Sure:
			return 1
		}
		return 0
	})
}

// follows returns the correlation of the changes of two columns, and whether both
// move enough to tell.
func follows(x, y []float64) (r float64, ok bool) {
	const fewest = 20
	stride := max(1, len(x)/2000)
	var n, sx, sy, sxx, syy, sxy float64
	for i := stride; i < len(x); i += stride {
		a, b := x[i]-x[i-stride], y[i]-y[i-stride]
		if a == a && b == b {
			n, sx, sy = n+1, sx+a, sy+b
			sxx, syy, sxy = sxx+a*a, syy+b*b, sxy+a*b
		}
	}
	if n < fewest {
		return 0, false
	}
	vx, vy := sxx-sx*sx/n, syy-sy*sy/n
	if !(vx > 0) || !(vy > 0) {
		return 0, false
	}
	return (sxy - sx*sy/n) / math.Sqrt(vx*vy), true
}

// wholeNumbers reports whether a column holds large whole numbers only.
func wholeNumbers(x []float64) bool {
	largest := 0.0
	for _, v := range x {
		if v != math.Trunc(v) && v == v {
			return false
		}
		if a := math.Abs(v); a > largest {
			largest = a
		}
	}
	return largest > 100
}
