package trace

import (
	"maps"
	"slices"
)

// JoinReadings joins the traces of two readings by Join and puts together what
// was found in both; facts about a channel come from the recording whose samples
// of it were kept, and all times are on the first's clock. Layout and Clock are
// the first's, with the second's missing rows added. Its errors are those of Join.
func JoinReadings(a, b *Reading) (*Reading, error) {
	t, joint, err := Join(a.Trace, b.Trace)
	if err != nil {
		return nil, err
	}
	r := *a
	r.Trace, r.Joint = t, &joint
	r.SHA256 = a.SHA256 + "+" + b.SHA256
	r.Bytes, r.Rows, r.Rejects = a.Bytes+b.Bytes, a.Rows+b.Rows, a.Rejects+b.Rejects
	r.Unused = append(append([]string(nil), a.Unused...), b.Unused...)
	r.Absent = nil
	for _, c := range a.Absent {
		if slices.Contains(b.Absent, c) {
			r.Absent = append(r.Absent, c)
		}
	}
	r.Rejected = append(append([]Cell(nil), a.Rejected...), b.Rejected...)
	r.Bridged, r.Lost, r.Resolution = maps.Clone(a.Bridged), maps.Clone(a.Lost), maps.Clone(a.Resolution)
	r.Guesses = append([]Guess(nil), a.Guesses...)
	r.Spikes = append([]Spike(nil), a.Spikes...)
	r.Held = append([]Held(nil), a.Held...)
	r.Clock.Missing = append([]Block(nil), a.Clock.Missing...)
	for _, m := range b.Clock.Missing {
		r.Clock.Missing = append(r.Clock.Missing, Block{From: joint.at(m.From), To: joint.at(m.To), Rows: m.Rows})
	}
	r.takeOver(a, b, joint)
	return &r, nil
}

// takeOver adds the facts about the channels that only the second recording holds.
func (r *Reading) takeOver(a, b *Reading, joint Joint) {
	fromB := func(c Channel) bool { return c != Time && b.Trace.Has(c) && !a.Trace.Has(c) }
	for _, g := range b.Guesses {
		if fromB(g.Channel) {
			r.Guesses = append(r.Guesses, g)
		}
	}
	for _, s := range b.Spikes {
		if fromB(s.Channel) {
			s.Time = joint.at(s.Time)
			r.Spikes = append(r.Spikes, s)
		}
	}
	for _, h := range b.Held {
		if fromB(h.Channel) {
			r.Held = append(r.Held, h)
		}
	}
	for _, c := range b.Trace.Channels() {
		if fromB(c) {
			note(r.Bridged, c, b.Bridged[c])
			note(r.Lost, c, b.Lost[c])
			note(r.Resolution, c, b.Resolution[c])
		}
	}
	if fromB(MotorPosition) {
		r.Wrap = b.Wrap
	}
}
