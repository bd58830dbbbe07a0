package quality

import "fmt"

// What a buffer of a few seconds says of pressures, units and stuck signals rests on one or
// two moves, and one buffer in some hundred says it wrongly. Of a fault that is there, its
// neighbours with the same columns show it too.
const (
	shortBuffer  = 10.0    // s
	enoughOthers = 8       // logs of the same columns, the buffer itself among them
	leastShare   = 1.0 / 8 // share of them below which a fault is not believed
)

// outvoted makes notes of the stops that short buffers show and hardly any other log of the
// same columns does. A wrong sign stays what it is: its evidence is the motion itself.
func outvoted(views []*view, found [][]Finding) {
	type place struct{ log, finding int }
	var notes []place
	for i, v := range views {
		for j, f := range found[i] {
			doubted := f.ID == SwappedPressures || f.ID == UnitDoubtful || f.ID == Flat
			if f.Severity != Stop || !doubted || v.t.Duration() > shortBuffer {
				continue
			}
			logs, same := 0, 0
			for k, other := range views {
				if !sameColumns(v, other) {
					continue
				}
				logs++
				if stopsAlike(found[k], f) {
					same++
				}
			}
			if logs >= enoughOthers && float64(same) < leastShare*float64(logs) {
				notes = append(notes, place{i, j})
			}
		}
	}
	for _, n := range notes {
		f := &found[n.log][n.finding]
		f.Severity, f.Cure = Note, Cure{}
		f.Text = fmt.Sprintf("%s This buffer is short, and hardly any other log of the same columns shows it.", f.Text)
	}
}

// stopsAlike reports whether there is a stop of the same id on the same channel.
func stopsAlike(found []Finding, f Finding) bool {
	for _, g := range found {
		if g.Severity == Stop && g.ID == f.ID && g.Channel == f.Channel {
			return true
		}
	}
	return false
}
