package trace

import "math"

// A recorder that samples channels in several tasks writes a time column before each
// channel or group of channels: t1, x1, t2, x2 and so on.

// ownClocks reads the channels that have a time column of their own, one of clocks, at
// the stamps of one clock, the encoder's where there is one, else that with the most
// stamps: between samples along straight lines, a command as it was held.
func (b *builder) ownClocks(tc *timeColumn, clocks []int, columns []taken) error {
	if len(clocks) < 2 {
		return nil
	}
	main := b.mainClock(clocks, columns)
	b.useClock(tc, main)
	grid := append([]float64(nil), b.cols[main][:b.rows]...)
	for _, t := range columns {
		own := clockBefore(clocks, t.index)
		if own < 0 || own == main || same(b.cols[own][:b.rows], grid) {
			continue
		}
		if !rises(grid) || !rises(b.cols[own][:b.rows]) {
			return &ReadError{Column: Printable(b.headings[own].full), Problem: "holds other times than " + Printable(b.headings[main].full) + ", and time runs back",
				Advice: "export each recording by itself"}
		}
		x := b.cols[t.index][:b.rows]
		if t.channel == MotorPosition { // a line over a wrap would be wrong
			t.column.unwrap(x, nil)
		}
		copy(x, resampled(b.cols[own][:b.rows], x, grid, t.channel.measured()))
		b.noteClock(t.channel, own)
		if every := medianStep(b.cols[own][:b.rows]); every > 1.5*medianStep(grid) {
			b.Held = append(b.Held, Held{t.channel, every * tc.scale})
		}
	}
	for b.rows > 2 && math.IsNaN(b.cols[main][b.rows-1]) { // other clocks went on
		b.rows--
	}
	return nil
}

// clocks lists the columns that count the same time as the chosen one, none unless a
// column of something else follows each of them.
func (b *builder) clocks(tc timeColumn) []int {
	if tc.index < 0 || tc.count {
		return nil
	}
	var list []int
	for j := range b.headings {
		if j != tc.index && !b.sameKindOfTime(tc, j) {
			continue
		}
		if n := len(list); n > 0 && list[n-1] == j-1 || j == len(b.headings)-1 {
			return nil
		}
		list = append(list, j)
	}
	for _, j := range list {
		b.used[j] = true
	}
	return list
}

// sameKindOfTime reports whether column j holds time as the chosen column does, over
// mostly the same stretch: else it counts from another moment.
func (b *builder) sameKindOfTime(tc timeColumn, j int) bool {
	h, x := b.headings[j], b.cols[j][:b.rows]
	sure, _ := rateTime(h, b.table, j)
	if sure == 0 || b.layout.kinds[j] != b.layout.kinds[tc.index] || h.unit != b.headings[tc.index].unit || !meaningOf(h.name).any(isTime) {
		return false
	}
	if b.layout.kinds[j] == stampColumn {
		unrollMidnight(x)
		for i := range x {
			x[i] -= tc.zero
		}
	}
	low, high := extremes(b.cols[tc.index][:b.rows])
	ownLow, ownHigh := extremes(x)
	return math.Min(high, ownHigh)-math.Max(low, ownLow) > 0.5*(ownHigh-ownLow)
}

func extremes(x []float64) (low, high float64) {
	low, high = math.Inf(1), math.Inf(-1)
	for _, v := range x { // missing numbers compare as neither
		if v < low {
			low = v
		}
		if v > high {
			high = v
		}
	}
	return low, high
}

// rises reports whether no number is smaller than one before it.
func rises(x []float64) bool {
	last := math.Inf(-1)
	for _, v := range x {
		if v < last {
			return false
		}
		if v == v {
			last = v
		}
	}
	return true
}

func clockBefore(clocks []int, column int) int {
	own := -1
	for _, j := range clocks {
		if j < column {
			own = j
		}
	}
	return own
}

func (b *builder) mainClock(clocks []int, columns []taken) int {
	for _, t := range columns {
		if own := clockBefore(clocks, t.index); t.channel == MotorPosition && own >= 0 {
			return own
		}
	}
	main, most := clocks[0], 0
	for _, j := range clocks {
		stamps := 0
		for _, v := range b.cols[j][:b.rows] {
			if v == v {
				stamps++
			}
		}
		if stamps > most {
			main, most = j, stamps
		}
	}
	return main
}

// useClock makes another of the log's time columns the one that orders the rows.
func (b *builder) useClock(tc *timeColumn, main int) {
	for i := range b.Guesses {
		if g := &b.Guesses[i]; g.Channel == Time {
			g.Index, g.Column = main, Printable(b.headings[main].name)
		}
	}
	tc.index = main
}

func (b *builder) noteClock(c Channel, own int) {
	for i := range b.Guesses {
		if g := &b.Guesses[i]; g.Channel == c && !g.Asked {
			g.Why += "; at the times of its own column " + Printable(b.headings[own].name)
		}
	}
}

// resampled returns at the times of grid what x holds at its own times t; NaN beyond
// its ends and over breaks. With lines it is read along straight lines, else held.
func resampled(t, x, grid []float64, lines bool) []float64 {
	var times, values []float64
	for i, v := range t {
		if v == v && x[i] == x[i] && (len(times) == 0 || v > times[len(times)-1]) {
			times, values = append(times, v), append(values, x[i])
		}
	}
	longest := 2.5 * medianStep(times)
	y := make([]float64, len(grid))
	k := 0
	for i, v := range grid {
		y[i] = math.NaN()
		for k+1 < len(times) && times[k+1] <= v {
			k++
		}
		switch {
		case len(times) == 0 || !(v >= times[0]):
		case times[k] == v:
			y[i] = values[k]
		case k+1 == len(times) || times[k+1]-times[k] > longest:
		case lines:
			u := (v - times[k]) / (times[k+1] - times[k])
			y[i] = values[k] + u*(values[k+1]-values[k])
		default:
			y[i] = values[k]
		}
	}
	return y
}
