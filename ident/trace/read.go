package trace

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"math"
	"sort"
	"strings"
	"sync"
)

// Read reads a log named name (a base name as a rule; messages carry it) and
// returns it as a checked, uniform Trace together with what was found on the way.
//
// Stamps that jitter are set on the uniform period; missing rows and long runs of
// missing values become gaps; runs of at most three missing samples and spikes of
// at most three samples are bridged and reported; a wrapping encoder counts on.
//
// Read returns a *ReadError if the log cannot be used: no rows of numbers, text in
// a number column that a channel is read from, fewer than two channels, no time
// and no stated period, a unit that does not suit its channel. It returns
// ctx.Err() if ctx ends first, and the reader's error if that fails. It reads r to
// its end and does not close it.
func Read(ctx context.Context, r io.Reader, name string, opt ReadOptions) (*Reading, error) {
	reading, err := read(ctx, r, Printable(name), opt)
	var fault *ReadError
	if errors.As(err, &fault) {
		named := *fault
		named.File = Printable(name)
		return nil, &named
	}
	if err != nil {
		return nil, fmt.Errorf("trace: %s: %w", Printable(name), err)
	}
	return reading, nil
}

func read(ctx context.Context, r io.Reader, name string, opt ReadOptions) (*Reading, error) {
	ctx, stop := context.WithCancel(ctx)
	defer stop()
	src, err := openSource(ctx, r, opt.Progress)
	if err != nil {
		return nil, err
	}
	t, err := readTable(src, opt)
	if err != nil {
		return nil, err
	}
	b := &builder{table: t, opt: opt, Reading: &Reading{
		SHA256: src.sum(), Bytes: src.bytes, Rows: t.rows, Rejected: t.rejected, Rejects: t.rejects,
		Bridged: map[Channel]int{}, Lost: map[Channel]int{}, Resolution: map[Channel]float64{},
	}}
	b.Layout = t.layout.Layout
	b.Layout.Encoding = src.encoding
	b.Layout.Skipped, b.Layout.Repeats = t.skipped, t.repeats
	if err := b.build(name); err != nil {
		return nil, err
	}
	return b.Reading, nil
}

// readTable takes the blocks of a log apart into columns of numbers.
func readTable(src *source, opt ReadOptions) (*table, error) {
	var s *scanner
	var tail []byte // the beginning of a line whose end is in the next block
	for buf := range src.full {
		data := buf[src.room-len(tail):]
		copy(data, tail)
		from := 0
		if s == nil {
			// A first block that is not full is the whole file.
			l, err := findLayout(data, len(buf) < src.room+src.block, src.text)
			if err != nil {
				return nil, err
			}
			rows := expectedRows(l, data, opt.Size)
			if n := len(l.kinds); opt.Size > 0 && rows > opt.maxValues()/n*11/10 {
				return nil, tooLarge(0, fmt.Sprintf("%.1f MB hold about %d rows of %d columns", float64(opt.Size)/1e6, rows, n))
			}
			s = newScanner(l, rows, opt.maxValues())
			from = l.dataStart
		}
		end := max(from, lastLineEnd(data, s.layout.newline))
		if err := s.scan(data[from:end]); err != nil {
			return nil, err
		}
		if err := tooLong(s.line+1, len(data)-end); err != nil {
			return nil, err
		}
		tail = append(tail[:0], data[end:]...)
		src.free <- buf[:cap(buf)]
	}
	if src.err != nil {
		return nil, src.err
	}
	if s == nil {
		return nil, &ReadError{Problem: "the file is empty", Advice: "export the recording again"}
	}
	if err := s.scan(tail); err != nil {
		return nil, err
	}
	return s.table, s.verdict()
}

func tooLarge(line int, size string) error {
	return &ReadError{Row: line, Problem: size + ", more than fits the memory set aside",
		Advice: "export a shorter part, fewer channels or a longer sample period"}
}

// lastLineEnd returns the offset behind the last whole line.
func lastLineEnd(data []byte, newline byte) int {
	return bytes.LastIndexByte(data, newline) + 1
}

