package trace

import (
	"fmt"
	"math"
	"slices"
	"strings"
)

// builder turns the table into a Reading.
type builder struct {
	*table
	*Reading
	opt      ReadOptions
	headings []heading
	used     []bool
	grid     *grid
}

func (b *builder) build(name string) error {
	b.name()
	tc, err := findTime(b.headings, b.table, b.opt)
	if tc.index < 0 && b.opt.Columns[Time].Header != NoColumn && newestFirst(b.headings, b.table) {
		for _, x := range b.cols {
			slices.Reverse(x[:b.rows])
		}
		b.Layout.NewestFirst = true
		tc, err = findTime(b.headings, b.table, b.opt)
	}
	if err != nil {
		return err
	}
	b.dropTrailer(0)
	b.used = make([]bool, len(b.cols))
	if tc.index >= 0 {
		b.used[tc.index] = true
		b.Guesses = append(b.Guesses, tc.guess)
		b.dropTrailer(tc.index)
		if err := b.checkText(tc.index, Time); err != nil {
			return err
		}
	}
	clocks := b.clocks(tc)
	columns, err := b.assign()
	if err != nil {
		return err
	}
	if len(columns) < 1 || tc.index < 0 && len(columns) < 2 {
		return b.tooFew()
	}
	if err := b.ownClocks(&tc, clocks, columns); err != nil {
		return err
	}
	if err := b.makeGrid(tc); err != nil {
		return err
	}
	return b.fill(name, columns)
}

// dropTrailer takes off the last rows, such as means and extremes, that hold a word
// where every row holds a number: in the column that orders them, or the first one.
func (b *builder) dropTrailer(column int) {
	const longest = 20 // rows
	first := b.text[column]
	if word := b.word[column]; first.Row == 0 || word.Row > 0 && word.Row < first.Row {
		first = word
	}
	if first.Row == 0 || b.Layout.NewestFirst || b.rows-first.at > longest || first.at < 2 || !emptyColumn(b.cols[column][first.at:b.rows]) {
		return
	}
	b.skipped += b.rows - first.at
	b.rows = first.at
	b.forget(first.Row, first.rejects)
	b.Rows, b.Layout.Skipped, b.Rejects, b.Rejected = b.rows, b.skipped, b.rejects, b.rejected
}

// name parts the headers.
func (b *builder) name() {
	b.headings = make([]heading, len(b.cols))
	for j := range b.cols {
		text := b.layout.Headers[j]
		if strings.TrimSpace(text) == "" {
			text = fmt.Sprintf("column %d", j+1)
		}
		b.headings[j] = parseHeading(text, b.layout.units[j])
	}
	numbered(b.headings)
	b.Layout.Headers = make([]string, len(b.cols))
	for j, h := range b.headings {
		b.Layout.Headers[j] = Printable(h.full)
	}
}

// makeGrid finds the clock of the log.
func (b *builder) makeGrid(tc timeColumn) error {
	if tc.index < 0 {
		b.grid = evenGrid(b.rows, b.opt.Period)
	} else {
		t := b.cols[tc.index][:b.rows]
		for i := range t {
			t[i] *= tc.scale
		}
		fault := b.tooCoarse(t, tc)
		switch {
		case fault == nil:
			b.grid = newGrid(t)
		case b.opt.Period > 0:
			b.grid = evenGrid(b.rows, b.opt.Period)
		default:
			return fault
		}
		if b.grid == nil {
			return &ReadError{Column: tc.guess.Column, Problem: "time does not advance", Advice: "check which column holds time"}
		}
		if step := medianStep(t); tc.index >= 0 && b.grid.Has && b.grid.Period > 3*step {
			return &ReadError{Column: tc.guess.Column, Problem: fmt.Sprintf("time leaps: rows are %.6g s apart as a rule and %.6g s on average", step, b.grid.Period),
				Advice: "check the time column, or split the log at its long breaks"}
		}
		b.grid.Index = tc.count
		if tc.count && math.Abs(b.grid.Period-b.opt.Period) < 0.01*b.opt.Period {
			b.grid.Period = b.opt.Period
		}
	}
	if limit := 20*b.rows + 1000; b.grid.n > limit {
		return &ReadError{Column: tc.guess.Column, Problem: fmt.Sprintf("only %d rows for %d sample periods of %.6g s", b.rows, b.grid.n, b.grid.Period),
			Advice: "check the time column, or split the log at its long breaks"}
	}
	return nil
}

