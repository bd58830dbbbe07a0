package record

import (
	"fmt"
	"strings"

	"eha/strokewise/ident/plant"
	"eha/strokewise/ident/quality"
)

// played lists the test moves that were recognised.
func (p *page) played(r *quality.Report) {
	p.heading("Moves recognised")
	if len(r.Played) == 0 {
		p.list("-", []string{"none of the test moves"})
		return
	}
	var rows [][]string
	for _, m := range r.Played {
		rows = append(rows, []string{m.Log, words(m.Move), fmt.Sprintf("%.1f to %.1f s", m.From, m.To), fmt.Sprint(m.Parts)})
	}
	p.table([]string{"log", "move", "when", "parts"}, rows)
}

// tells says which parameters the logs tell, which only roughly and which not at all,
// why, and what to log for them.
func (p *page) tells(r *quality.Report) {
	var well []string
	lacking := [2]map[string][]string{{}, {}} // roughly, not at all
	var order [2][]string
	for _, param := range plant.Params() {
		i, judged := r.Identifiable[param]
		name := words(param.String())
		switch {
		case !judged:
		case i.Expect == plant.Identified:
			well = append(well, name)
		default:
			k := 0
			if i.Expect == plant.Missing {
				k = 1
			}
			key := i.Why
			if i.Move != "" {
				key = "log " + i.Move + ": " + i.Why
			}
			if _, seen := lacking[k][key]; !seen {
				order[k] = append(order[k], key)
			}
			lacking[k][key] = append(lacking[k][key], name)
		}
	}
	p.heading("What these logs can tell")
	if len(well) == 0 {
		well = []string{"nothing about the machine for certain yet"}
	}
	p.list("-", []string{strings.Join(well, ", ")})
	for k, title := range []string{"What they tell only roughly", "What they cannot, and what would"} {
		if len(order[k]) > 0 {
			p.heading(title)
			for _, key := range order[k] {
				p.list("-", []string{strings.Join(lacking[k][key], ", ") + ": " + key})
			}
		}
	}
	if len(r.Missing) > 0 {
		p.line("\nMoves to log next: %s", strings.Join(r.Missing, ", "))
	}
}
