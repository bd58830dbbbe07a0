package tui

import (
	"fmt"
	"strings"

	"eha/strokewise/ident/trace"
)

// asking is one question to the person at the machine.
type asking struct {
	text    string
	log     int
	channel trace.Channel // the answer is a column of it; NoChannel where it is not on a screen
}

// questions lists what the logs leave open: which column holds a channel, by name and
// with what speaks for each, and what no log can tell.
func (l *Logs) questions() []asking {
	var list []asking
	seen := map[string]bool{}
	for i, r := range l.Readings {
		for _, g := range r.Guesses {
			if !g.Asked || r.Trace.Has(g.Channel) {
				continue
			}
			if text := question(g); !seen[text] {
				seen[text] = true
				list = append(list, asking{text, i, g.Channel})
			}
		}
	}
	for _, text := range l.Report.Questions {
		list = append(list, asking{text: text})
	}
	return list
}

// question asks which column a channel is, with what speaks for each.
func question(g trace.Guess) string {
	if len(g.Others) == 0 {
		return fmt.Sprintf("Is '%s' the %s? Not taken: %s.", short(g.Column), g.Channel.Words(), g.Why)
	}
	why, _, _ := strings.Cut(g.Why, "; as well ")
	text := fmt.Sprintf("Which is the %s? '%s': %s", g.Channel.Words(), short(g.Column), why)
	for i, other := range g.Others {
		speaks := ""
		if i < len(g.Rivals) {
			speaks = ": " + g.Rivals[i]
		}
		text += fmt.Sprintf(". Or '%s'%s", short(other), speaks)
	}
	return text + "."
}

// short cuts a column's name to what a sentence bears.
func short(name string) string {
	const longest = 32
	return narrow.Truncate(clean(name), longest, "..")
}
