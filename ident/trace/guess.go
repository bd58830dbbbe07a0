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
	for j, h := range headings {
		if used[j] || kinds[j] != numberColumn {
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
	return guesses
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
