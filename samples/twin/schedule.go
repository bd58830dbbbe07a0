package twin

import "strings"

// Part is a stretch of a log in which one test move was played, by the move's id.
type Part struct {
	Move     string
	From, To float64 // s
	Pieces   int     // strokes, steps, reversals and so on of which it is made
}

// moveIDs are the ids of the test moves by how the names of their segments begin.
var moveIDs = []struct{ segment, move string }{
	{"jog", "jog"}, {"slow stroke", "slow_strokes"}, {"ladder", "speed_steps"}, {"reversal", "reversals"}, {"pulses", "pulses"},
	{"multisine at", "multisine"}, {"slow press", "press_hold"}, {"plateau", "press_hold"}, {"multisine pressing", "press_hold"}, {"release", "press_hold"},
}

// Schedule returns the test moves as they were played, in order: rests and the way to a
// place between pieces of a move belong to it, those before its first and after its last
// piece do not; a rest of 1.5 s and more is a hold.
func (l *Log) Schedule() []Part {
	if l.played != nil {
		return l.played
	}
	var parts []Part
	last := ""
	for i, e := range l.Events {
		to := float64(l.Rows()) * l.Period
		if i+1 < len(l.Events) {
			to = l.Events[i+1].Time
		}
		move := moveOf(e.Segment)
		if e.Segment == "rest" && to-e.Time >= 1.5 {
			move = "hold"
		}
		if move == "" {
			continue
		}
		if move != last {
			parts = append(parts, Part{Move: move, From: e.Time})
			last = move
		}
		p := &parts[len(parts)-1]
		p.To, p.Pieces = to, p.Pieces+1
	}
	return parts
}

// moveOf returns the id of the move that a segment is part of, "" for none.
func moveOf(segment string) string {
	for _, m := range moveIDs {
		if strings.HasPrefix(segment, m.segment) {
			return m.move
		}
	}
	return ""
}
