package quality

// Played is a test move that was recognised in a log.
type Played struct {
	Log      string
	Move     string  // its id
	From, To float64 // s on the log's clock
	Parts    int     // strokes, steps, taps and so on of which it is made
}

// played returns the moves recognised in the log.
func (v *view) played() []Played {
	var out []Played
	for _, p := range v.motion.Sequence() {
		out = append(out, Played{v.t.Name(), p.Kind.String(), v.t.TimeAt(p.Span.From), v.t.TimeAt(p.Span.To - 1), p.Parts})
	}
	return out
}

// holdsAside makes a note of a log in which nothing moves where another one moves: it was
// logged to hold.
func holdsAside(found []Finding, logs int) {
	still := 0
	for _, f := range found {
		if f.ID == NoMotion {
			still++
		}
	}
	for i, f := range found {
		if f.ID == NoMotion && still < logs {
			found[i].Severity, found[i].Affects = Note, nil
			found[i].Do = "It counts as a hold; look at it only if it should hold a move."
		}
	}
}
