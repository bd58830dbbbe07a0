package compare

import (
	"fmt"
	"math"
	"sort"
)

// Verdict is what a report says of a difference. The zero value says nothing.
type Verdict int

// The verdicts.
const (
	TooFew       Verdict = iota // the repeats cannot tell
	NoDifference                // shown to be smaller than the useful size
	Better
	Worse
)

// String returns the verdict as the JSON results spell it.
func (v Verdict) String() string {
	return [...]string{"too few", "no difference", "better", "worse"}[v]
}

// Difference is a figure of one move, before and after, in SI units.
type Difference struct {
	Figure                Figure
	Before, After         float64 // means over the repeats
	BeforeCount           int     // repeats that hold the figure
	AfterCount            int
	Difference, Low, High float64 // after less before and its own 95 % interval; infinite with one repeat
	Useful                float64 // size that a difference must exceed
	Verdict               Verdict
	Why                   string // where the verdict needs a word

	differs, within float64 // p of "no difference at all" and of "a useful difference"
	wanted          int     // repeats on each side that would tell, as these scatter
}

// difference returns a figure's difference, false where a side does not hold it at all.
func difference(f Figure, read [2][]readings) (Difference, bool) {
	var sides [2]sample
	for side, list := range read {
		var values, doubts []float64
		for _, r := range list {
			if r[f].ok {
				values, doubts = append(values, r[f].value), append(doubts, r[f].doubt)
			}
		}
		sides[side] = sampleOf(values, doubts)
	}
	before, after := sides[0], sides[1]
	if before.n == 0 || after.n == 0 {
		return unheld(f, before, after, len(read[0]), len(read[1]))
	}
	d := Difference{Figure: f, Before: before.mean, After: after.mean, BeforeCount: before.n, AfterCount: after.n,
		Difference: after.mean - before.mean, Low: math.Inf(-1), High: math.Inf(1),
		Useful: f.useful(before.mean, after.mean), differs: 1, within: 1}
	if before.n < 2 || after.n < 2 {
		d.Why = "one repeat shows no scatter"
		return d, true
	}
	size, sigma, freedom := welch(before, after)
	half := reach(freedom) * sigma
	d.Low, d.High = size-half, size+half
	if sigma > 0 {
		d.differs = 2 * tail(math.Abs(size)/sigma, freedom)
		d.within = tail((d.Useful-math.Abs(size))/sigma, freedom)
		d.wanted = wanted(before.n, after.n, sigma, math.Max(math.Abs(size), d.Useful-math.Abs(size)))
	} else if size == 0 {
		d.within = 0
	} else {
		d.differs = 0
	}
	if d.BeforeCount < len(read[0]) || d.AfterCount < len(read[1]) {
		// What did not get there is not in the means, so they may not be held against each other.
		d.differs, d.within = 1, 1
		d.Why = fmt.Sprintf("reached in %d of %d repeats before and %d of %d after", d.BeforeCount, len(read[0]), d.AfterCount, len(read[1]))
	}
	return d, true
}

// wanted returns about how many repeats a side bring the standard error of a
// difference to a quarter of the size to be told, from what so many gave.
func wanted(before, after int, sigma, size float64) int {
	const fewest, most = 4, 999
	each := 2 / (1/float64(before) + 1/float64(after))
	ratio := 4 * sigma / size
	return int(math.Min(math.Max(math.Ceil(each*ratio*ratio), math.Max(fewest, math.Ceil(each)+1)), most))
}

// unheld is a figure that one side never reaches, such as a settling time.
func unheld(f Figure, before, after sample, repeatsBefore, repeatsAfter int) (Difference, bool) {
	if before.n+after.n == 0 || f != Settling && f != Rise {
		return Difference{}, false
	}
	nan := math.NaN()
	d := Difference{Figure: f, Before: nan, After: nan, BeforeCount: before.n, AfterCount: after.n,
		Difference: nan, Low: nan, High: nan, Useful: f.useful(0, 0), differs: 1, within: 1}
	side, repeats := "before", repeatsBefore
	if before.n > 0 {
		d.Before, side, repeats = before.mean, "after", repeatsAfter
	} else {
		d.After = after.mean
	}
	d.Why = fmt.Sprintf("never reached in the time compared %s (%d repeats)", side, repeats)
	return d, true
}

// judgeMoves gives every difference its verdict, all of them jointly at the risk.
// Each figure has two hypotheses to be rejected: that nothing differs, and that the
// difference is useful.
func judgeMoves(moves []Move, risk float64) {
	var p []float64
	var of []*Difference
	for i := range moves {
		for k := range moves[i].Figures {
			d := &moves[i].Figures[k]
			of = append(of, d)
			p = append(p, d.differs, d.within)
		}
	}
	rejected := holm(p, risk)
	for i, d := range of {
		switch {
		case rejected[2*i] && math.Abs(d.Difference) > d.Useful && d.Difference < 0:
			d.Verdict = Better
		case rejected[2*i] && math.Abs(d.Difference) > d.Useful:
			d.Verdict = Worse
		case rejected[2*i+1]:
			d.Verdict = NoDifference
		default:
			d.Verdict = TooFew
			if d.Why == "" {
				d.Why = fmt.Sprintf("about %d repeats each would tell", d.wanted)
			}
		}
	}
}

func median(v []float64) float64 {
	sorted := append([]float64(nil), v...)
	sort.Float64s(sorted)
	n := len(sorted)
	return (sorted[(n-1)/2] + sorted[n/2]) / 2
}
