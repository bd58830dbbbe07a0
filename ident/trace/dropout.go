package trace

import (
	"math"
	"slices"
)

// A sensor that loses contact jumps to some level, stays there and jumps back. Between
// two such jumps of opposite sign no more than longestDropout (s) may lie, and they must stand out
// of the channel's own: dropoutJump times the change between neighbours that one in a thousand
// exceeds, and a share of the usual range. At that level the reading varies by no more than
// dropoutFlat of the jump.
const (
	longestDropout = 1.0
	dropoutJump    = 8.0
	dropoutShare   = 0.08
	dropoutFlat    = 0.2
	// mostDropouts is the share of a channel beyond which the jumps are its way of working.
	mostDropouts = 0.1
)

// canDropOut reports whether a jump to a level and back is no motion of the channel's own; a
// current and a command jump by themselves.
func (c Channel) canDropOut() bool {
	switch c {
	case RodPosition, MotorPosition, CapPressure, RodPressure, Force:
		return true
	}
	return false
}

// dropOut bridges stretches in which a sensor's signal was lost, in place, and returns them.
func dropOut(x []float64, c Channel, period float64, timeAt func(int) float64) (lost []Dropout, gaps []Span) {
	low, high := usualRange(x)
	limit := math.Max(dropoutJump*usualJump(x), dropoutShare*(high-low))
	if !c.canDropOut() || !(limit > 0) {
		return nil, nil
	}
	longest := int(longestDropout / period)
	total, alone := 0, 0
	for i := 1; i < len(x); i++ {
		if math.Abs(x[i]-x[i-1]) < limit {
			continue
		}
		if end := returns(x, i, min(len(x), i+longest), limit); end > 0 {
			gaps = append(gaps, Span{i, end})
			total += end - i
			i = end
		} else {
			alone++
		}
	}
	// An encoder that starts again does so wherever the motor turns back as well.
	if float64(total) > mostDropouts*float64(len(x)) || c == MotorPosition && alone > 0 {
		return nil, nil
	}
	for _, s := range gaps {
		lost = append(lost, Dropout{c, timeAt(s.From), timeAt(s.To - 1), x[(s.From+s.To)/2]})
		fill(x, s.From, s.To)
	}
	return lost, gaps
}

// returns finds where x, which jumped at from and stands still since, jumps back; 0 if it does not.
func returns(x []float64, from, to int, limit float64) int {
	jump := x[from] - x[from-1]
	low, high := x[from], x[from]
	for j := from + 1; j < to; j++ {
		back := x[j] - x[j-1]
		if math.Abs(back) < limit {
			low, high = math.Min(low, x[j]), math.Max(high, x[j])
			continue
		}
		if back*jump < 0 && math.Abs(back+jump) < 0.5*math.Abs(jump) && high-low < dropoutFlat*math.Abs(jump) {
			return j
		}
		return 0
	}
	return 0
}

// usualJump is the change between neighbours that one in a thousand exceeds, from a sample.
func usualJump(x []float64) float64 {
	var d []float64
	for i := 1; i < len(x); i += max(1, len(x)/50000) {
		d = append(d, math.Abs(x[i]-x[i-1]))
	}
	slices.Sort(d)
	return d[len(d)-1-len(d)/1000]
}
