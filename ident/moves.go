package ident

import (
	"math"

	"eha/strokewise/ident/contact"
	"eha/strokewise/ident/machine"
	"eha/strokewise/ident/motion"
	"eha/strokewise/ident/plant"
	"eha/strokewise/ident/trace"
)

// Of every holdEvery moves one is held out for validation, as long as they are
// not more than holdShare of the time in motion and at least holdLeast moves are there.
const (
	holdEvery = 6
	holdFirst = 3
	holdShare = 0.25
	holdLeast = 5
)

// findMoves cuts the logs up and holds some moves out.
func (f *fitting) findMoves() {
	f.motion = make([]*motion.Motion, len(f.full))
	parts := make([]func(), len(f.full))
	for i := range f.full {
		parts[i] = func() { f.motion[i] = motion.Find(f.full[i]) }
	}
	for i := 0; i < len(parts); i += 2 {
		together(parts[i:min(i+2, len(parts))])
	}
	f.heldOut = make([][]trace.Span, len(f.full))
	f.logs = append([]*trace.Trace(nil), f.full...)
	count := 0
	for i, t := range f.full {
		trips := movesOf(t, f.motion[i])
		total := 0
		for _, s := range trips {
			total += s.Len()
		}
		left := holdShare * float64(total)
		for _, s := range trips {
			count++
			if len(trips) < holdLeast || count%holdEvery != holdFirst || float64(s.Len()) > left {
				continue
			}
			left -= float64(s.Len())
			f.heldOut[i] = append(f.heldOut[i], s)
		}
		if len(f.heldOut[i]) > 0 {
			f.logs[i] = t.WithGaps(f.heldOut[i])
			f.motion[i] = without(f.motion[i], f.heldOut[i])
		}
	}
}

// restPad (s) of rest before and after a move goes with it.
const restPad = 0.2

// movesOf returns the stretches of travel between rests, without those in which
// the rod presses or a periodic excitation is played.
func movesOf(t *trace.Trace, m *motion.Motion) []trace.Span {
	var out []trace.Span
	pad := int(restPad / t.Period())
	for i := 0; i < len(m.Segments); {
		if !travels(m.Segments[i]) {
			i++
			continue
		}
		from := i
		for i < len(m.Segments) && travels(m.Segments[i]) && (i == from || m.Segments[i].Span.From == m.Segments[i-1].Span.To) {
			i++
		}
		s := trace.Span{From: m.Segments[from].Span.From, To: m.Segments[i-1].Span.To}
		pressed := from > 0 && m.Segments[from-1].Kind == motion.Pressing || i < len(m.Segments) && m.Segments[i].Kind == motion.Pressing
		s = trace.Span{From: max(s.From-pad, 0), To: min(s.To+pad, t.Len())}
		excited := false
		for _, p := range m.Periodic {
			excited = excited || overlap(p.Span, s)
		}
		if !pressed && !excited && float64(s.Len())*t.Period() > 2*restPad+motion.MinSteady {
			out = append(out, s)
		}
	}
	return out
}

func travels(s motion.Segment) bool { return s.Kind == motion.Steady || s.Kind == motion.Accelerating }

func overlap(a, b trace.Span) bool { return a.From < b.To && b.From < a.To }

func overlaps(a trace.Span, spans []trace.Span) bool {
	for _, s := range spans {
		if overlap(a, s) {
			return true
		}
	}
	return false
}

// without returns the motion less what touches the spans held out.
func without(m *motion.Motion, held []trace.Span) *motion.Motion {
	kept := *m
	kept.Segments, kept.Reversals, kept.Limits = nil, nil, nil
	for _, s := range m.Segments {
		if !overlaps(s.Span, held) {
			kept.Segments = append(kept.Segments, s)
		}
	}
	for _, r := range m.Reversals {
		if !overlaps(trace.Span{From: r.Before.Span.From, To: r.After.Span.To}, held) {
			kept.Reversals = append(kept.Reversals, r)
		}
	}
	for _, l := range m.Limits {
		if !overlaps(l.Span, held) {
			kept.Limits = append(kept.Limits, l)
		}
	}
	return &kept
}

// presses returns the stretches of log i in which the rod presses on something,
// with their approach.
func (f *fitting) presses(i int) []contact.Press {
	area, _ := areas(f.machine)
	return contact.Find(f.logs[i], f.motion[i], area)
}

// areas returns the piston areas (m²) that bore and rod of the machine file
// give, and whether it states them.
func areas(m *machine.Machine) (plant.PerChamber[float64], bool) {
	bore, rod := m.Cylinder.Bore, m.Cylinder.Rod
	if bore <= 0 || rod <= 0 || rod >= bore {
		return plant.PerChamber[float64]{}, false
	}
	return plant.PerChamber[float64]{Cap: math.Pi / 4 * bore * bore, Rod: math.Pi / 4 * (bore*bore - rod*rod)}, true
}