// expectedRows estimates the rows of a file of size bytes from its first block.
func expectedRows(l *layout, data []byte, size int64) int {
	if size <= int64(len(data)) {
		size = int64(len(data))
	}
	lines := splitLines(data[l.dataStart:], l.newline, true)
	perRow := float64(len(data)-l.dataStart) / float64(max(len(lines), 1))
	return int(1.02*float64(size)/math.Max(perRow, 1)) + 16
}

// verdict refuses a table that is no log.
func (t *table) verdict() error {
	if t.rows < 2 {
		return &ReadError{Problem: fmt.Sprintf("%d row of numbers, needed at least two", t.rows), Advice: "export the whole recording"}
	}
	if t.ragged > 20 && t.ragged*100 > t.rows {
		return &ReadError{Row: t.firstRag.Row, Problem: fmt.Sprintf("%s, needed %d; %d rows are like that", t.firstRag.Text, len(t.cols), t.ragged),
			Advice: "check the export's delimiter and decimal sign"}
	}
	return nil
}

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
	if err != nil {
		return err
	}
	b.used = make([]bool, len(b.cols))
	if tc.index >= 0 {
		b.used[tc.index] = true
		b.Guesses = append(b.Guesses, tc.guess)
		if err := b.checkText(tc.index, Time); err != nil {
			return err
		}
	}
	columns, err := b.assign()
	if err != nil {
		return err
	}
	if len(columns) < 1 || tc.index < 0 && len(columns) < 2 {
		return b.tooFew()
	}
	if err := b.makeGrid(tc); err != nil {
		return err
	}
	return b.fill(name, columns)
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

// taken is a channel with its column.
type taken struct {
	channel Channel
	index   int
	column  Column
}

// assign settles which column holds which channel: stated ones first, then guesses.
func (b *builder) assign() ([]taken, error) {
	var list []taken
	stated := map[Channel]bool{}
	hints := map[Channel]Column{}
	motor := -1
	for _, c := range Channels() {
		col, ok := b.opt.Columns[c]
		if !ok || c == Time {
			continue
		}
		if col.Header == "" {
			hints[c] = col
			continue
		}
		j := matchHeader(b.headings, col.Header)
		stated[c] = j >= 0
		if j < 0 || emptyColumn(b.cols[j][:b.rows]) && b.text[j].Row == 0 && b.layout.kinds[j] == numberColumn {
			continue // absent in this log
		}
		t, err := b.takeStated(c, col, j)
		if err != nil {
			return nil, err
		}
		list = append(list, t)
		if c == MotorPosition {
			motor = j
		}
	}
	for _, g := range choose(b.headings, b.layout.kinds, b.table, stated, hints, motor, b.used) {
		b.Guesses = append(b.Guesses, g)
		if g.Asked {
			continue
		}
		if err := b.checkText(g.Index, g.Channel); err != nil {
			return nil, err
		}
		col := hints[g.Channel]
		col.Header, col.Unit = g.Column, g.Unit
		list = append(list, taken{g.Channel, g.Index, col})
	}
	sort.Slice(list, func(i, j int) bool { return list[i].channel < list[j].channel })
	for j, h := range b.headings {
		if !b.used[j] {
			b.Unused = append(b.Unused, Printable(h.full))
		}
	}
	return list, nil
}

func (b *builder) takeStated(c Channel, col Column, j int) (taken, error) {
	h := b.headings[j]
	why := "stated"
	if col.Unit == "" {
		col.Unit = h.unit
	} else if h.unit != "" && !h.loose && !sameUnit(col.Unit, h.unit) {
		why = fmt.Sprintf("stated; the log's header says %s", Printable(h.unit))
	}
	fault := &ReadError{Column: Printable(h.full)}
	if col.Unit == "" && col.From == col.To {
		fault.Problem = "no unit stated for " + c.Words()
		fault.Advice = fmt.Sprintf("state it, such as --channel '%s=%s[%s]'", c, Printable(h.name), exampleUnit(c))
		return taken{}, fault
	}
	if err := CheckUnit(c, col); err != nil {
		fault.Problem = c.Words() + ": " + err.Error()
		return taken{}, fault
	}
	if b.layout.kinds[j] != numberColumn {
		fault.Problem = "holds text, needed numbers for " + c.Words()
		return taken{}, fault
	}
	if err := b.checkText(j, c); err != nil {
		return taken{}, err
	}
	if b.used[j] {
		fault.Problem = "stated for " + c.Words() + " and for another channel"
		fault.Advice = "state each column once"
		return taken{}, fault
	}
	b.used[j] = true
	b.Guesses = append(b.Guesses, Guess{Channel: c, Column: Printable(h.name), Index: j, Unit: Printable(col.Unit), Sure: 1, Why: why, Stated: true})
	return taken{c, j, col}, nil
}

