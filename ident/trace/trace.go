// Package trace turns a recorder's export into a checked, uniformly sampled
// Trace in SI units, and knows nothing of what is done with it afterwards.
package trace

import (
	"errors"
	"fmt"
	"math"
	"sort"
)

// Span is a half-open range [From, To) of sample indices.
type Span struct{ From, To int }

// Len returns the number of samples in the span.
func (s Span) Len() int { return s.To - s.From }

// Trace is one recording of one machine, uniformly sampled, in SI units, with
// the signs stated at Channel. New is the only way to make one; it copies and
// checks, and every later function relies on that: all channels have the same
// length, every sample is finite, the period is positive and the gaps are
// sorted, disjoint and in range.
type Trace struct {
	name    string
	period  float64
	start   float64
	n       int
	samples map[Channel][]float64
	gaps    []Span
	joined  joinedClocks
	updates map[Channel]float64 // s, of channels that the recorder updates now and then
}

// joinedClocks says which channels came from the second of two recordings, and by
// how much the two clocks may be off each other (s).
type joinedClocks struct {
	second map[Channel]bool
	doubt  float64
}

// New returns a Trace named name with the given sample period (s) and time of
// the first sample (s). The samples hold one slice per channel, all of the same
// length of at least two; they are copied. In gaps the samples are fillers
// (missing rows, rejected values) that no estimate may use; gaps may come in any
// order and overlap.
//
// New returns an error if the period is not positive, if lengths differ, if
// fewer than two samples are there, if a sample is not finite or if a gap is out of range.
func New(name string, period, start float64, samples map[Channel][]float64, gaps []Span) (*Trace, error) {
	if !(period > 0) || math.IsInf(period, 0) {
		return nil, fmt.Errorf("trace: %s: sample period %g s, need a positive number", name, period)
	}
	if math.IsNaN(start) || math.IsInf(start, 0) {
		return nil, fmt.Errorf("trace: %s: start time is not a number", name)
	}
	t := &Trace{name: name, period: period, start: start, n: -1, samples: map[Channel][]float64{}}
	for _, c := range Channels() {
		s, ok := samples[c]
		if !ok || c == Time {
			continue
		}
		if t.n >= 0 && len(s) != t.n {
			return nil, fmt.Errorf("trace: %s: %s has %d samples, the others %d", name, c, len(s), t.n)
		}
		t.n = len(s)
		for i, v := range s {
			if math.IsNaN(v) || math.IsInf(v, 0) {
				return nil, fmt.Errorf("trace: %s: %s: sample %d is not a finite number", name, c, i)
			}
		}
		t.samples[c] = append([]float64(nil), s...)
	}
	if t.n < 2 {
		return nil, errors.New("trace: " + name + ": needs at least two samples of one channel")
	}
	var err error
	if t.gaps, err = mergeGaps(gaps, t.n); err != nil {
		return nil, fmt.Errorf("trace: %s: %w", name, err)
	}
	return t, nil
}

func mergeGaps(gaps []Span, n int) ([]Span, error) {
	sorted := append([]Span(nil), gaps...)
	sort.Slice(sorted, func(i, j int) bool { return sorted[i].From < sorted[j].From })
	var merged []Span
	for _, g := range sorted {
		if g.From < 0 || g.To > n || g.From > g.To {
			return nil, fmt.Errorf("gap %d to %d is outside 0 to %d", g.From, g.To, n)
		}
		if last := len(merged) - 1; last >= 0 && g.From <= merged[last].To {
			merged[last].To = max(merged[last].To, g.To)
		} else if g.Len() > 0 {
			merged = append(merged, g)
		}
	}
	return merged, nil
}

// Name returns the log's name, a file's base name as a rule.
func (t *Trace) Name() string { return t.name }

// Period returns the sample period (s).
func (t *Trace) Period() float64 { return t.period }

// Len returns the number of samples of each channel.
func (t *Trace) Len() int { return t.n }

// Duration returns the time spanned (s): samples times period.
func (t *Trace) Duration() float64 { return float64(t.n) * t.period }

// TimeAt returns the time (s) of sample i on the log's own clock.
func (t *Trace) TimeAt(i int) float64 { return t.start + float64(i)*t.period }

// Samples returns the samples of a channel and whether the log holds it. The
// slice is the trace's own and must not be changed.
func (t *Trace) Samples(c Channel) ([]float64, bool) {
	s, ok := t.samples[c]
	return s, ok
}

// Has reports whether the log holds all of the channels.
func (t *Trace) Has(channels ...Channel) bool {
	for _, c := range channels {
		if _, ok := t.samples[c]; !ok {
			return false
		}
	}
	return true
}

// Channels returns the channels that the log holds, in the order of Channels.
func (t *Trace) Channels() []Channel {
	var held []Channel
	for _, c := range Channels() {
		if t.Has(c) {
			held = append(held, c)
		}
	}
	return held
}

// Gaps returns the spans that hold fillers in place of measurements. The slice
// must not be changed.
func (t *Trace) Gaps() []Span { return t.gaps }

// ClockDoubt is by how much a lag between two channels may come from their recordings'
// clocks alone (s): 0 unless two recordings were joined and each gave one of them.
func (t *Trace) ClockDoubt(a, b Channel) float64 {
	if t.joined.second[a] == t.joined.second[b] {
		return 0
	}
	return t.joined.doubt
}

// Update is how often the recorder updated a channel that it held or left empty between
// (s), 0 for one that was written anew each time: what is faster is not in the trace.
func (t *Trace) Update(c Channel) float64 { return t.updates[c] }

// Slice returns the part [from, to) as a trace of its own that shares the
// samples. It panics if the range is not inside the trace or shorter than two samples.
func (t *Trace) Slice(from, to int) *Trace {
	if from < 0 || to > t.n || to-from < 2 {
		panic("trace: slice out of range")
	}
	part := &Trace{name: t.name, period: t.period, start: t.TimeAt(from), n: to - from, samples: make(map[Channel][]float64, len(t.samples)), joined: t.joined, updates: t.updates}
	for c, s := range t.samples {
		part.samples[c] = s[from:to:to]
	}
	for _, g := range t.gaps {
		g = Span{max(g.From, from) - from, min(g.To, to) - from}
		if g.Len() > 0 {
			part.gaps = append(part.gaps, g)
		}
	}
	return part
}
