package trace

// WithGaps returns the trace with further gaps, sharing the samples. It panics
// if a span is not inside the trace.
func (t *Trace) WithGaps(gaps []Span) *Trace {
	merged, err := mergeGaps(append(append([]Span(nil), t.gaps...), gaps...), t.n)
	if err != nil {
		panic("trace: " + err.Error())
	}
	with := *t
	with.gaps = merged
	return &with
}
