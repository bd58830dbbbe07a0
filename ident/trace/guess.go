package trace

import (
	"fmt"
	"math"
	"sort"
	"strings"
)

// A guess is taken from sureEnough on, and if no other column comes nearer than
// clearLead; else it is asked.
const (
	sureEnough = 0.55
	clearLead  = 0.1
	ownName    = 0.99
)

// choose assigns columns to the channels that the user has not stated, and
// returns the guesses, taken and asked. stated says of a stated channel whether its
// column is in the log: one that is not may only be a column of the channel's own name.
// hints hold what is stated of a channel without naming its column; motor is the column stated for the encoder, -1 for none,
// and encoder what is stated of it; used marks the columns that are taken.
func choose(headings []heading, kinds []columnKind, t *table, stated map[Channel]bool, hints map[Channel]Column, motor int, encoder Column, used []bool) []Guess {
	rated := map[Channel][]Guess{}
	var text []Guess // columns with a channel's own name but no numbers
	for j, h := range headings {
		if used[j] || kinds[j] == stampColumn {
			continue
		}
		list := h.candidates()
		best := 0.0
		for _, cand := range list {
			best = math.Max(best, cand.sure)
		}
		for _, cand := range list {
			if cand.sure < best-clearLead || best >= ownName && cand.sure < ownName {
				continue // the column is another channel's by its own words
			}
			if found, is := stated[cand.channel]; is && (found || cand.sure < ownName) {
				continue
			}
			if kinds[j] == textColumn {
				if cand.sure >= ownName {
					text = append(text, Guess{Channel: cand.channel, Column: Printable(h.name), Index: j, Unit: Printable(cand.unit), Sure: cand.sure,
						Why: cand.why + "; holds text, needed numbers", Asked: true})
				}
				continue
			}
			rated[cand.channel] = append(rated[cand.channel], Guess{Channel: cand.channel, Column: Printable(h.name), Index: j,
				Unit: Printable(cand.unit), Sure: cand.sure, Why: cand.why})
		}
	}
	var order []Channel
	for _, c := range Channels() {
		if list := rated[c]; len(list) > 0 {
			if c != RodPosition {
				evidence(list, t, motor, encoder)
			}
			if c == MotorPosition && motor < 0 && list[0].Sure >= sureEnough {
				motor = list[0].Index
				if encoder.Unit == "" {
					encoder.Unit = list[0].Unit
				}
			}
			order = append(order, c)
		}
	}
	evidence(rated[RodPosition], t, motor, encoder)
	// The surest channels choose first.
	sort.SliceStable(order, func(a, b int) bool { return rated[order[a]][0].Sure > rated[order[b]][0].Sure })
	var guesses []Guess
	for _, c := range order {
		if g, ok := settle(rated[c], t, hints[c], used); ok {
			guesses = append(guesses, g)
		}
	}
	askAloneByCustom(guesses, stated, used)
	for _, g := range text {
		if len(rated[g.Channel]) == 0 {
			guesses = append(guesses, g)
		}
	}
	return guesses
}

// askAloneByCustom turns a pressure that was taken by the custom of letters or numbers,
// as in pA or p1, into a question where the other side's is not there to bear it out.
func askAloneByCustom(guesses []Guess, stated map[Channel]bool, used []bool) {
	const words = 0.9 // from here on the side is said in words
	taken := map[Channel]int{}
	for i, g := range guesses {
		if !g.Asked && (g.Channel == CapPressure || g.Channel == RodPressure) {
			taken[g.Channel] = i
		}
	}
	for _, i := range taken {
		if g := &guesses[i]; len(taken) == 1 && g.Sure < words && !stated[CapPressure] && !stated[RodPressure] {
			g.Asked, g.Why = true, g.Why+", but the other side's is not there"
			used[g.Index] = false
		}
	}
}

// settle decides one channel among the columns still free.
func settle(list []Guess, t *table, col Column, used []bool) (Guess, bool) {
	var free []Guess
	for _, g := range list {
		if !used[g.Index] && !emptyColumn(t.cols[g.Index][:t.rows]) {
			free = append(free, g)
		}
	}
	if len(free) == 0 {
		return Guess{}, false
	}
	g := free[0]
	for _, rival := range free[1:] {
		if g.Sure-rival.Sure >= clearLead || g.Sure > rival.Sure && g.Unit != "" && rival.Unit == "" {
			continue
		}
		if same(t.cols[g.Index][:t.rows], t.cols[rival.Index][:t.rows]) {
			used[rival.Index] = true
			g.Why += fmt.Sprintf("; %q holds the same", rival.Column)
			continue
		}
		g.Others, g.Rivals = append(g.Others, rival.Column), append(g.Rivals, rival.Why)
	}
	if col.Unit == "" {
		col.Unit = g.Unit
	}
	err := CheckUnit(g.Channel, col)
	switch {
	case len(g.Others) > 0:
		g.Asked, g.Why = true, g.Why+"; as well "+strings.Join(g.Others, ", ")
	case g.Sure < sureEnough:
		g.Asked = true
	case col.Unit == "" && col.From == col.To:
		g.Asked, g.Why = true, g.Why+"; no unit stated"
	case err != nil:
		g.Asked, g.Why = true, g.Why+"; "+err.Error()
	default:
		used[g.Index] = true
	}
	g.Unit = col.Unit
	return g, true
}

func emptyColumn(x []float64) bool {
	for _, v := range x {
		if !math.IsNaN(v) {
			return false
		}
	}
	return true
}

// same reports whether two columns hold the same numbers.
func same(a, b []float64) bool {
	for i := range a {
		if a[i] != b[i] && !(math.IsNaN(a[i]) && math.IsNaN(b[i])) {
			return false
		}
	}
	return true
}