// checkText refuses a column that a channel is read from if a cell holds text.
func (b *builder) checkText(j int, c Channel) error {
	cell := b.text[j]
	if cell.Row == 0 {
		return nil
	}
	return &ReadError{Row: cell.Row, Column: c.Words(), Problem: fmt.Sprintf("%q is not a number", cell.Text),
		Advice: "correct or empty that cell, or export again"}
}

func (b *builder) tooFew() error {
	var asked []string
	for _, g := range b.Guesses {
		if g.Asked {
			asked = append(asked, fmt.Sprintf("%s (%s: %s)", g.Column, g.Channel, g.Why))
		}
	}
	problem := "no column could be taken for a channel of the machine; headers: " + strings.Join(clipList(b.Layout.Headers, 8), ", ")
	if len(asked) > 0 {
		problem += "; unclear: " + strings.Join(clipList(asked, 4), ", ")
	}
	return &ReadError{Problem: problem, Advice: "state channels, such as --channel 'rod_position=COLUMN[mm]', or in the machine file"}
}

func clipList(list []string, n int) []string {
	if len(list) > n {
		return append(append([]string(nil), list[:n]...), fmt.Sprintf("and %d more", len(list)-n))
	}
	return list
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
		b.grid = newGrid(t)
		if b.grid == nil {
			return &ReadError{Column: tc.guess.Column, Problem: "time does not advance", Advice: "check which column holds time"}
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
	var group sync.WaitGroup
	for i, t := range columns {
		group.Go(func() {
			done[i] = g.condition(b.cols[t.index][:b.rows], t, missing, atStamps)
		})
	}
	group.Wait()
	for i, t := range columns {
		d := done[i]
		samples[t.channel] = d.samples
		gaps = append(gaps, d.gaps...)
		b.Spikes = append(b.Spikes, d.spikes...)
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
		b.setZero(columns)
	}
	return err
}

// zeroNear (m) is how far from zero the end stop may read without being wrong:
// stops give, and mounting is good to a millimetre or two.
const zeroNear = 2e-3

// setZero takes the rod position's zero from the end stops where nothing is stated.
func (b *builder) setZero(columns []taken) {
	for _, t := range columns {
		if t.channel == RodPosition && t.column.Offset != 0 {
			return
		}
	}
	shift, ok := zeroFromStops(b.Trace, b.opt.Stroke)
	if !ok || math.Abs(shift) < zeroNear {
		return
	}
	b.ZeroShift = shift
	for _, t := range columns {
		if t.channel == RodPosition || t.channel == PositionCommand && t.column.Offset == 0 {
			x := b.Trace.samples[t.channel]
			for i := range x {
				x[i] += shift
			}
		}
	}
}

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

// missingSpans lists the samples of the grid that no row fills.
func (g *grid) missingSpans() []Span {
	var spans []Span
	last := int32(-1)
	for _, k := range g.at {
		if k < 0 {
			continue
		}
		if k > last+1 {
			spans = append(spans, Span{int(last) + 1, int(k)})
		}
		last = k
	}
	return spans
}

// adopt is New for samples that no one else holds: it checks but does not copy them.
func adopt(name string, period, start float64, samples map[Channel][]float64, gaps []Span) (*Trace, error) {
	n := 0
	for c, s := range samples {
		n = len(s)
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
