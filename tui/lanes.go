package tui

import (
	"math"

	"eha/strokewise/ident/trace"
)

// reading returns the log in view, or nil.
func (s *tracesScreen) reading(a *App) *trace.Reading {
	if a.work.Logs == nil || s.log >= len(a.work.Logs.Readings) {
		return nil
	}
	return a.work.Logs.Readings[s.log]
}

// lane is one channel's strip.
type lane struct {
	channel trace.Channel
	guess   *trace.Guess // nil where nothing is known about its column
	held    bool         // the log holds samples
}

// lanes lists the channels that the log holds, then those that have to be asked about.
func lanes(r *trace.Reading) []lane {
	var list []lane
	guess := func(c trace.Channel) *trace.Guess {
		for i := range r.Guesses {
			if r.Guesses[i].Channel == c {
				return &r.Guesses[i]
			}
		}
		return nil
	}
	for _, c := range r.Trace.Channels() {
		list = append(list, lane{c, guess(c), true})
	}
	for i := range r.Guesses {
		if g := &r.Guesses[i]; g.Asked && !r.Trace.Has(g.Channel) {
			list = append(list, lane{g.Channel, g, false})
		}
	}
	return list
}

// span returns the stretch of time in view (s).
func (s *tracesScreen) span(t *trace.Trace) (from, to float64) {
	first, last := t.TimeAt(0), t.TimeAt(t.Len()-1)
	if s.from < s.to {
		return math.Max(s.from, first), math.Min(s.to, last)
	}
	return first, last
}

// slide moves the cursor, and the view with it at its edges.
func (s *tracesScreen) slide(t *trace.Trace, by float64) {
	from, to := s.span(t)
	if math.IsNaN(s.cursor) {
		s.cursor = (from + to) / 2
	}
	first, last := t.TimeAt(0), t.TimeAt(t.Len()-1)
	s.cursor = math.Min(math.Max(s.cursor+by, first), last)
	if s.from < s.to && (s.cursor < from || s.cursor > to) {
		shift := math.Min(math.Max(by*10, first-s.from), last-s.to)
		s.from, s.to = s.from+shift, s.to+shift
	}
}

// zoom changes the stretch in view about the cursor, to ten samples at the closest.
func (s *tracesScreen) zoom(t *trace.Trace, factor float64) {
	from, to := s.span(t)
	mid := s.cursor
	if !(mid >= from && mid <= to) {
		mid = (from + to) / 2
	}
	width := math.Max((to-from)*factor, 10*t.Period())
	first, last := t.TimeAt(0), t.TimeAt(t.Len()-1)
	// Rounding must not leave a sliver outside.
	if width >= 0.999*(last-first) {
		s.from, s.to = 0, 0
		return
	}
	start := math.Min(math.Max(mid-width*(mid-from)/(to-from), first), last-width)
	s.from, s.to = start, start+width
}
