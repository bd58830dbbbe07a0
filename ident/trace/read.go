package trace

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"math"
)

// Read reads a log named name (a base name as a rule; messages carry it) and
// returns it as a checked, uniform Trace together with what was found on the way.
//
// Stamps that jitter are set on the uniform period; missing rows and long runs of
// missing values become gaps; runs of at most three missing samples and spikes of
// at most three samples are bridged and reported; a wrapping encoder counts on.
//
// Words without a digit in a column of numbers, such as "off", are counted as rejects.
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
	if !(opt.Period > 0) {
		opt.Period = opt.Columns[Time].Period
	}
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
			rows := expectedRows(l, data, src.characters(opt.Size))
			if n := len(l.kinds); opt.Size > 0 && rows > opt.maxValues()/n*11/10 {
				every := int(math.Ceil(float64(rows) * float64(n) / float64(opt.maxValues())))
				return nil, tooLarge(0, fmt.Sprintf("%.1f MB hold about %d rows of %d columns", float64(opt.Size)/1e6, rows, n), every, l.FirstRow)
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

// tooLarge refuses a log that does not fit, and says how one row of every so many is kept
// with the lines before first.
func tooLarge(line int, size string, every, first int) error {
	every = max(every, 2)
	return &ReadError{Row: line, Problem: size + ", more than fits the memory set aside",
		Advice: fmt.Sprintf("export a shorter part, fewer channels or a %d times longer sample period, or keep one row in %d, such as by awk 'NR<%d || NR%%%d==0' OLD > NEW", every, every, first, every)}
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