// tooCoarse refuses stamps (s) that repeat because they are coarser than the period, and
// so few of them that they do not tell it.
func (b *builder) tooCoarse(t []float64, tc timeColumn) error {
	const fewest = 20 // different stamps, which tell the period to about 1 %
	low, high := extremes(t)
	step := medianStep(t)
	if tc.count || step*float64(len(t)-1) < 3*(high-low) || step*fewest < high-low {
		return nil
	}
	return &ReadError{Column: tc.guess.Column, Timeless: true,
		Problem: fmt.Sprintf("time stamps %.3g s apart over %.3g s do not tell the sample period of %d rows", step, high-low, len(t)),
		Advice:  "state it, such as --log-period 1ms, or export finer stamps"}
}

// fill conditions every channel and makes the trace.
func (b *builder) fill(name string, columns []taken) error {
	g := b.grid
	missing := g.missingSpans()
	samples := map[Channel][]float64{}
	var gaps []Span
	atStamps := false
	if g.at != nil && g.Jitter > 0.005*g.Period {
		g.StampsOnly = g.stampsOnly(b.cols[b.fastest(columns)][:b.rows])
		atStamps = !g.StampsOnly
	}
	done := make([]conditioned, len(columns))
	faults := make(chan any, len(columns))
	for i, t := range columns {
		go func() {
			defer func() { faults <- recover() }()
			done[i] = g.condition(b.cols[t.index][:b.rows], t, missing, atStamps)
		}()
	}
	for range columns { // a panic becomes the caller's, who can recover from it
		if fault := <-faults; fault != nil {
			panic(fault)
		}
	}
	for i, t := range columns {
		d := done[i]
		samples[t.channel] = d.samples
		gaps = append(gaps, d.gaps...)
		b.Spikes = append(b.Spikes, d.spikes...)
		b.Dropouts = append(b.Dropouts, d.dropouts...)
		if t.channel == MotorPosition {
			b.Wrap = d.wrap
		}
		note(b.Bridged, t.channel, d.bridged)
		note(b.Lost, t.channel, d.lost)
		note(b.Resolution, t.channel, d.quantum)
		if d.held > 0 {
			b.Held = append(b.Held, Held{t.channel, d.held})
		}
	}
	b.Clock = g.Clock
	var err error
	b.Trace, err = adopt(name, g.Period, g.start, samples, append(gaps, missing...))
	if err == nil {
		b.Trace.updates = map[Channel]float64{}
		for _, h := range b.Held {
			b.Trace.updates[h.Channel] = h.Period
		}
		b.FindZero(b.opt)
	}
	return err
}

// adopt is New for samples that no one else holds: it checks but does not copy them.
func adopt(name string, period, start float64, samples map[Channel][]float64, gaps []Span) (*Trace, error) {
	n := 0
	for _, c := range Channels() { // the first of them is named, in every run the same
		s, held := samples[c]
		if !held {
			continue
		}
		n = len(s)
		if allNumbers(s) {
			continue
		}
		for i, v := range s {
			if math.IsNaN(v) || math.IsInf(v, 0) {
				return nil, &ReadError{Column: c.Words(), Problem: fmt.Sprintf("sample %d has no value", i), Advice: "the column may be empty"}
			}
		}
	}
	merged, err := mergeGaps(gaps, n)
	if err != nil {
		return nil, err
	}
	return &Trace{name: name, period: period, start: start, n: n, samples: samples, gaps: merged}, nil
}

// note keeps a count or size that is not zero.
func note[V int | float64](m map[Channel]V, c Channel, v V) {
	if v > 0 {
		m[c] = v
	}
}

// measured reports whether the channel comes from a sensor, whose spikes are no motion.
func (c Channel) measured() bool {
	return c != SpeedCommand && c != PositionCommand && c != ForceCommand
}

// fastest returns the column of the channel whose motion shows timing best.
func (b *builder) fastest(columns []taken) int {
	for _, want := range []Channel{MotorPosition, RodPosition, MotorSpeed, CapPressure, RodPressure} {
		for _, t := range columns {
			if t.channel == want {
				return t.index
			}
		}
	}
	return columns[0].index
}
